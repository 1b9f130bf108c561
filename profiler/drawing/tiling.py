"""One drawing on several pages of the user's paper, at full size.

The drawing is divided into fields that together cover it once. A page shows its field and half the
overlap beyond it on every side. Pages whose field stays empty are left out; the page map shows
them. The printer's correction stretches what is drawn, bars included, so that it comes out true.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from profiler.drawing.extent import drawing_shapes
from profiler.drawing.lettering import shortened, width_of
from profiler.drawing.marks import check_bar, cross
from profiler.drawing.model import (
    BLACK,
    GREY,
    Area,
    Drawing,
    Inset,
    Item,
    Layer,
    Line,
    Point,
    Stroke,
    Text,
    rectangle,
)
from profiler.drawing.page import TILE_MARGINS, Page
from profiler.paper import Paper

#: what two neighbouring pages show alike, mm of the drawing
OVERLAP_MM = 14.0
BAR_MM = 100.0
BAR_INCHES = 4
MM_PER_INCH = 25.4
JOIN = Stroke(0.15, GREY, (1.0, 1.5))
NOTE_MM = 2.6
#: more pages than this and somebody has chosen the wrong paper
MOST_PAGES = 400


@dataclass(frozen=True)
class Correction:
    """How much longer to draw to come out true: 1.003 for a printer that prints 0.3 % short."""

    x: float = 1.0
    y: float = 1.0


@dataclass(frozen=True)
class Tile:
    """One page's share.

    Attributes:
        name: row letter from the top and column number from the left, as 'B2'.
        field: x0, y0, x1, y1 of its share, mm of the drawing; fields do not overlap.
        empty: nothing is drawn in the field.
    """

    name: str
    row: int
    column: int
    field: tuple[float, float, float, float]
    empty: bool


@dataclass(frozen=True)
class Tiling:
    """How a drawing falls on pages."""

    drawing: Drawing
    page: Page
    correction: Correction
    rows: int
    columns: int
    tiles: tuple[Tile, ...]

    @property
    def printed(self) -> tuple[Tile, ...]:
        """The tiles that are printed, row by row from the top."""
        return tuple(t for t in self.tiles if not t.empty)


def tile(drawing: Drawing, paper: Paper, correction: Correction | None = None) -> Tiling:
    """Divide a drawing; the paper is turned the way that needs fewer pages.

    Raises:
        ValueError: the paper is too small for margins and bars, or too many pages are needed.
    """
    shapes = drawing_shapes(drawing)
    correction = correction or Correction()
    options = [
        _divide(drawing, Page(paper, landscape), correction, shapes) for landscape in (False, True)
    ]
    return min(options, key=lambda t: (len(t.printed), t.page.landscape))


def _divide(
    drawing: Drawing,
    page: Page,
    correction: Correction,
    shapes: Sequence[shapely.geometry.base.BaseGeometry],
) -> Tiling:
    x0, y0, x1, y1 = page.window
    step_x = (x1 - x0) / correction.x - OVERLAP_MM
    step_y = (y1 - y0) / correction.y - OVERLAP_MM
    if min(x1 - x0, y1 - y0) < BAR_INCHES * MM_PER_INCH + 20:
        raise ValueError(f"{page.paper.name} is too small to tile on")
    columns = max(1, math.ceil(drawing.width / step_x - 1e-9))
    rows = max(1, math.ceil(drawing.height / step_y - 1e-9))
    if rows * columns > MOST_PAGES:
        raise ValueError(f"{rows * columns} pages of {page.paper.name} would be needed")
    # The drawing sits in the middle of the grid of fields.
    left = (drawing.width - columns * step_x) / 2
    top = (drawing.height + rows * step_y) / 2
    tree = shapely.STRtree(shapes)
    tiles = []
    for row in range(rows):
        for column in range(columns):
            field = (
                left + column * step_x,
                top - (row + 1) * step_y,
                left + (column + 1) * step_x,
                top - row * step_y,
            )
            hits = tree.query(shapely.box(*field), predicate="intersects") if shapes else []
            tiles.append(Tile(tile_name(row, column), row, column, field, len(hits) == 0))
    return Tiling(drawing, page, correction, rows, columns, tuple(tiles))


def tile_name(row: int, column: int) -> str:
    """'A1' at the top left; after Z comes AA."""
    letters = ""
    number = row + 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return f"{letters}{column + 1}"


def tile_pages(tiling: Tiling) -> tuple[Drawing, ...]:
    """The pages at full size, row by row from the top, without the page map."""
    return tuple(_tile_page(tiling, t) for t in tiling.printed)


def _tile_page(tiling: Tiling, tile_: Tile) -> Drawing:
    page, k, drawing = tiling.page, tiling.correction, tiling.drawing
    x0, y0, _, _ = page.window
    half = OVERLAP_MM / 2
    field = tile_.field
    window = (field[0] - half, field[1] - half, field[2] + half, field[3] + half)
    inset = Inset(drawing, window, (x0, y0), (k.x, k.y))
    layers = (
        Layer("drawing", (inset,)),
        Layer("joins", tuple(_joins(tiling, tile_))),
        Layer("bars", tuple(page_bars(page, k))),
        Layer("notes", tuple(_notes(tiling, tile_))),
    )
    return Drawing(f"{drawing.title}, page {tile_.name}", page.width, page.height, layers)


def _joins(tiling: Tiling, tile_: Tile) -> list[Item]:
    """Dotted lines where this field meets its neighbours, and a cross at every corner."""
    x0, y0, x1, y1 = tiling.page.window
    dx, dy = OVERLAP_MM / 2 * tiling.correction.x, OVERLAP_MM / 2 * tiling.correction.y
    items: list[Item] = []
    near = {
        "left": _neighbour(tiling, tile_, 0, -1),
        "right": _neighbour(tiling, tile_, 0, 1),
        "up": _neighbour(tiling, tile_, -1, 0),
        "down": _neighbour(tiling, tile_, 1, 0),
    }
    if near["left"]:
        items.append(Line(((x0 + dx, y0), (x0 + dx, y1)), JOIN))
    if near["right"]:
        items.append(Line(((x1 - dx, y0), (x1 - dx, y1)), JOIN))
        words = f"cut here, lay on {near['right'].name}"
        items.append(Text(x1 - dx - 1, y0 + dy + 6, words, NOTE_MM, angle=90.0, colour=GREY))
    if near["up"]:
        items.append(Line(((x0, y1 - dy), (x1, y1 - dy)), JOIN))
    if near["down"]:
        items.append(Line(((x0, y0 + dy), (x1, y0 + dy)), JOIN))
        words = f"cut here, lay on {near['down'].name}"
        items.append(Text(x0 + dx + 6, y0 + dy + 1, words, NOTE_MM, colour=GREY))
    for x in (x0 + dx, x1 - dx):
        for y in (y0 + dy, y1 - dy):
            items += cross((x, y))
    return items


def _neighbour(tiling: Tiling, tile_: Tile, down: int, right: int) -> Tile | None:
    for other in tiling.printed:
        if (other.row, other.column) == (tile_.row + down, tile_.column + right):
            return other
    return None


def page_bars(page: Page, k: Correction) -> list[Item]:
    """A bar each way on every page: paper shrinks differently along and across the feed."""
    m = TILE_MARGINS
    y, x = m.bottom - 4.5, m.left - 4.5
    across = check_bar((m.left, y), (m.left + BAR_MM * k.x, y))
    up = check_bar((x, m.bottom), (x, m.bottom + BAR_MM * k.y))
    inches = BAR_INCHES * MM_PER_INCH
    above, beside = m.bottom + BAR_MM * k.y + 12, m.left + BAR_MM * k.x + 10
    items: list[Item] = [across, up]
    label = f"{BAR_MM:.0f} mm"
    items.append(
        Text(m.left + 2, y - 4.2, f"{label}: check with a steel rule. Print at 100 %.", NOTE_MM)
    )
    items.append(Text(x - 1.8, m.bottom + 2, label, NOTE_MM, angle=90.0))
    label = f"{BAR_INCHES} in"
    if _inches_stand(page, k):
        items.append(check_bar((x, above), (x, above + inches * k.y)))
        items.append(Text(x - 1.8, above + 2, label, NOTE_MM, angle=90.0))
    else:
        items.append(check_bar((beside, y), (beside + inches * k.x, y)))
        items.append(Text(beside + 2, y - 4.2, label, NOTE_MM))
    return items


def _inches_stand(page: Page, k: Correction) -> bool:
    """Whether the bar in inches has room above the one in millimetres; else it lies beside."""
    m = TILE_MARGINS
    needed = m.bottom + (BAR_MM + BAR_INCHES * MM_PER_INCH) * k.y + 12
    return needed <= page.height - m.top


def _notes(tiling: Tiling, tile_: Tile) -> list[Item]:
    page = tiling.page
    m = page.margins
    right = page.width - m.right
    count = len(tiling.printed)
    number = tiling.printed.index(tile_) + 1
    name = f"{tile_.name}"
    items: list[Item] = [Text(right, m.bottom - 7.5, name, 6.5, "end", bold=True)]
    k = tiling.correction
    bars = BAR_MM if _inches_stand(page, k) else BAR_MM + 10 + BAR_INCHES * MM_PER_INCH
    room = right - (m.left + bars * k.x + 4) - width_of(name, 6.5, True) - 3
    note = f"page {number} of {count}"
    base = right - width_of(name, 6.5, True) - 3
    items.append(Text(base, m.bottom - 5.2, shortened(note, NOTE_MM, room), NOTE_MM, "end"))
    title = shortened(tiling.drawing.title, NOTE_MM, room)
    items.append(Text(base, m.bottom - 9.0, title, NOTE_MM, "end"))
    return items


def map_size(tiling: Tiling) -> Point:
    """Width and height of all fields together, mm of the drawing."""
    x0, y0, x1, y1 = _reach(tiling)
    return x1 - x0, y1 - y0


def _reach(tiling: Tiling) -> tuple[float, float, float, float]:
    fields = [t.field for t in tiling.tiles]
    return (
        min(f[0] for f in fields),
        min(f[1] for f in fields),
        max(f[2] for f in fields),
        max(f[3] for f in fields),
    )


def page_map(tiling: Tiling, at: Point, width: float, height: float) -> list[Item]:
    """The whole drawing small, with every page's field and name, inside a box of this size."""
    x0, y0, x1, y1 = _reach(tiling)
    scale = min(width / (x1 - x0), height / (y1 - y0))
    left = at[0] + (width - (x1 - x0) * scale) / 2
    low = at[1] + (height - (y1 - y0) * scale) / 2
    items: list[Item] = []
    for t in tiling.tiles:
        box = [
            left + (t.field[0] - x0) * scale,
            low + (t.field[1] - y0) * scale,
            left + (t.field[2] - x0) * scale,
            low + (t.field[3] - y0) * scale,
        ]
        ring = rectangle(box[0], box[1], box[2], box[3])
        if t.empty:
            items.append(Area((ring,), "#e6e6e6"))
        items.append(Line(ring, Stroke(0.2, GREY if t.empty else BLACK), closed=True))
    items.append(Inset(tiling.drawing, (x0, y0, x1, y1), (left, low), (scale, scale)))
    for t in tiling.tiles:
        x = left + (t.field[0] - x0) * scale + 1.5
        y = low + (t.field[3] - y0) * scale - 5.0
        words = "empty" if t.empty else t.name
        size = 2.4 if t.empty else 4.5
        colour = GREY if t.empty else BLACK
        items.append(Text(x, y, words, size, bold=not t.empty, colour=colour))
    return items


def corrected(drawing: Drawing, correction: Correction) -> Drawing:
    """The whole drawing stretched for a printer, as one page."""
    if correction == Correction():
        return drawing
    width, height = drawing.width * correction.x, drawing.height * correction.y
    inset = Inset(
        drawing, (0.0, 0.0, drawing.width, drawing.height), (0.0, 0.0), (correction.x, correction.y)
    )
    return Drawing(drawing.title, width, height, (Layer("drawing", (inset,)),))
