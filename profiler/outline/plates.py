"""The side plates and buttons of a slotted head: bumps in a row that no shaft parts from the head.

They lie below the head's face, some on the plate, some at the end of shafts that point back, and
which of them is seen at the head's side depends on where the camera was. So no height is right for
all of them: where they are seen, the outline is that much less certain.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import grey_opening

from profiler.geometry.curves import runs_of

Array = NDArray[np.float64]

# Common practice, no source: three or more to a side, 30 to 50 mm apart.
#: mm: what is narrower along the head than the first stands out, by how much at least, and what of
#: it counts; its length, from and to
_WIDE_MM, _OUT_MM, _COUNTS_MM, _LONG_MM = 31, 2.0, 1.0, (6, 34)
#: so many in a row, so far apart, mm, and as evenly
_IN_A_ROW, _APART_MM, _EVENLY = 3, (24.0, 60.0), 1.35
#: so many of them no shaft parts from the head: one may be its own corner
_LEAST_PLATES = 2
_LEAST_POINTS = 60


def on_side_plates(points: Array, labels: NDArray[np.str_]) -> NDArray[np.bool_]:
    """(N,) which points of a headstock are on bumps in a row along one of its sides.

    Args:
        points: (N, 2) mm, rough frame: x towards the head, y to the left.
        labels: (N,) part of each.
    """
    found = np.zeros(len(points), dtype=bool)
    head = np.isin(labels, ("headstock", "tuners"))
    for side in (1.0, -1.0):
        x, out = points[:, 0], side * points[:, 1]
        mine = head & (out > 0)
        if mine.sum() < _LEAST_POINTS:
            continue
        first = int(x[mine].min())
        profile = np.full(int(x[mine].max()) - first + 2, -np.inf)
        np.maximum.at(profile, np.rint(x[mine]).astype(int) - first, out[mine])
        seen = np.flatnonzero(np.isfinite(profile))
        at = np.arange(len(profile))
        profile = np.interp(at, seen, profile[seen])
        flank = grey_opening(profile, _WIDE_MM)
        stands_out = np.append(profile - flank > _OUT_MM, False)
        if not stands_out.any():
            continue
        bumps = [r for r in runs_of(stands_out) if _LONG_MM[0] <= len(r) <= _LONG_MM[1]]
        if not _in_a_row(np.array([r.mean() for r in bumps])):
            continue
        higher = mine & (out > np.interp(x - first, at, flank) + _COUNTS_MM)
        members = [higher & (x > first + r[0] - 1.5) & (x < first + r[-1] + 1.5) for r in bumps]
        plates = [m for m in members if m.any() and (labels[m] == "headstock").mean() > 0.5]
        if len(plates) >= _LEAST_PLATES:
            found |= np.any(plates, axis=0) & (labels == "headstock")
    return found


def _in_a_row(middles: Array) -> bool:
    """Whether bumps there, mm along the head, are evenly apart."""
    if len(middles) < _IN_A_ROW:
        return False
    apart = np.diff(middles)
    apart = apart[(apart > _APART_MM[0]) & (apart < _APART_MM[1])]
    return len(apart) >= _IN_A_ROW - 1 and bool(apart.max() < _EVENLY * apart.min())
