"""A piece with its facts, as a block that is set on pages, and as a sheet of its own."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import shapely

from profiler.casework.cradle.check import Checked
from profiler.casework.cradle.pieces import CradlePiece
from profiler.casework.trace import Show
from profiler.drawing.extent import item_shape
from profiler.drawing.model import Drawing, Item, Layer, moved
from profiler.plates.cradle.outlines import Lines, in_inches, piece_layers
from profiler.plates.cradle.words import CAUTIONS, STEPS, fact_lines, under_the_body
from profiler.plates.notes import Block, bars_block
from profiler.plates.pieces import bullets, paragraph

#: lettering of facts, and the narrowest block that they read well in
FACT_MM, NARROWEST_MM = 2.4, 84.0
MARGIN_MM, GUTTER_MM = 10.0, 8.0
#: the narrowest sheet of one piece: facts, cautions and bars stand side by side below it
SHEET_MM = 276.0


@dataclass(frozen=True)
class Card:
    """A piece with its facts below it; the lower left corner of its box at 0, 0."""

    piece: CradlePiece
    layers: tuple[Layer, ...]
    width: float
    height: float


def card_of(checked: Checked, piece: CradlePiece, whose: str, show: Show, lines: Lines) -> Card:
    """The block that is set on pages."""
    layers = piece_layers(checked.plan, piece, whose, show, lines)
    x0, y0, x1, y1 = _bounds(layers.values())
    room = max(x1 - x0, NARROWEST_MM)
    known = checked.known.get(piece.name)
    facts, low = paragraph(piece.name.capitalize(), x0, y0 - 1.5, room, 1.25 * FACT_MM, bold=True)
    told = fact_lines(piece, show, lines.trace, lines.tool, known)
    if piece.upright:
        told.append(under_the_body(checked.plan.wishes.scheme["body"].lining, show))
    if not in_inches(show):
        told.append("All lengths on this piece are in mm.")
    for words in told:
        items, low = paragraph(words, x0, low, room, FACT_MM)
        facts += items
    layers["notes"] = facts
    by = (-x0, -low)
    return Card(
        piece,
        tuple(Layer(n, tuple(moved(i, by) for i in items)) for n, items in layers.items()),
        room,
        y1 - low,
    )


def sheet_of(card: Card, title: str, heading: str) -> Drawing:
    """One piece on a sheet of its own with check bars, how it is used, and the cautions.

    Args:
        card: the piece.
        title: of the document.
        heading: whose it is.
    """
    width = max(card.width + 2 * MARGIN_MM, SHEET_MM)
    columns: Sequence[tuple[float, Block]] = (
        (0.25, _steps_block(heading)),
        (0.31, _cautions_block()),
        (0.44, bars_block()),
    )
    room = width - 2 * MARGIN_MM - 2 * GUTTER_MM
    notes: list[Item] = []
    x, lowest = MARGIN_MM, 0.0
    for share, block in columns:
        items, y = block(x, 0.0, share * room, FACT_MM)
        notes += items
        lowest = min(lowest, y)
        x += share * room + GUTTER_MM
    foot = MARGIN_MM - lowest
    up = ((width - card.width) / 2, foot + 6.0)
    layers = [Layer(n.name, tuple(moved(i, up) for i in n.items)) for n in card.layers]
    layers.append(Layer("notes-below", tuple(moved(i, (0.0, foot)) for i in notes)))
    return Drawing(title, width, foot + 6.0 + card.height + MARGIN_MM, tuple(layers))


def _steps_block(heading: str) -> Block:
    def block(x: float, top: float, room: float, size: float) -> tuple[list[Item], float]:
        items, y = paragraph(heading, x, top, room, 1.3 * size, bold=True)
        lines, y = bullets(STEPS, x, y - 0.5 * size, room, size, numbered=True)
        return items + lines, y

    return block


def _cautions_block() -> Block:
    def block(x: float, top: float, room: float, size: float) -> tuple[list[Item], float]:
        items, y = paragraph("Before you cut", x, top, room, 1.2 * size, bold=True)
        lines, y = bullets(CAUTIONS, x, y, room, size)
        return items + lines, y

    return block


def _bounds(layers: Iterable[list[Item]]) -> tuple[float, float, float, float]:
    shapes = [item_shape(i) for items in layers for i in items]
    x0, y0, x1, y1 = shapely.total_bounds(shapes)
    return float(x0), float(y0), float(x1), float(y1)
