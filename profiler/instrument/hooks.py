"""Short pieces at the ends of a drawn line that are none of it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.instrument.profile import along

Array = NDArray[np.float64]

#: a hook at the end of an open line is no longer than this, its legs are looked at over this, mm,
#: and its corner turns by this at least, rad (guesses)
_HOOK_MM, _LEG_MM, _HOOKED = 3.0, 1.5, 0.9


def without_hooks(curve: Array) -> Array:
    """An open curve without a short piece at an end that a sharp corner parts from it: a speck of
    the paper beside the line's end, or where the pen was set down. A back ends without corners.

    Args:
        curve: (N, 2) mm, in order.
    """
    for _ in range(2):
        at = along(curve)
        corners = [
            (_turn(curve, at, int(k)), int(k))
            for k in np.flatnonzero((at > _LEG_MM / 3) & (at < _HOOK_MM))
            if at[k] + _LEG_MM < at[-1] / 4
        ]
        sharpest, k = max(corners, default=(0.0, 0))
        if sharpest > _HOOKED:
            curve = curve[k:]
        curve = curve[::-1]
    return curve


def _turn(curve: Array, at: Array, k: int) -> float:
    """rad: by how much the curve turns at its point k, between its start or a leg and a leg on."""
    back = int(np.searchsorted(at, max(at[k] - _LEG_MM, 0.0)))
    on = int(np.searchsorted(at, at[k] + _LEG_MM))
    before, after = curve[k] - curve[back], curve[on] - curve[k]
    cross = before[0] * after[1] - before[1] * after[0]
    return abs(float(np.arctan2(cross, before @ after)))
