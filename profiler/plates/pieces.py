"""Parts that several sheets share: check bars, paragraphs, boxes to write in, printed panels."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from profiler.drawing.lettering import wrapped
from profiler.drawing.marks import check_bar
from profiler.drawing.model import (
    BLACK,
    WHITE,
    Area,
    Item,
    Line,
    Point,
    Stroke,
    Text,
    rectangle,
)
from profiler.target.panel import Bar, Cluster, Ink, Rect

#: from one baseline to the next, in ems
LEADING = 1.35


def rect_area(rect: Rect, colour: str, at: Point = (0.0, 0.0)) -> Area:
    """A filled upright rectangle, moved by `at`."""
    return Area((rect_ring(rect, at),), colour)


def rect_ring(rect: Rect, at: Point = (0.0, 0.0)) -> tuple[Point, ...]:
    """The rectangle's corners, moved by `at`."""
    return rectangle(rect.x0 + at[0], rect.y0 + at[1], rect.x1 + at[0], rect.y1 + at[1])


def cluster_items(clusters: Iterable[Cluster], at: Point = (0.0, 0.0)) -> list[Item]:
    """The ink of clusters: of each, all white in one go and then all black in one go.

    One fill for all the black of a cluster leaves no hairline between touching modules, whatever
    rasters it. All white is painted first: quiet zones and checks do not overlap.
    """
    items: list[Item] = []
    for cluster in clusters:
        for ink, colour in ((Ink.WHITE, WHITE), (Ink.BLACK, BLACK)):
            rects = [rect for rect, kind in cluster.ink() if kind is ink]
            if ink is Ink.WHITE:  # these may touch or overlap, so one fill each
                items += [rect_area(rect, colour, at) for rect in rects]
            else:
                items.append(Area(tuple(rect_ring(rect, at) for rect in rects), colour))
    return items


def bar_item(bar: Bar, at: Point = (0.0, 0.0)) -> Area:
    """A target's check bar, moved by `at`."""
    return check_bar((bar.x0 + at[0], bar.y0 + at[1]), (bar.x1 + at[0], bar.y1 + at[1]))


def paragraph(
    text: str, x: float, top: float, room: float, size: float = 3.0, bold: bool = False
) -> tuple[list[Item], float]:
    """Wrapped text whose first line hangs below `top`.

    Returns:
        the lines, and the y where the next piece can hang, mm.
    """
    items: list[Item] = []
    y = top
    for line in wrapped(text, size, room, bold):
        items.append(Text(x, y - size, line, size, bold=bold))
        y -= size * LEADING
    return items, y


def bullets(
    texts: Sequence[str],
    x: float,
    top: float,
    room: float,
    size: float = 3.0,
    numbered: bool = False,
) -> tuple[list[Item], float]:
    """Paragraphs with a dot or a number before each; same return as `paragraph`."""
    items: list[Item] = []
    y = top
    indent = size * (1.7 if numbered else 1.0)
    for number, text in enumerate(texts, start=1):
        items.append(Text(x, y - size, f"{number}." if numbered else "•", size))
        lines, y = paragraph(text, x + indent, y, room - indent, size)
        items += lines
        y -= size * 0.35
    return items, y


def write_box(x: float, y: float, width: float, height: float) -> list[Item]:
    """An empty white box to write in, lower left corner at x, y."""
    ring = rectangle(x, y, x + width, y + height)
    return [Area((ring,), WHITE), Line(ring, Stroke(0.15), closed=True)]
