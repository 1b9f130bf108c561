"""Bays that a white seam cuts into a body where something of its colour lies over it.

Grey metal over the white rim of a sheet looks like that rim in the shade: a bay as wide as the seam
runs into the silhouette where the seam goes on below it. No body has a bay so narrow.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.silhouette.ground import TARGET, WHITE, Plan
from profiler.silhouette.pieces import disc, filled

Mask = NDArray[np.bool_]

# Guesses, tried on rendered photos.
#: white seams, two sheets' rims side by side, are no wider than this, mm; what is told of them
#: reaches so far beside them, mm
_SEAM_MM, _BESIDE_MM = 16.0, 2.0
#: a bay is no smaller than this, mm²; the rest are corners
_LEAST_MM2 = 40.0
#: a bay runs in by this part of its greatest extent at least: what lies along a side, between it
#: and a sheet's rim that was taken for instrument, is none
_DEPTH = 0.5
#: what is as broad all round as this part of the broadest place is body, and no head with its
#: tuners; so much of a bay lies within it: between two tuners, or in a shoulder's corner, there is
#: ground
_OF_BROADEST, _WITHIN = 0.65, 0.8


def without_bays(mask: Mask, plan: Plan) -> Mask:
    """The silhouette (H, W) with the bays filled that seams cut into its body."""
    # beyond the plan is no instrument: it must lie all round for what is closed to end there
    by = int(np.ceil(_SEAM_MM / plan.cell)) + 1
    rows, columns = (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    box = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    found = _bays(np.pad(mask[box], by), np.pad(plan.printed[box], by), plan.cell)[by:-by, by:-by]
    if not found.any():
        return mask
    out = mask.copy()
    out[box] |= found
    return filled(out)


def _bays(mask: Mask, printed: NDArray[np.uint8], cell: float) -> Mask:
    """(H, W) the bays of a silhouette, of a part of the plan."""
    # closed by distances: a disc as large takes long
    reach = _SEAM_MM / 2 / cell
    closed = (_distance(_distance(~mask) <= reach) > reach) | mask
    pale = ((printed & WHITE) > 0) & ((printed & TARGET) == 0)
    near = cv2.dilate(pale.astype(np.uint8), disc(_BESIDE_MM / cell)) > 0
    bays = (closed & ~mask & near).astype(np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(bays, connectivity=4)
    large = np.flatnonzero(stats[:, cv2.CC_STAT_AREA] * cell**2 >= _LEAST_MM2)
    large = large[large > 0]
    if not len(large):
        return np.zeros_like(mask)
    inside = _distance(closed)
    broad = inside > _OF_BROADEST * inside.max()
    body = _distance(~broad) <= _OF_BROADEST * inside.max()
    runs_in = [
        float(inside[labels == k].max()) > _DEPTH * stats[k, 2:4].max() for k in large.tolist()
    ]
    mine = [k for k, deep in zip(large.tolist(), runs_in, strict=True) if deep]
    return np.isin(labels, [k for k in mine if body[labels == k].mean() > _WITHIN])


def _distance(cells: Mask) -> NDArray[np.float32]:
    """(H, W) cells from each of these to the nearest that is none of them; nought elsewhere."""
    away = cv2.distanceTransform(cells.astype(np.uint8), cv2.DIST_L2, 5)
    return np.asarray(away, dtype=np.float32)
