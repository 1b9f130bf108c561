"""Closed and open polylines: length, even spacing, normals, area."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

Array = NDArray[np.float64]

#: points that tell a direction
AIM_POINTS = 6


def signed_area(curve: Array) -> float:
    """Area of a closed (N, 2) curve, positive where it runs anticlockwise (shoelace formula)."""
    x, y = curve.T
    return 0.5 * float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())


def evenly_spaced(curve: Array, spacing: float) -> Array:
    """A closed (N, 2) curve resampled along its length, at least 16 points."""
    closed = np.vstack([curve, curve[:1]])
    along = lengths_along(closed)
    count = max(16, round(along[-1] / spacing))
    return at_lengths(closed, along, np.arange(count) * along[-1] / count)


def lengths_along(path: Array) -> Array:
    """(N,) length of an open (N, 2) path up to each of its points."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])


def at_lengths(path: Array, along: Array, at: Array) -> Array:
    """(M, 2) the places of an open (N, 2) path at lengths (M,); `along` from `lengths_along`."""
    return np.column_stack([np.interp(at, along, path[:, i]) for i in (0, 1)])


def heading(
    curve: Array, members: NDArray[np.intp], i: int, side: int, count: int = AIM_POINTS
) -> Array:
    """Unit direction of travel at members[i] of a closed (N, 2) curve, told by so many members
    before it (side -1) or behind it (+1), whatever lies between that are none."""
    run = members[(i + side * np.arange(count)) % len(members)]
    travel = (curve[run[-1]] - curve[run[0]]) * side
    unit: Array = travel / max(float(np.hypot(*travel)), 1e-9)
    return unit


def runs_of(flags: NDArray[np.bool_]) -> list[NDArray[np.intp]]:
    """Indices of each run of flagged points of a closed curve, in its order; all of them in one
    where none is left out."""
    n = len(flags)
    if flags.all():
        return [np.arange(n)]
    order = (int(np.argmin(flags)) + np.arange(n)) % n
    ends = np.flatnonzero(np.diff(np.concatenate([[0], flags[order].astype(np.int8), [0]])))
    return [order[a:b] for a, b in zip(ends[::2], ends[1::2], strict=True)]


def outward_normals(curve: Array, over_mm: float) -> Array:
    """(N, 2) unit normals of a closed anticlockwise curve, smoothed over a length along it."""
    # asked for hundreds of times: x and y lie in rows, with what follows at either end
    rows = np.concatenate([curve.T, curve[:1].T], axis=1)
    step = float(np.hypot(*np.diff(rows)).mean())
    smooth = gaussian_filter1d(rows[:, :-1], max(over_mm / step / 2, 0.5), mode="wrap")
    lapped = np.concatenate([smooth[:, -1:], smooth, smooth[:, :1]], axis=1)
    x, y = lapped[:, 2:] - lapped[:, :-2]
    length = np.maximum(np.hypot(x, y), 1e-12)
    return np.column_stack([y / length, -x / length])


def turns(curve: Array, arms: Array) -> Array:
    """(N,) by how much a closed (N, 2) curve turns at each of its points, rad, to the left.

    Args:
        curve: closed.
        arms: (K,) mm before and behind a point, by lines through which it is told: a point that
            strays is no corner.
    """
    closed = np.vstack([curve, curve[:1]])
    along = lengths_along(closed)

    def at(lengths: Array) -> Array:
        return at_lengths(closed, along, lengths % along[-1])

    apart = arms - arms.mean()
    ahead, behind = (
        sum(way * w * at(along[:-1] + way * mm) for w, mm in zip(apart, arms, strict=True))
        for way in (1.0, -1.0)
    )
    cross = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
    turn: Array = np.arctan2(cross, (behind * ahead).sum(axis=1))
    return turn


def hermite_at(a: Array, b: Array, leave: Array, arrive: Array, t: Array) -> Array:
    """Points on the cubic from a to b with given unit directions at its ends.

    Args:
        a, b: (2,).
        leave, arrive: (2,) unit directions of travel at a and at b.
        t: (N,) from 0 at a to 1 at b.

    Returns:
        (N, 2); Hermite's form, with the chord's length as the ends' speed.
    """
    chord = float(np.hypot(*(b - a)))
    t = t[:, None]
    h00, h10 = 2 * t**3 - 3 * t**2 + 1, t**3 - 2 * t**2 + t
    h01, h11 = -2 * t**3 + 3 * t**2, t**3 - t**2
    points: Array = h00 * a + h10 * chord * leave + h01 * b + h11 * chord * arrive
    return points


def extent_at(curve: Array, x: Array) -> tuple[Array, Array]:
    """Lowest and highest y of a closed curve at each x; NaN where the curve is not met."""
    a, b = curve, np.roll(curve, -1, axis=0)
    order = np.argsort(x)
    # a segment meets every x from its left end to just before its right end
    first = np.searchsorted(x[order], np.minimum(a[:, 0], b[:, 0]))
    count = np.searchsorted(x[order], np.maximum(a[:, 0], b[:, 0])) - first
    segment = np.repeat(np.arange(len(curve)), count)
    nth = np.arange(len(segment)) - np.repeat(np.cumsum(count) - count, count)
    met = order[first[segment] + nth]
    p, q = a[segment], b[segment]
    y = p[:, 1] + (x[met] - p[:, 0]) / (q[:, 0] - p[:, 0]) * (q[:, 1] - p[:, 1])
    low, high = np.full(len(x), np.inf), np.full(len(x), -np.inf)
    np.minimum.at(low, met, y)
    np.maximum.at(high, met, y)
    missed = low > high
    low[missed] = high[missed] = np.nan
    return low, high


def straight_through(points: Array) -> tuple[Array, Array]:
    """A point of the straight line through most of the points (N, 2), and its unit direction."""
    use = np.ones(len(points), dtype=bool)
    for _ in range(4):
        middle = points[use].mean(axis=0)
        direction = np.linalg.svd(points[use] - middle, full_matrices=False)[2][0]
        off = np.abs((points - middle) @ np.array([-direction[1], direction[0]]))
        use = off <= max(2.5 * float(np.median(off)), 0.1)
    return middle, direction
