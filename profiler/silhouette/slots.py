"""Narrow slots between a button and what it is mounted on, which a mask's closings take in.

Closings join what light and print tear apart. What they filled that way and what was a slot look
the same afterwards; so slots are kept apart before, and `fine` asks for each of their pixels.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]

# Common practice, no source: buttons are up to 22 mm across, and stand 2 to 4 mm off the wood.
#: a slot is so large, mm²
_SLOT_MM2 = (4.0, 40.0)
#: half as wide as what it lies beside is at most, mm
_BUTTON_MM = 11.0


def slots_of(body: Mask, wrong: Mask, cell: float) -> Mask:
    """(H, W) cells of a closed mask that were open to the ground round it, beside something small.

    Args:
        body: (H, W) the mask, closed and filled.
        wrong: (H, W) what was not ground before.
        cell: mm.
    """
    slots = np.zeros_like(body)
    rows, columns = np.flatnonzero(body.any(axis=1)), np.flatnonzero(body.any(axis=0))
    if not len(rows):
        return slots
    # ground round it, so that all that is open is open to one piece
    part = tuple(slice(max(int(at[0]) - 2, 0), int(at[-1]) + 3) for at in (rows, columns))
    slots[part] = _in_part(body[part], wrong[part], cell)
    return slots


def _in_part(body: Mask, wrong: Mask, cell: float) -> Mask:
    ground = ~wrong
    _, labels = cv2.connectedComponents(ground.astype(np.uint8), connectivity=4)
    closed = body & ground & _among(labels, ground & ~body)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(closed.astype(np.uint8), connectivity=4)
    area = stats[:, cv2.CC_STAT_AREA] * cell**2
    fits = (area > _SLOT_MM2[0]) & (area < _SLOT_MM2[1])
    fits[0] = False
    if not fits.any():
        return np.zeros_like(body)
    solid = body & ~closed
    deep = cv2.distanceTransform(solid.astype(np.uint8), cv2.DIST_L2, 5) * cell
    away = cv2.distanceTransform((deep <= _BUTTON_MM).astype(np.uint8), cv2.DIST_L2, 5) * cell
    small = (solid & (away > _BUTTON_MM)).astype(np.uint8)
    beside = cv2.dilate(small, np.ones((3, 3), np.uint8)) > 0
    return np.asarray(fits[labels] & _among(labels, closed & beside))


def _among(labels: cv2.typing.MatLike, some: Mask) -> Mask:
    """(H, W) the components of which some cells are among those."""
    named = np.zeros(int(labels.max()) + 1, dtype=bool)
    named[labels[some]] = True
    return np.asarray(named[labels])
