"""A template on several sheets of the user's paper: the page map with the notes, then the pages."""

from __future__ import annotations

from profiler.drawing.lettering import shortened
from profiler.drawing.model import Drawing, Item, Layer, Text
from profiler.drawing.page import Page
from profiler.drawing.tiling import Correction, Tiling, map_size, page_map, tile, tile_pages
from profiler.errors import RequestError
from profiler.instrument.record import Measurement
from profiler.paper import Paper
from profiler.plates.notes import (
    Block,
    Wishes,
    cautions_block,
    doubts_block,
    numbers_block,
    remarks_block,
    title_block,
)
from profiler.plates.pieces import bullets, paragraph
from profiler.plates.template import shape_drawing

MARGIN_MM = 12.0
GUTTER_MM = 8.0
#: lettering on the widest sheet that is common on a desk
SIZE_MM = 2.6


def tiled_template(
    measurement: Measurement, wishes: Wishes, paper: Paper, correction: Correction
) -> tuple[Drawing, ...]:
    """The page map first, then every page that is not empty, row by row from the top.

    Raises:
        RequestError: the paper is too small, or the clearance makes no sense.
        OutlineError: an outline that cannot be cut.
    """
    shape = shape_drawing(measurement, wishes, whole_cut=False)
    try:
        tiling = tile(shape, paper, correction)
    except ValueError as error:
        raise RequestError(f"The template cannot be tiled: {error}. Choose larger paper.") from None
    return (map_page(measurement, wishes, tiling), *tile_pages(tiling))


def map_page(measurement: Measurement, wishes: Wishes, tiling: Tiling) -> Drawing:
    """How the pages lie, how to join them, and the notes."""
    page = Page(tiling.page.paper, landscape=False)
    width, height = page.width, page.height
    size = SIZE_MM * min(2.0, max(1.0, width / 210.0))
    room = width - 2 * MARGIN_MM
    half = (room - GUTTER_MM) / 2
    x, right = MARGIN_MM, MARGIN_MM + half + GUTTER_MM
    title = shortened(f"Page map: {wishes.title}", 2 * size, room, bold=True)
    top = height - MARGIN_MM - 2 * size
    items: list[Item] = [Text(x, top, title, 2 * size, bold=True)]
    top -= 1.5 * size
    wide, high = map_size(tiling)
    map_height = min(0.36 * height, room * high / wide)
    items += page_map(tiling, (x, top - map_height), room, map_height)
    top -= map_height + 2 * size
    columns: tuple[tuple[float, tuple[Block, ...]], ...] = (
        (x, (title_block(wishes), numbers_block(measurement), remarks_block(measurement))),
        (right, (_joining(tiling), cautions_block(), doubts_block(measurement))),
    )
    for left, blocks in columns:
        y = top
        for block in blocks:
            lines, y = block(left, y, half, size)
            items += lines
            y -= size
    return Drawing(
        f"{tiling.drawing.title}, page map", width, height, (Layer("map", tuple(items)),)
    )


def _joining(tiling: Tiling) -> Block:
    count = len(tiling.printed)
    steps = [
        f"Print all {count} pages at 100 %, one-sided: 'actual size', never 'fit to page'.",
        "On each page lay a steel rule on the check bars, both ways: 100 mm must be 100 mm.",
        "Where a page says 'cut here', cut along the dotted line, and lay that edge on the next"
        " page's dotted line so that the crosses meet. Start at the top left.",
        "Tape, check the joined length once more with a rule, then glue to the wood.",
    ]
    if tiling.correction != Correction():
        k = tiling.correction
        steps.insert(
            2,
            f"These pages are drawn {100 * k.x:.2f} % across and {100 * k.y:.2f} % up, for the"
            " printer whose readings were given; on another printer they come out wrong.",
        )

    def block(x: float, top: float, room: float, size: float) -> tuple[list[Item], float]:
        items, y = paragraph("How the pages go together", x, top, room, size * 1.2, bold=True)
        lines, y = bullets(steps, x, y, room, size, numbered=True)
        return items + lines, y

    return block
