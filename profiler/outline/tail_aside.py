"""The place for a strap button as a view from beside the tail shows it: is anything there?

From above the rim may hide one. From beside the tail nothing stands before the place where one
would be, so that a clear view of the sheets behind says that there is none.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.outline.planview import PlanView, past_the_body

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: a strap button stands out no further than this, mm (common practice, no source)
_LONGEST_MM = 18.0
#: below this a shadow on the mat is not told from what stands there, mm above the bench; and below
#: this a button does not reach with all of its end
FLOOR_MM, _LOWEST_MM = 5.0, 12.0
#: how thick one is at its end, mm (common practice, no source)
_THICK_MM = (6.0, 22.0)
#: the place is asked so finely, mm, along the instrument and upwards
_STEP_MM, _UP_MM = 0.5, 2.0
#: behind so much of each column a print is known
_KNOWN_SHARE = 0.9
#: what stands out by less than this beyond what is hidden may pass for the body's own edge, mm
_EDGE_SLACK_MM = 1.0
#: a strap button stands out by more than this, mm (common practice, no source): where more than
#: this is hidden the place for it is not in plain sight
_SHORTEST_MM = 6.0


@dataclass(frozen=True)
class TailSeen:
    """What a view from beside the tail shows of the place for a strap button.

    Attributes:
        out: (N, 2) mm, silhouette in the plane through the centreline of what stands out there.
        reach: mm, how far it stands out at most, 0 for nothing.
    """

    out: Array
    reach: float

    @property
    def bare(self) -> bool:
        """Nothing stands out."""
        return not len(self.out)

    @property
    def button(self) -> tuple[Array, float] | None:
        """(2,) mm the middle of a strap button's end, and half its width; None where what stands
        out is none, or not all of it is seen."""
        if self.bare:
            return None
        low, high = float(self.out[:, 1].min()), float(self.out[:, 1].max())
        if not _THICK_MM[0] < high - low < _THICK_MM[1] or self.reach > _LONGEST_MM - _STEP_MM:
            return None
        return np.array([self.out[:, 0].min(), (low + high) / 2]), (high - low) / 2


def at_the_tail(x: Array, plan: PlanView) -> Mask:
    """(N,) whether a strap button may be at these places along the instrument."""
    out = plan.reach("body")[0] - x
    return np.asarray((out > 0.0) & (out < _LONGEST_MM))


def tail_seen(
    contour: Array, centre: Array, plan: PlanView, known: Callable[[Array], Mask]
) -> TailSeen | None:
    """What stands out at the tail; None where that is not in plain sight.

    Args:
        contour: (M, 2) mm, silhouette in the plane through the centreline: x along, z up.
        centre: (3,) mm, instrument frame: the camera.
        plan: the plan outline.
        known: whether a known print is seen behind places (N, 2) of that plane.
    """
    begins = plan.reach("body")[0]
    out = np.arange(_STEP_MM, _LONGEST_MM, _STEP_MM)
    rim = float(plan.rim.at(np.array([begins]))[0])
    up = np.arange(_LOWEST_MM, max(rim, _LOWEST_MM + _UP_MM), _UP_MM)
    places = np.stack(np.meshgrid(begins - out, up, indexing="ij"), axis=-1)
    behind = known(places.reshape(-1, 2)).reshape(len(out), len(up)).mean(axis=1)
    unseen = ~past_the_body(places[:, 0], centre, plan) | (behind < _KNOWN_SHARE)
    hidden = float(out[unseen].max()) if unseen.any() else 0.0
    hidden += _EDGE_SLACK_MM
    if hidden > _SHORTEST_MM:
        return None
    far = begins - contour[:, 0]
    stands = (far > hidden) & (far < _LONGEST_MM) & (contour[:, 1] > FLOOR_MM)
    if not (contour[stands, 1] > _LOWEST_MM).any():
        stands[:] = False
    return TailSeen(contour[stands], float(far[stands].max()) if stands.any() else 0.0)
