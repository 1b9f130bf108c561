"""What stands out of a tail: a half hidden strap button, an end pin, a saddle.

Seen from over the body only a strap button's tip looks out past the rim. What stands out too little
to be a part by its shape alone is one by its place: a narrow bump in the middle of a smooth tail.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: a button sits this near the middle of the tail, and its tip is so wide, mm (common practice, no
#: source: from end pins to large strap buttons)
_OFF_MIDDLE_MM, _WIDTH_MM = 14.0, (4.0, 24.0)
#: the wall on either side that says where the tail would be, from and to, mm beside the bump's
#: middle; and nearer to the end than this
_WALL_MM, _TAIL_MM = (14.0, 40.0), 35.0
_LEAST_WALL_POINTS = 10
#: stands out by this much at its top and at its feet, mm, and by so many times what the wall itself
#: strays from a smooth line
_LEAST_MM, _FOOT_MM, _LEAST_STRAYS = 1.0, 0.5, 5.0


def bump_at_tail(points: Array) -> NDArray[np.bool_]:
    """(N,) whether a point is on a bump in the middle of the tail.

    Args:
        points: (N, 2) mm, rough frame, closed: x from the tail towards the head, y to the left.
    """
    none = np.zeros(len(points), dtype=bool)
    x, y = points.T
    near = (x < _TAIL_MM) & (np.abs(y) < _OFF_MIDDLE_MM)
    if not near.any():
        return none
    middle = y[near][np.argmin(x[near])]
    for _ in range(2):
        aside = y - middle
        wall = (x < _TAIL_MM) & (np.abs(aside) > _WALL_MM[0]) & (np.abs(aside) < _WALL_MM[1])
        if min((wall & (aside > 0)).sum(), (wall & (aside < 0)).sum()) < _LEAST_WALL_POINTS:
            return none
        fit = np.polyfit(aside[wall], x[wall], 2)
        out = np.polyval(fit, aside) - x
        bump = (x < _TAIL_MM) & (np.abs(aside) < _WALL_MM[0]) & (out > _FOOT_MM)
        if not bump.any():
            return none
        middle = float((y[bump].min() + y[bump].max()) / 2)
    strays = float(np.sqrt(np.mean(out[wall] ** 2)))
    height, width = float(out[bump].max()), float(np.ptp(y[bump]))
    if height < max(_LEAST_MM, _LEAST_STRAYS * strays) or abs(middle) > _OFF_MIDDLE_MM:
        return none
    return bump if _WIDTH_MM[0] < width < _WIDTH_MM[1] else none


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
