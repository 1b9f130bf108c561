"""What stands out of a tail: a half hidden strap button, an end pin, a saddle.

Seen from over the body only a strap button's tip looks out past the rim. What stands out too little
to be a part by its shape alone is one by its place: a narrow bump in the middle of a smooth tail.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: a button sits this near the middle of the tail, and its tip is so wide, mm (common practice, no
#: source: from end pins to large strap buttons)
_OFF_MIDDLE_MM, _WIDTH_MM = 14.0, (4.0, 24.0)
#: it is no wider than this on either side, mm, and nearer to the end than this
_HALF_MM, _TAIL_MM = 14.0, 35.0
#: a saddle with a pin's tip looking out past it reaches from and to so far from the middle, mm
_SADDLE_MM = (9.0, 17.0)
_LEAST_WALL_POINTS, _LEAST_SADDLE_POINTS = 10, 5
#: stands out by this much at its top and at its feet, mm, and by so many times what the wall itself
#: strays from a smooth line
_LEAST_MM, _FOOT_MM, _LEAST_STRAYS = 1.0, 0.5, 5.0


@dataclass(frozen=True)
class _Beside:
    """What on either side of a bump says where the tail would be without it.

    Attributes:
        reach: from and to, mm beside the bump's middle.
        foot: the bump's feet are where it stands out by this share of what its top does.
        points: so many on either side at least.
    """

    reach: tuple[float, float]
    foot: float
    points: int


_BARE_WALL = _Beside((_HALF_MM, 40.0), 0.0, _LEAST_WALL_POINTS)
#: a saddle stands out too, by less
_WALL_PAST_SADDLE = _Beside((24.0, 50.0), 0.3, _LEAST_WALL_POINTS)
_SADDLE = _Beside(_SADDLE_MM, 0.0, _LEAST_SADDLE_POINTS)


def bump_at_tail(points: Array) -> NDArray[np.bool_]:
    """(N,) whether a point is on a bump in the middle of the tail.

    Args:
        points: (N, 2) mm, rough frame, closed: x from the tail towards the head, y to the left.
    """
    tried = [_BARE_WALL, _WALL_PAST_SADDLE]
    if (stands_out_at_tail(points) & _off_the_middle(points)).any():
        tried.append(_SADDLE)
    for beside in tried:
        bump = _bump_beside(points, beside)
        if bump.any():
            return bump
    return np.zeros(len(points), dtype=bool)


def _bump_beside(points: Array, beside: _Beside) -> NDArray[np.bool_]:
    none = np.zeros(len(points), dtype=bool)
    x, y = points.T
    near = (x < _TAIL_MM) & (np.abs(y) < _OFF_MIDDLE_MM)
    if not near.any():
        return none
    middle = y[near][np.argmin(x[near])]
    first, last = beside.reach
    for _ in range(2):
        aside = y - middle
        wall = (x < _TAIL_MM) & (np.abs(aside) > first) & (np.abs(aside) < last)
        if min((wall & (aside > 0)).sum(), (wall & (aside < 0)).sum()) < beside.points:
            return none
        fit = np.polyfit(aside[wall], x[wall], 2)
        out = np.polyval(fit, aside) - x
        bump = (x < _TAIL_MM) & (np.abs(aside) < min(first, _HALF_MM))
        bump &= out > max(_FOOT_MM, beside.foot * float(out[bump].max(initial=0.0)))
        if not bump.any():
            return none
        middle = float((y[bump].min() + y[bump].max()) / 2)
    strays = float(np.sqrt(np.mean(out[wall] ** 2)))
    height, width = float(out[bump].max()), float(np.ptp(y[bump]))
    if height < max(_LEAST_MM, _LEAST_STRAYS * strays) or abs(middle) > _OFF_MIDDLE_MM:
        return none
    return bump if _WIDTH_MM[0] < width < _WIDTH_MM[1] else none


def _off_the_middle(points: Array) -> NDArray[np.bool_]:
    """(N,) which points lie where a saddle is and a pin is not."""
    aside = np.abs(points[:, 1])
    return np.asarray((aside > _SADDLE_MM[0]) & (aside < _SADDLE_MM[1]))


#: a saddle with an end pin below it: so wide at most, on either side of the middle; the wall beside
#: it, from and to; mm (common practice, no source: saddles are 30 to 45 wide)
_FITTING_MM, _BESIDE_FITTING_MM = 26.0, (30.0, 55.0)


def stands_out_at_tail(points: Array) -> NDArray[np.bool_]:
    """(N,) whether a point is on something that stands out of the tail's own line near its middle.

    Such a thing has a height of its own, for it is fixed to the wall or laid over the rim.

    Args:
        points: (N, 2) mm, rough frame, closed.
    """
    x, y = points.T
    tail = x < _TAIL_MM
    beside = tail & (np.abs(y) > _BESIDE_FITTING_MM[0]) & (np.abs(y) < _BESIDE_FITTING_MM[1])
    if min((beside & (y > 0)).sum(), (beside & (y < 0)).sum()) < _LEAST_WALL_POINTS:
        return np.zeros(len(points), dtype=bool)
    line = np.polyval(np.polyfit(y[beside], x[beside], 2), y)
    return np.asarray(tail & (np.abs(y) < _FITTING_MM) & (line - x > _LEAST_MM))
