"""A strap button on the side of a body: at a horn's tip, or in its shoulder.

It stands on the wall between two sharp inner corners, and the wall goes on behind it where it left
off. What stands out so is as high above the bench as the middle of the wall, not as its rim.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.curves import lengths_along, runs_of, turns

Array = NDArray[np.float64]

#: the part's name
SIDE_BUTTON = "side-button"
#: a foot is a corner inwards: arms by which it is told, mm, and the least turn, rad
_ARMS_MM, _LEAST_TURN = np.array([2.0, 3.0, 4.0]), 0.3
#: its feet are so far apart, mm, and its tip so far out, mm and share of that (common practice, no
#: source: from half hidden ones to large ones)
_FEET_MM, _OUT_MM, _SLENDER = (5.0, 24.0), (1.5, 18.0), 2.5
#: so many corners on are the other foot's looked for
_FEET_TRIED = 3
#: so broad at half of that, mm: what is less is a fault of the edge
_LEAST_BREADTH_MM = 4.0
#: so much of the wall on either side of it, mm, so far beside its feet, tells how the wall goes on;
#: it is smooth to this, mm, and to this share of what stands out
_WALL_MM, _BESIDE_MM, _SMOOTH_MM, _SMOOTH_SHARE = 14.0, 1.5, 0.35, 0.12
#: between its feet the edge sinks below the wall's line by no more than this share of that
_SINKS_SHARE = 0.3
#: the wall is rounded outwards there, as a horn is: it turns by this at least, rad (a guess)
_ROUNDED = 0.15
#: a flared one's neck and tip, shares of what stands out; and by how much the tip is broader, mm
_NECK, _TIP, _FLARES_MM = (0.15, 0.5), (0.5, 0.9), 1.5
#: before it is lifted it seems to stand out further, and either rim of the wall beside it shows, mm
_FARTHEST_OUT_MM, _STRAYS_MM = 24.0, 1.2
#: more of them are no strap buttons: brackets, or an edge that follows print
_MOST = 2


def buttons_on_side(
    points: Array, wall: NDArray[np.bool_], flared: bool = False
) -> NDArray[np.bool_]:
    """(N,) whether a point is on a strap button on the side of a body.

    Args:
        points: (N, 2) mm, closed, anticlockwise, about evenly spaced.
        wall: (N,) which points are the body's.
        flared: only those that are broader at their tip than at their foot: no wall that is seen
            for a while and then not looks so.
    """
    found = np.zeros(len(points), dtype=bool)
    along = lengths_along(np.vstack([points, points[:1]]))
    total, along = float(along[-1]), along[:-1]
    turn = turns(points, _ARMS_MM)
    # a foot is rounded: the wall begins behind all of it
    feet = [run for run in runs_of(turn < -_LEAST_TURN) if len(run) and wall[run].all()]
    taken: list[NDArray[np.intp]] = []
    for k, foot in enumerate(feet):
        for other in (feet[k + 1 :] + feet[:k])[:_FEET_TRIED]:
            count = int(other[-1] - foot[0]) % len(points) + 1
            run = (foot[0] + np.arange(count)) % len(points)
            if _is_button(points, along, total, run, wall, flared):
                taken.append(run)
                break
    if len(taken) > _MOST:
        return found
    for run in taken:
        found[run] = True
    return found


def _is_button(
    points: Array,
    along: Array,
    total: float,
    run: NDArray[np.intp],
    wall: NDArray[np.bool_],
    flared: bool,
) -> bool:
    a, b = points[run[0]], points[run[-1]]
    apart = float(np.hypot(*(b - a)))
    if not _FEET_MM[0] < apart < _FEET_MM[1]:
        return False
    before = (along[run[0]] - along) % total
    behind = (along - along[run[-1]]) % total
    sides = [(s > _BESIDE_MM) & (s < _BESIDE_MM + _WALL_MM) for s in (before, behind)]
    beside = sides[0] | sides[1]
    if not wall[beside].all() or not wall[run].all() or min(s.sum() for s in sides) < 6:
        return False
    travel = (b - a) / apart
    out = np.array([travel[1], -travel[0]])
    u, v = (points - a) @ travel, (points - a) @ out
    reach = apart + _WALL_MM
    line = np.polyfit(u[beside] / reach, v[beside], 3)
    slopes = (
        np.polyval(np.polyder(line), (u[beside].min() / reach, u[beside].max() / reach)) / reach
    )
    if float(-np.diff(np.arctan(slopes))[0]) < _ROUNDED:
        return False
    off = v - np.polyval(line, u / reach)
    strays = float(np.sqrt(np.mean(off[beside] ** 2)))
    tip = float(off[run].max())
    if not _OUT_MM[0] < tip < min(_FARTHEST_OUT_MM if flared else _OUT_MM[1], _SLENDER * apart):
        return False
    if flared and not _flares(u[run], off[run] / tip):
        return False
    return (
        float(np.ptp(u[run][off[run] > tip / 2])) > _LEAST_BREADTH_MM
        and strays < (_STRAYS_MM if flared else min(_SMOOTH_MM, _SMOOTH_SHARE * tip))
        and float(off[run].min()) > -_SINKS_SHARE * tip
    )


def _flares(along: Array, out: Array) -> bool:
    """Whether what stands out is broader near its tip than at its neck; `along` the wall (N,) mm,
    and `out` from it (N,), where the tip is 1."""
    at = np.arange(_NECK[0], _TIP[1], 0.05)
    tip = int(np.argmax(out))
    flanks = ((out[: tip + 1], along[: tip + 1]), (out[tip:][::-1], along[tip:][::-1]))
    up, down = (np.interp(at, np.maximum.accumulate(rise), where) for rise, where in flanks)
    width = np.abs(down - up)
    neck, end = at < _NECK[1], at >= _TIP[0]
    return bool(width[end].max() > width[neck].min() + _FLARES_MM)
