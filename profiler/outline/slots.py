"""The slots of a slotted head, told by what is seen through them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: a slot, or what strings and rollers leave of it: so long along the head and so broad, mm (common
#: practice, no source: slots are 90 to 110 long and 12 to 16 broad)
_LONG_MM, _BROAD_MM = (10.0, 130.0), (4.0, 24.0)
#: it is longer than broad by this, as a washer that mirrors the mat is not
_LONGER = 1.35
#: all of what is seen through on one of the sides is so long at least, mm
_LEAST_REACH_MM = 25.0
#: an edge's side lies further out than a slot's middle by this, mm
_WOOD_MM = 6.0


def slots_reach(head: Array, holes: Sequence[Array]) -> tuple[float, float] | None:
    """From where to where along the instrument a head has slots on both sides of its axis, mm; None
    where it has none.

    Args:
        head: (N, 2) mm, rough frame: the edge of the headstock and of what stands out of it.
        holes: (K, 2) mm each, rough frame: what looks like ground within the outline.
    """
    if not len(head):
        return None
    low, high = head.min(axis=0), head.max(axis=0)
    sides: dict[bool, list[Array]] = {True: [], False: []}
    axis = float(low[1] + high[1]) / 2
    for ring in holes:
        long, broad = np.ptp(ring, axis=0)
        x, y = (ring.min(axis=0) + ring.max(axis=0)) / 2
        inside = low[0] < x < high[0] and low[1] + _WOOD_MM < y < high[1] - _WOOD_MM
        slot = _LONG_MM[0] < long < _LONG_MM[1] and _BROAD_MM[0] < broad < _BROAD_MM[1]
        slot = slot and long > _LONGER * broad
        # a slot does not lie across the axis
        if inside and slot and ((ring[:, 1] > axis).all() or (ring[:, 1] < axis).all()):
            sides[bool(y > axis)].append(ring[:, 0])
    reaches = [
        (float(min(x.min() for x in found)), float(max(x.max() for x in found)))
        for found in sides.values()
        if found
    ]
    if len(reaches) < 2 or max(b - a for a, b in reaches) < _LEAST_REACH_MM:
        return None
    return min(a for a, _ in reaches), max(b for _, b in reaches)
