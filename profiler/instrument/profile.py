"""A profile as a curve: even spacing, how deep, how wide, how round its back is."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.instrument.record import Quantity, missing

Array = NDArray[np.float64]

#: distance of the points along a profile, mm
SPACING_MM = 0.3
#: the back's radius is taken over this part of the width on each side of its lowest point
_RADIUS_SHARE = 0.2
#: a back flatter than this has no radius to speak of, mm
_FLAT_MM = 500.0


def along(points: Array) -> Array:
    """(N,) mm along an open curve (N, 2)."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    length: Array = np.concatenate([[0.0], np.cumsum(steps)])
    return length


def resampled(points: Array, *others: Array, spacing: float = SPACING_MM) -> tuple[Array, ...]:
    """An open curve (N, 2) with even steps, and what else is known at its points (N,) along it."""
    at = along(points)
    keep = np.concatenate([[True], np.diff(at) > 1e-9])
    at, points = at[keep], points[keep]
    even = np.linspace(0.0, at[-1], max(9, round(at[-1] / spacing) + 1))
    curve = np.column_stack([np.interp(even, at, points[:, k]) for k in (0, 1)])
    return curve, *(np.interp(even, at, other[keep]) for other in others)


def back_radius(points: Array, u95: Array) -> Quantity:
    """Radius of the back at its lowest point: a circle fitted by linear least squares to
    the points round it, over a fifth of the width on each side.

    Args:
        points: (N, 2) mm, section frame.
        u95: (N,) mm.
    """
    low = int(np.argmin(points[:, 1]))
    width = float(np.ptp(points[:, 0]))
    near = np.abs(points[:, 0] - points[low, 0]) < _RADIUS_SHARE * width
    near &= points[:, 1] < 0.35 * points[low, 1]
    if near.sum() < 5:
        return missing("too little of the back was seen to tell how round it is")
    part = points[near] - points[low]
    design = np.column_stack([2 * part, np.ones(len(part))])
    squares = (part**2).sum(axis=1)
    (a, b, c), *_ = np.linalg.lstsq(design, squares, rcond=None)
    radius = float(np.sqrt(max(c + a * a + b * b, 0.0)))
    if b <= 0 or radius > _FLAT_MM:
        return missing("the back is flat there")
    left = np.hypot(part[:, 0] - a, part[:, 1] - b) - radius
    # an arc of half length s rises s²/2R: what the rise may be out by, R may be out by
    half = float(np.abs(part[:, 0]).max())
    rise = half**2 / (2 * radius)
    # what moves the whole curve alike does not change its radius: a third is left, as seen on
    # rendered gauges
    doubt = float(np.hypot(np.median(u95[near]) / 3, 2 * left.std()))
    u = radius * min(doubt / max(rise, 1e-6), 1.0)
    return Quantity(radius, u, mostly="how round the curve is over its lowest part")
