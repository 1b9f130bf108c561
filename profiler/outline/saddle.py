"""A violin's saddle stands above the rim that it lies on, and so is seen further out than the rim.

The ebony over which the tailgut runs lies in the plate's edge in the middle of the tail, some mm
higher than the edge. To a camera above the body it sticks out there on both sides of the end pin,
by no more than its height makes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.curves import runs_of

Array = NDArray[np.float64]

# Guesses, tried on rendered violins.
#: mm beside the middle: what tells where the rim goes, and what may be a saddle
_RIM_MM, _SADDLE_MM = (22.0, 48.0), 22.0
#: mm from the tail's end
_TAIL_MM = 40.0
#: points on either side that tell the rim; most of them stray from a parabola by no more than this,
#: mm
_LEAST_POINTS, _MOSTLY, _STRAYS_MM = 12, 0.8, 0.3
#: what stands out by less is no matter, mm, and no saddle stands higher over the rim than this, mm
_LEAST_MM, _HIGHEST_MM = 0.3, 10.0


def over_the_tail(points: Array, rims: NDArray[np.bool_], outward_by_height: float) -> Array:
    """(N,) mm along x, how much further in the rim is than points of a saddle; 0 at all others.

    Args:
        points: (N, 2) mm, closed, in the instrument's frame: x from the tail, lifted to the rim.
        rims: (N,) which of them are of the body's upper rim.
        outward_by_height: mm by which what stands a mm above the rim at the tail is seen further
            out; where it is not positive a saddle does not stick out.
    """
    inward = np.zeros(len(points))
    if outward_by_height <= 0:
        return inward
    x, y = points.T
    tail = rims & (x < _TAIL_MM)
    aside = tail & (np.abs(y) > _RIM_MM[0]) & (np.abs(y) < _RIM_MM[1])
    if min(int((aside & (y > 0)).sum()), int((aside & (y < 0)).sum())) < _LEAST_POINTS:
        return inward
    fit = np.polynomial.Polynomial.fit(y[aside], x[aside], 2)
    if float((np.abs(fit(y[aside]) - x[aside]) < _STRAYS_MM).mean()) < _MOSTLY:
        return inward
    out = np.where(tail & (np.abs(y) < _SADDLE_MM), fit(y) - x, 0.0)
    for run in runs_of(out > _LEAST_MM):
        if out[run].max() < _HIGHEST_MM * outward_by_height:
            inward[run] = out[run]
    return inward
