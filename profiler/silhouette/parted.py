"""A pale thing that the mat's white seams part.

White paper over a white seam shows no edge there, so the silhouette falls into a piece on each
sheet. Pieces that face each other across nothing but a seam are one thing.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.silhouette.ground import TARGET, UNSURE, WHITE, Plan
from profiler.silhouette.mask import Silhouette
from profiler.silhouette.pieces import disc, filled

Mask = NDArray[np.bool_]

#: white seams, two sheets' rims side by side and laid a little apart, are no wider than this, mm
_SEAM_MM = 16.0
#: where they are at most so much farther apart than at the narrowest, mm, this part of what lies
#: between them is seam (guesses)
_EVEN_MM, _PALE = 2.0, 0.8
#: beside a seam a print's slack leaves slits of this width, mm
_SLIT_MM = 1.5
#: pieces of one thing face each other over this length at least, mm (a guess)
_FACING_MM = 12.0


def across_seams(
    silhouette: Silhouette, plan: Plan, least_mm2: float, own: Mask | None = None
) -> Silhouette:
    """The silhouette with the pieces that a seam parts from it put to it.

    Args:
        silhouette: as found.
        plan: the photo laid flat.
        least_mm2: smaller pieces are left out of account.
        own: (H, W) cells that are surely the same thing's: of its other pieces only those that hold
            some of them are put to it.
    """
    if not silhouette.others:
        return silhouette
    pale = ((plan.printed & WHITE) > 0) & ((plan.printed & TARGET) == 0)
    joined = silhouette.mask
    rest = _parts(silhouette.pieces, plan, least_mm2)
    strange = [] if own is None else [piece for piece in rest if not (piece & own).any()]
    rest = [piece for piece in rest if own is None or (piece & own).any()]
    grew = True
    while grew:
        grew = False
        for piece in list(rest):
            bridge = _bridge(joined, piece, pale, plan.cell)
            if bridge is None:
                continue
            joined = filled(joined | piece | bridge)
            rest = [other for other in rest if other is not piece]
            grew = True
    if joined is silhouette.mask:
        return silhouette
    slits = cv2.morphologyEx(joined.astype(np.uint8), cv2.MORPH_CLOSE, disc(_SLIT_MM / plan.cell))
    joined = filled(slits > 0)
    left = silhouette.pieces & ~joined
    areas = sorted((float(p.sum()) * plan.cell**2 for p in [*rest, *strange]), reverse=True)
    return replace(silhouette, mask=joined, others=tuple(areas), pieces=left)


def second_thing(silhouette: Silhouette, plan: Plan, least_mm2: float) -> float | None:
    """mm² of the largest thing besides the silhouette; None where none is as large as that.

    What is seen where a sheet is only presumed to lie is no thing: its print may be anywhere.
    """
    if not silhouette.others or silhouette.others[0] < least_mm2:
        return None
    told = silhouette.pieces & ((plan.printed & UNSURE) == 0)
    areas = [float(p.sum()) * plan.cell**2 for p in _parts(told, plan, least_mm2)]
    return min(max(areas), silhouette.others[0]) if areas else None


def _parts(mask: Mask, plan: Plan, least_mm2: float) -> list[Mask]:
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    areas = stats[:, cv2.CC_STAT_AREA] * plan.cell**2
    order = np.argsort(-areas)
    return [labels == k for k in order[:count] if k > 0 and areas[k] >= least_mm2]


def _bridge(one: Mask, other: Mask, pale: Mask, cell: float) -> Mask | None:
    """The pale cells between two pieces that face each other over a seam; None where none do."""
    away = [cv2.distanceTransform((~m).astype(np.uint8), cv2.DIST_L2, 5) for m in (one, other)]
    both = np.where(one | other, np.inf, away[0] + away[1])
    gap = float(both.min())
    if gap * cell > _SEAM_MM:
        return None
    between = both <= gap + _EVEN_MM / cell
    if (between & pale).sum() < _PALE * between.sum():
        return None
    closed = cv2.morphologyEx(
        (one | other).astype(np.uint8), cv2.MORPH_CLOSE, disc(_SEAM_MM / 2 / cell)
    )
    bridge = (closed > 0) & pale & ~one & ~other & (both * cell < _SEAM_MM)
    if bridge.sum() * cell**2 < _FACING_MM * gap * cell:
        return None
    return np.asarray(bridge)
