"""Where an outline winds: tuners, buttons, scrolls, the corners of what they stand on.

There a disc cannot follow it, and a rough look is not enough.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]

#: what a disc of this radius can follow, from inside and from outside, does not wind, mm
_DISC_MM = 10.0


def winding(mask: Mask, cell: float) -> Mask:
    """(H, W) where a mask's border winds, and a disc's radius round it.

    What opening and closing by a disc (Serra 1982) change, both by distances: a disc of many
    cells would be slow as a kernel.

    Args:
        mask: (H, W).
        cell: mm.
    """
    size = round(_DISC_MM / cell)
    # nothing is changed at the end of the picture
    wide = np.pad(mask, size + 1)
    closed = ~_within(~_within(wide, size), size)
    opened = _within(~_within(~wide, size), size)
    # a round border of square cells is changed here and there by one of them
    changed = (closed & ~opened).astype(np.uint8)
    firm = cv2.morphologyEx(changed, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0
    near = _within(firm, size) if firm.any() else firm
    return np.asarray(near[size + 1 : -size - 1, size + 1 : -size - 1])


def _within(mask: Mask, size: int) -> Mask:
    """(H, W) the cells no further than so many cells from the mask's."""
    away = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 5)
    return np.asarray(away <= size)
