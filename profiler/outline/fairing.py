"""The outline faired, as a maker lays a thin batten along marks before he saws.

Points of an edge lie a tenth of a mm or two beside it, each by itself, and now and then one strays.
A smoothing spline (Whittaker 1923; third differences, so that arcs stay as round as they are) goes
through them, and those that stray lead it less and less. Corners, and what is too small for a
batten, stay as they are.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d
from scipy.sparse import csc_array, diags_array
from scipy.sparse.linalg import splu

from profiler.geometry.curves import turns

Array = NDArray[np.float64]

#: shorter waves than about twice this are smoothed away, mm
_STIFF_MM = 3.0
#: points lie beside their edge by about this; one that lies further off by so many times leads less
_BESIDE_MM, _STRAYS = 0.12, 2.5
#: rounds in which those that stray are found
_ROUNDS = 3
#: places before and behind a point, mm, between which the outline turns by so much at a corner,
#: degrees; points on either side of one that stay as they are
_CORNER_MM, _CORNER_DEG, _CORNER_POINTS = np.arange(1.0, 6.0), 40.0, 3
#: steps between points are taken for no shorter than this, mm
_SHORTEST_MM = 0.05


def faired(outline: Array, as_it_is: NDArray[np.bool_]) -> Array:
    """A closed outline, its smooth stretches faired.

    Args:
        outline: (N, 2) mm, points about a mm apart.
        as_it_is: (N,) points that must not move.

    Returns:
        (N, 2) mm.
    """
    corners = _corners(outline).astype(np.uint8)
    held = as_it_is | (maximum_filter1d(corners, 2 * _CORNER_POINTS + 1, mode="wrap") > 0)
    if held.all() or len(outline) < 4 * _CORNER_POINTS:
        return outline
    step = np.maximum(np.hypot(*(np.roll(outline, -1, axis=0) - outline).T), _SHORTEST_MM)
    before = np.roll(step, 1)
    bends = _third_differences(step, before)
    # no batten lies across what is held
    loose = np.where(held | np.roll(held, -1), 0.0, _STIFF_MM**6 / np.maximum(step, 0.3))
    stiff = bends.T @ diags_array(loose) @ bends
    plain = (step + before) / 2
    weight, fair = plain, outline
    for _ in range(_ROUNDS):
        solve = splu((diags_array(weight) + stiff).tocsc()).solve
        fair = solve(weight[:, None] * outline)
        off = np.hypot(*(fair - outline).T) / _BESIDE_MM
        weight = plain / (1 + (off / _STRAYS) ** 4)
    return np.where(held[:, None], outline, fair)


def _third_differences(step: Array, before: Array) -> csc_array:
    """(N, N) how the bend changes from point to point of a closed curve; lengths to the next point
    and from the last one."""
    n = len(step)
    here = np.arange(n)
    rows, last, following = np.tile(here, 3), (here - 1) % n, (here + 1) % n
    to_last, to_next = 2 / (before * (before + step)), 2 / (step * (before + step))
    bend = csc_array(
        (
            np.concatenate([to_last, -(to_last + to_next), to_next]),
            (rows, np.concatenate([last, here, following])),
        ),
        shape=(n, n),
    )
    change = csc_array(
        (np.repeat([1.0, -1.0], n), (np.tile(here, 2), np.concatenate([following, here]))),
        shape=(n, n),
    )
    return csc_array(change @ bend)


def _corners(outline: Array) -> NDArray[np.bool_]:
    """(N,) where the outline turns sharply."""
    return np.asarray(np.abs(turns(outline, _CORNER_MM)) > np.radians(_CORNER_DEG))
