"""The line along which a side view shows a headstock's face, among strings, posts and tuners.

Posts, strings and tuners stand above the face, so wherever it is bare it is the lowest of what the
upper silhouette shows. Which of its edges that is, the far one or the near, follows from the sight:
the far one where the face falls less steeply along it than the sight does. A pegbox has no face:
its upper edges are seen as one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.lines import robust_line
from profiler.outline.elevation import Seen, seen_at
from profiler.outline.planview import PlanView, over_plan, shares

Array = NDArray[np.float64]

#: the line of the face: as many points, over this part of the headstock, this near to it, mm
_LEAST_POINTS, _LEAST_SPAN, _SLACK_MM = 15, 0.25, 0.5
#: the nut in front of the face, and the rounding at its end, mm
_NUT_MM, _END_MM = 6.0, 4.0
#: strings make a line too, from the nut's top to the posts: under the last of the fretboard a face
#: lies deeper than this, mm
_BELOW_THE_NUT_MM = 2.5
#: the fretboard is looked at over this length before the nut, mm, and must be seen there
_BEFORE_MM, _LEAST_BEFORE = 25.0, 5
_ROUNDS = 4


def face_seen(points: Array, sigma: Array, centre: Array, plan: PlanView) -> Seen | None:
    """The bare places of a headstock's face; None where they make no line.

    Args:
        points: (N, 2) mm, upper silhouette in the plane through the centreline.
        sigma: (N,) mm, of the edge there.
        centre: (3,) mm, instrument frame: the camera.
        plan: the plan outline.
    """
    start, end = plan.reach("headstock")
    if not np.isfinite(start):
        return None
    points, sigma = over_plan(points, sigma, centre, plan)
    near, far, _ = shares(points, centre, plan.core())
    fall = points[:, 1] - centre[2]
    away = points[:, 0] - centre[0]
    slope = 0.0
    for _ in range(_ROUNDS):
        share = np.where(fall < slope * away, far, near)
        x, z = centre[0] + share * away, centre[2] + share * fall
        mine = np.flatnonzero((x > start + _NUT_MM) & (x < end - _END_MM))
        if len(mine) < _LEAST_POINTS:
            return None
        mine = mine[np.argsort(x[mine])]
        slope, height, on_face = robust_line(x[mine], z[mine], _SLACK_MM, -1)
    found = mine[on_face]
    if len(found) < _LEAST_POINTS or np.ptp(x[found]) < _LEAST_SPAN * (end - start):
        return None
    before = (x > start - _BEFORE_MM) & (x < start)
    if before.sum() < _LEAST_BEFORE:
        return None
    if height + slope * start > np.median(z[before]) - _BELOW_THE_NUT_MM:
        return None
    none = np.zeros(len(found))
    kind = np.full(len(found), "head")
    return seen_at(points[found], sigma[found], centre, share[found], (none, none), kind)
