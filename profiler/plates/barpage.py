"""The bar page: two long bars to lay a steel rule on, once for each printer."""

from __future__ import annotations

import math

from profiler.drawing.marks import check_bar
from profiler.drawing.model import Drawing, Item, Layer, Text
from profiler.paper import Paper
from profiler.plates.pieces import bullets, write_box

#: common corner of the bars, mm from the paper's corner
CORNER = (18.0, 20.0)
#: an office printer leaves up to this white, mm
_WHITE_MM = 10.0
#: copy shops' papers are longer than any rule in a workshop
LONGEST_BAR_MM = 500.0
SIZE_MM = 3.6
HOW = (
    "Print this page at 100 % ('actual size'), on the paper that you will print templates on.",
    "Let it lie for a quarter of an hour: paper shrinks while it cools.",
    "Lay a steel rule, no tape, on bar X and then on bar Y. Read from the outer edge of one end to"
    " the outer edge of the other, to a quarter of a millimetre or better.",
    "Type both readings. From then on every template for this printer is drawn so much longer or"
    " shorter that it comes out true.",
    "New paper, a new driver or another tray may change it: lay the rule on the check bars of every"
    " template before you cut.",
)


def bar_lengths(paper: Paper) -> tuple[float, float]:
    """mm: of bar X and bar Y, whole centimetres."""

    def fit(room: float) -> float:
        return min(10.0 * math.floor(room / 10.0), LONGEST_BAR_MM)

    return (
        fit(paper.width_mm - CORNER[0] - _WHITE_MM),
        fit(paper.height_mm - CORNER[1] - _WHITE_MM),
    )


def bar_page(paper: Paper) -> Drawing:
    """The page at 1:1, upright."""
    x, y = CORNER
    long_x, long_y = bar_lengths(paper)
    bars = (check_bar(CORNER, (x + long_x, y)), check_bar(CORNER, (x, y + long_y)))
    left, top = x + 12.0, paper.height_mm - 24.0
    words: list[Item] = [
        Text(left, top, "Bar page", 7.0, bold=True),
        Text(x + 6.0, y + 3.5, f"bar X, {long_x:g} mm", SIZE_MM),
        Text(x + 4.5, y + 14.0, f"bar Y, {long_y:g} mm", SIZE_MM, angle=90.0),
    ]
    lines, below = bullets(
        HOW, left, top - 8.0, paper.width_mm - left - 14.0, SIZE_MM, numbered=True
    )
    words += lines
    for row, label in enumerate(("printer and tray", "bar X reads", "bar Y reads", "date")):
        at = below - 12.0 - 12.0 * row
        words += [Text(left, at, label, SIZE_MM), *write_box(left + 40.0, at - 3.0, 60.0, 9.0)]
    return Drawing(
        "Bar page",
        paper.width_mm,
        paper.height_mm,
        (Layer("bars", bars), Layer("text", tuple(words))),
    )
