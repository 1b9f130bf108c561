"""Running text and tables in columns, over as many pages as it takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from profiler.drawing.lettering import wrapped
from profiler.drawing.model import Item, Line, Stroke, Text, moved
from profiler.plates.pieces import LEADING

Area4 = tuple[float, float, float, float]


@dataclass(frozen=True)
class Words:
    """A paragraph; `lead` hangs before it, as a number or a dot; `after` is space below, in ems."""

    text: str
    size: float = 2.9
    bold: bool = False
    lead: str = ""
    after: float = 0.4


@dataclass(frozen=True)
class Row:
    """A line of a table: cells at shares of the room, wrapped; a rule above where `rule`."""

    cells: tuple[str, ...]
    shares: tuple[float, ...]
    size: float = 2.6
    bold: bool = False
    rule: bool = False


Block = Words | Row


def flow(
    blocks: Sequence[Block], area: Area4, columns: int, gutter: float = 8.0
) -> list[list[Item]]:
    """Items of each page.

    Args:
        blocks: in order.
        area: x0, y0, x1, y1 of a page that may be used.
        columns: on each page.
    """
    x0, y0, x1, y1 = area
    room = (x1 - x0 - gutter * (columns - 1)) / columns
    pages: list[list[Item]] = [[]]
    column, y = 0, y1
    for number, block in enumerate(blocks):
        items, high = _set(block, room)
        keep = high
        if isinstance(block, Words) and block.bold and number + 1 < len(blocks):
            keep += _set(blocks[number + 1], room)[1]  # a heading stays with what follows
        if y - keep < y0 and y < y1:
            column, y = column + 1, y1
            if column == columns:
                pages.append([])
                column = 0
        left = x0 + column * (room + gutter)
        pages[-1] += [_shifted(i, left, y) for i in items]
        y -= high
    return pages


def _set(block: Block, room: float) -> tuple[list[Item], float]:
    """Items below the origin, and the height they take."""
    return _words(block, room) if isinstance(block, Words) else _row(block, room)


def _words(block: Words, room: float) -> tuple[list[Item], float]:
    size = block.size
    indent = size * 1.9 if block.lead else 0.0
    items: list[Item] = []
    y = 0.0
    if block.lead:
        items.append(Text(0.0, -size, block.lead, size, bold=block.bold))
    for line in wrapped(block.text, size, room - indent, block.bold):
        items.append(Text(indent, y - size, line, size, bold=block.bold))
        y -= size * LEADING
    return items, -y + block.after * size


def _row(block: Row, room: float) -> tuple[list[Item], float]:
    size = block.size
    items: list[Item] = []
    lowest = 0.0
    edges = (*block.shares, 1.0)
    for cell, a, b in zip(block.cells, edges[:-1], edges[1:], strict=True):
        y = 0.0
        for line in wrapped(cell, size, (b - a) * room - 1.5, block.bold):
            items.append(Text(a * room, y - size, line, size, bold=block.bold))
            y -= size * LEADING
        lowest = min(lowest, y)
    high = max(-lowest, size * LEADING) + 0.35 * size
    if block.rule:
        items.append(Line(((0.0, 0.12 * size), (room, 0.12 * size)), Stroke(0.1)))
    return items, high


def _shifted(item: Item, x: float, y: float) -> Item:
    return moved(item, (x, y))
