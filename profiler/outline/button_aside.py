"""The strap button at the tail as a view from the side shows it, where it stands clear of the body.

From before the middle of an instrument the near hip hides it. From beside the tail it is seen
against what stands behind: then its upper and lower edge lie alike above and below its axis.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.outline.elevation import Seen, seen_at
from profiler.outline.planview import PlanView, past_the_body

Array = NDArray[np.float64]

#: how thick a strap button is seen, from its shaft to its end, mm (common practice, no source)
_THICK_MM = (3.0, 25.0)
#: it stands out by this, mm, and is seen on so many columns
_OUT_MM, _LEAST_COLUMNS = 3.0, 4
#: its end is what is looked at: this part of what is seen
_END = 0.6


def button_axis(
    upper: tuple[Array, Array], lower: tuple[Array, Array], centre: Array, plan: PlanView
) -> Seen | None:
    """The axis of a strap button's end; None where none is seen clear of the body.

    Args:
        upper, lower: silhouette in the plane through the centreline, ((N, 2) mm, (N,) sigma, mm).
        centre: (3,) mm, instrument frame: the camera.
        plan: the plan outline.
    """
    (top, top_u), (low, low_u) = upper, lower
    begins = plan.reach("body")[0]
    of_top, of_low = np.floor(top[:, 0]), np.floor(low[:, 0])
    _, i, k = np.intersect1d(of_top, of_low, return_indices=True)
    at = (top[i] + low[k]) / 2
    thick = top[i, 1] - low[k, 1]
    mine = (at[:, 0] < begins) & (thick > _THICK_MM[0]) & (thick < _THICK_MM[1])
    mine &= past_the_body(at, centre, plan)
    if mine.sum() < _LEAST_COLUMNS or at[mine, 0].min() > begins - _OUT_MM:
        return None
    tip = at[mine, 0].min()
    mine &= at[:, 0] <= tip + _END * np.ptp(at[mine, 0])
    sigma = 0.5 * np.hypot(top_u[i], low_u[k])[mine]
    none = np.zeros(int(mine.sum()))
    kind = np.full(len(none), "button")
    return seen_at(at[mine], sigma, centre, none + 1.0, (none, none), kind)
