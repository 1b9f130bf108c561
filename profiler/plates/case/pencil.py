"""Drawing at true size for a page at a smaller scale: lettering and lines come out as on paper.

A view is drawn in the mm of the case, so that its DXF and SVG are true to size; `scale` says how
much smaller the page shows it, and letters, ticks and line widths are made larger by as much.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import shapely

from profiler.drawing.extent import text_box
from profiler.drawing.lettering import width_of
from profiler.drawing.model import (
    FILL,
    Anchor,
    Area,
    Drawing,
    Inset,
    Item,
    Layer,
    Line,
    Point,
    Stroke,
    Text,
    moved,
)

#: on paper, mm: lettering, line widths, how far a dimension's lines overrun
LETTER_MM, SMALL_MM = 2.5, 2.1
HEAVY, PLAIN, FINE = 0.4, 0.2, 0.1
OVERRUN_MM, TICK_MM = 1.2, 0.9
#: words beside an upright dimension lie across the sheet up to this many signs, else along it
LONG_WORDS = 9
DASHED = (2.5, 1.5)
CHAIN = (8.0, 1.5, 1.0, 1.5)
#: white round a view, on paper
MARGIN_MM = 4.0


@dataclass
class Pencil:
    """Collects one view; all points are true mm, all lettering and widths are paper mm.

    Attributes:
        scale: paper mm for one true mm.
        show: how lengths are written.
    """

    scale: float
    show: Callable[[float], str]
    layers: dict[str, list[Item]] = field(default_factory=dict)

    def paper(self, mm: float) -> float:
        """Paper mm as true mm."""
        return mm / self.scale

    def add(self, layer: str, *items: Item) -> None:
        self.layers.setdefault(layer, []).extend(items)

    def line(
        self,
        layer: str,
        points: Sequence[Point],
        width: float = PLAIN,
        dash: Sequence[float] = (),
        closed: bool = False,
        colour: str = "#000000",
    ) -> None:
        stroke = Stroke(self.paper(width), colour, tuple(self.paper(d) for d in dash))
        self.add(layer, Line(tuple(points), stroke, closed))

    def box(
        self,
        layer: str,
        x0: float,
        y0: float,
        x1: float,
        y1: float,
        width: float = PLAIN,
        fill: str = "",
        dash: Sequence[float] = (),
        over: bool = False,
    ) -> None:
        """An upright rectangle; `over` lays its tint on what was drawn before it."""
        ring = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
        if fill:
            self.add(f"{FILL}-{layer}" if over else FILL, Area((ring,), fill))
        self.line(layer, ring, width, dash, closed=True)

    def text(
        self,
        at: Point,
        words: str,
        size: float = LETTER_MM,
        anchor: Anchor = "start",
        angle: float = 0.0,
        bold: bool = False,
        colour: str = "#000000",
        layer: str = "text",
    ) -> None:
        self.add(layer, Text(at[0], at[1], words, self.paper(size), anchor, angle, bold, colour))

    def across(self, x0: float, x1: float, feature: float, level: float, words: str = "") -> None:
        """A horizontal dimension from x0 to x1.

        Args:
            feature: y where the measured edges are.
            level: paper mm from there to the dimension line; below zero for below.
            words: instead of the length alone.
        """
        y = feature + self.paper(level)
        over = self.paper(OVERRUN_MM) * (1 if level > 0 else -1)
        gap = self.paper(0.8) * (1 if level > 0 else -1)
        for x in (x0, x1):
            self.line("dimension", ((x, feature + gap), (x, y + over)), FINE)
        self.line("dimension", ((x0, y), (x1, y)), FINE)
        self._ticks(((x0, y), (x1, y)))
        words = words or self.show(abs(x1 - x0))
        room = abs(x1 - x0) * self.scale
        if width_of(words, LETTER_MM) < room - 1.5:
            at = ((x0 + x1) / 2, y + self.paper(0.7))
            self.text(at, words, anchor="middle", layer="dimension")
        else:
            right = max(x0, x1)
            self.line("dimension", ((right, y), (right + self.paper(2.5), y)), FINE)
            self.text((right + self.paper(3.0), y - self.paper(0.9)), words, layer="dimension")

    def up(self, y0: float, y1: float, feature: float, level: float, words: str = "") -> None:
        """A vertical dimension from y0 to y1; as `across`, `level` to the right."""
        x = feature + self.paper(level)
        over = self.paper(OVERRUN_MM) * (1 if level > 0 else -1)
        gap = self.paper(0.8) * (1 if level > 0 else -1)
        for y in (y0, y1):
            self.line("dimension", ((feature + gap, y), (x + over, y)), FINE)
        self.line("dimension", ((x, y0), (x, y1)), FINE)
        self._ticks(((x, y0), (x, y1)))
        words = words or self.show(abs(y1 - y0))
        room = abs(y1 - y0) * self.scale
        if width_of(words, LETTER_MM) < room - 1.0 or len(words) > LONG_WORDS:
            at = (x - self.paper(0.7), (y0 + y1) / 2)
            self.text(at, words, anchor="middle", angle=90.0, layer="dimension")
        else:
            side: Anchor = "start" if level > 0 else "end"
            shift = self.paper(1.2) * (1 if level > 0 else -1)
            at = (x + shift, (y0 + y1) / 2 - self.paper(0.9))
            self.text(at, words, anchor=side, layer="dimension")

    def note(self, at: Point, to: Point, words: str, anchor: Anchor = "start") -> None:
        """Words with a thin line to what they are about."""
        self.line("text", (at, to), FINE)
        self.dot(to)
        shift = self.paper(0.8) * (1 if anchor == "start" else -1)
        self.text((at[0] + shift, at[1] - self.paper(0.8)), words, anchor=anchor)

    def dot(self, at: Point, size: float = 0.7) -> None:
        ring = shapely.Point(at).buffer(self.paper(size) / 2, quad_segs=4).exterior.coords[:-1]
        self.add("text", Area((tuple((float(x), float(y)) for x, y in ring),)))

    def badge(self, at: Point, mark: str, size: float = 2.8) -> None:
        """A letter in a circle."""
        ring = shapely.Point(at).buffer(self.paper(size * 0.85), quad_segs=8).exterior.coords[:-1]
        points = tuple((float(x), float(y)) for x, y in ring)
        self.add("text", Area((points,), "#ffffff"))
        self.line("text", points, PLAIN, closed=True)
        self.text((at[0], at[1] - self.paper(size * 0.36)), mark, size, "middle", bold=True)

    def drawing(self, title: str) -> Drawing:
        """The view, moved so that nothing lies left of or below the paper."""
        items = [i for found in self.layers.values() for i in found]
        corners = [_reach(i) for i in items]
        x0, y0 = (min(c[k] for c in corners) for k in (0, 1))
        x1, y1 = (max(c[k] for c in corners) for k in (2, 3))
        m = self.paper(MARGIN_MM)
        by = (m - x0, m - y0)
        return Drawing(
            title,
            x1 - x0 + 2 * m,
            y1 - y0 + 2 * m,
            tuple(
                Layer(name, tuple(moved(i, by) for i in found))
                for name, found in self.layers.items()
            ),
        )

    def _ticks(self, ends: Sequence[Point]) -> None:
        r = self.paper(TICK_MM)
        for x, y in ends:
            self.line("dimension", ((x - r, y - r), (x + r, y + r)), PLAIN)


def _reach(item: Item) -> tuple[float, float, float, float]:
    """The upright box round an item; quicker than its shape, since views are drawn many times."""
    if isinstance(item, Text):
        x0, y0, x1, y1 = text_box(item).bounds
        return x0, y0, x1, y1
    assert not isinstance(item, Inset)
    points = item.points if isinstance(item, Line) else [p for r in item.rings for p in r]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    half = item.stroke.width / 2 if isinstance(item, Line) else 0.0
    return min(xs) - half, min(ys) - half, max(xs) + half, max(ys) + half


#: what draws a view with a given pencil
View = Callable[[Pencil], None]

#: true mm for one paper mm
SCALES = (0.5, 1, 1.5, 2, 2.5, 3, 4, 5, 6, 7, 8, 10, 12, 15, 20, 25, 30, 40)


@dataclass(frozen=True)
class Fitted:
    """A view at the largest usual scale at which it fits."""

    drawing: Drawing
    one_to: float

    @property
    def size(self) -> Point:
        """On paper, mm."""
        return self.drawing.width / self.one_to, self.drawing.height / self.one_to

    @property
    def scale_words(self) -> str:
        if self.one_to < 1:
            return f"scale {1 / self.one_to:g} : 1"
        return f"scale 1 : {self.one_to:g}"


def fitted(
    view: View,
    title: str,
    show: Callable[[float], str],
    width: float,
    height: float,
    largest: float = 1.0,
) -> Fitted:
    """Draw a view so that it fits a box on paper.

    Args:
        width, height: of the box, paper mm.
        largest: never drawn at more than this many paper mm for a true mm.
    """
    scales = [s for s in SCALES if 1 / s <= largest]

    def drawn(one_to: float) -> tuple[Drawing, bool]:
        pencil = Pencil(1 / one_to, show)
        view(pencil)
        drawing = pencil.drawing(title)
        return drawing, drawing.width <= width * one_to and drawing.height <= height * one_to

    low, high = 0, len(scales) - 1  # the first scale that fits lies between
    while low < high:
        middle = (low + high) // 2
        if drawn(scales[middle])[1]:
            high = middle
        else:
            low = middle + 1
    one_to = scales[low]
    drawing, _ = drawn(one_to)
    return Fitted(drawing, one_to)
