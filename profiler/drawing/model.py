"""What is drawn, free of any format: lines, filled areas and lettering in named layers.

Drawing frame: mm, x right, y up, origin at the lower left corner of the drawing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]

#: layers that begin so hold tints that make a page easier to read; machines need none
FILL = "fill"
BLACK = "#000000"
WHITE = "#ffffff"
GREY = "#808080"


@dataclass(frozen=True)
class Stroke:
    """How a line looks.

    Attributes:
        width: mm.
        colour: #rrggbb.
        dash: lengths of mark and gap in turn, mm; empty for an unbroken line.
    """

    width: float = 0.25
    colour: str = BLACK
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Line:
    """A chain of straight pieces; a closed one does not repeat its first point."""

    points: tuple[Point, ...]
    stroke: Stroke = Stroke()
    closed: bool = False


@dataclass(frozen=True)
class Area:
    """Rings filled in one go by the even-odd rule, so that touching rings show no seam."""

    rings: tuple[tuple[Point, ...], ...]
    colour: str = BLACK


@dataclass(frozen=True)
class Text:
    """One line of lettering.

    Attributes:
        x, y: mm, where the baseline starts, has its middle or ends, as `anchor` says.
        text: as the user gave it; pens cope with any character.
        size: mm, the em (capitals are 0.73 of it high).
        anchor: which part of the baseline lies at x, y.
        angle: degrees, anticlockwise.
    """

    x: float
    y: float
    text: str
    size: float = 3.0
    anchor: Anchor = "start"
    angle: float = 0.0
    bold: bool = False
    colour: str = BLACK


@dataclass(frozen=True)
class Inset:
    """Part of another drawing, seen through a window.

    A point p of `drawing` falls at (at + (p - window corner) * scale).

    Attributes:
        window: x0, y0, x1, y1 of the part that is shown, in the inner drawing's mm.
        at: where the window's lower left corner falls, in the outer drawing's mm.
        scale: along x and y.
    """

    drawing: Drawing
    window: tuple[float, float, float, float]
    at: Point
    scale: tuple[float, float] = (1.0, 1.0)


Item = Line | Area | Text | Inset


@dataclass(frozen=True)
class Layer:
    """Items that belong together; the name travels into SVG groups and DXF layers."""

    name: str
    items: tuple[Item, ...]


@dataclass(frozen=True)
class Drawing:
    """A sheet of a stated size with layers, painted in order."""

    title: str
    width: float
    height: float
    layers: tuple[Layer, ...]

    def items(self) -> Iterator[Item]:
        """Every item, in the order of painting."""
        for layer in self.layers:
            yield from layer.items


def rectangle(x0: float, y0: float, x1: float, y1: float) -> tuple[Point, ...]:
    """The ring of an upright rectangle, anticlockwise, mm."""
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def moved(item: Item, by: Point) -> Item:
    """The same item somewhere else, mm."""
    dx, dy = by
    if isinstance(item, Line):
        return replace(item, points=tuple((x + dx, y + dy) for x, y in item.points))
    if isinstance(item, Area):
        return replace(
            item, rings=tuple(tuple((x + dx, y + dy) for x, y in ring) for ring in item.rings)
        )
    if isinstance(item, Text):
        return replace(item, x=item.x + dx, y=item.y + dy)
    return replace(item, at=(item.at[0] + dx, item.at[1] + dy))
