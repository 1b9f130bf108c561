"""Where something lies on the mat: the border of a mask as closed rings, for marks on a photo."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.silhouette.ground import Plan
from profiler.silhouette.pieces import disc

Array = NDArray[np.float64]

#: a ring is drawn so far outside of what it marks, mm
MARGIN_MM = 4.0
#: more rings than this mark nothing
MOST_RINGS = 8
_STRAY_MM = 1.0
_LEAST_CORNERS = 3


def rings_of(mask: NDArray[np.bool_], plan: Plan, margin_mm: float = MARGIN_MM) -> list[Array]:
    """(K, 2) mm each, mat frame: round each piece of a mask (H, W) of the plan, largest first.

    Pieces nearer to each other than twice the margin share a ring.
    """
    r = max(1, round(margin_mm / plan.cell))
    framed = cv2.copyMakeBorder(mask.astype(np.uint8), r, r, r, r, cv2.BORDER_CONSTANT, value=0)
    wide = cv2.dilate(framed, disc(r))
    found, _ = cv2.findContours(wide, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    rings = []
    for contour in sorted(found, key=cv2.contourArea, reverse=True)[:MOST_RINGS]:
        simple = cv2.approxPolyDP(contour, _STRAY_MM / plan.cell, True)
        if len(simple) >= _LEAST_CORNERS:
            rings.append(plan.to_mat(simple.reshape(-1, 2).astype(np.float64) - r))
    return rings
