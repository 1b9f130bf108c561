"""A millimetre scale along an edge, for a person to read."""

from __future__ import annotations

import math

from profiler.drawing.model import Area, Item, Text, rectangle

#: tick lengths for 1, 5 and 10 mm
TICKS_MM = {1: 1.5, 5: 2.3, 10: 3.1}
TICK_WIDTH_MM = 0.12
NUMBER_MM = 2.2


def scale_items(
    start: float,
    end: float,
    edge: float,
    offset: float,
    upright: bool,
    numbers_every: int = 10,
    leave_free: tuple[float, float] | None = None,
) -> list[Item]:
    """Ticks and numbers along a line.

    Args:
        start, end: mm along the line, on the sheet; ticks lie between.
        edge: mm across the line, where the ticks start; they grow to greater values.
        offset: added to the sheet's mm to get the number that is printed.
        upright: the scale runs up the left edge instead of along the lower one.
        numbers_every: mm between numbers.
        leave_free: stretch along the line, on the sheet, without numbers.
    """
    rings = []
    items: list[Item] = []
    first = math.ceil(start + offset + TICK_WIDTH_MM)
    last = math.floor(end + offset - TICK_WIDTH_MM)
    for mark in range(first, last + 1):
        along = mark - offset
        length = TICKS_MM[10 if mark % 10 == 0 else 5 if mark % 5 == 0 else 1]
        half = TICK_WIDTH_MM / 2
        if upright:
            rings.append(rectangle(edge, along - half, edge + length, along + half))
        else:
            rings.append(rectangle(along - half, edge, along + half, edge + length))
        if mark % numbers_every:
            continue
        if leave_free and leave_free[0] - 3 < along < leave_free[1] + 3:
            continue
        across = edge + TICKS_MM[10] + 0.5
        if not (start + 2 < along < end - 2):
            continue
        if upright:
            items.append(
                Text(across + 0.73 * NUMBER_MM, along, str(mark), NUMBER_MM, "middle", 90.0)
            )
        else:
            items.append(Text(along, across, str(mark), NUMBER_MM, "middle"))
    return [Area(tuple(rings)), *items]
