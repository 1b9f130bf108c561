"""The instrument's rim sought where the silhouette does not show it, by what it looks like.

A varnished wall mirrors the mat, a white binding lies on a white print: there the silhouette
wanders. The rim itself is still seen, as the place where the look learnt elsewhere along the same
edge begins. It is sought for a whole stretch together, so that it goes on without a jump
(dynamic programming, Viterbi 1967), and then laid to where the light changes most.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from profiler.optics.camera import Camera
from profiler.silhouette.edge import strongest_step
from profiler.silhouette.looks import Looks, look_inward, unlike_either

Array = NDArray[np.float64]

#: depths inside the rim that are compared, mm
DEPTHS_MM = np.arange(0.4, 4.0, 0.2)
_STEP_MM = 0.2
#: the rim found may turn away from the expected one by so much from one mm to the next
_STEEPEST = 3
#: what such a turn costs, in times the usual unlikeness
_TURN = 0.25
#: as unlike as this, in times the usual: not the rim
_STRANGE = 2.5
#: a place this far away looks plainly worse if it is the rim: mm, and times the usual
_BESIDE_MM, _PLAINLY = 1.0, 0.6
#: the step of the light is sought so near to where the look begins, mm
_NEAR_MM = 0.6
#: standard uncertainty where only the look tells, mm
LOOK_U_MM = 0.3


@dataclass(frozen=True)
class Sought:
    """Attributes:
    offsets: (M,) mm outward from the expected places.
    found: (M,) whether the rim's look is there and plainly nowhere beside.
    stepped: (M,) whether a step of the light told its place.
    """

    offsets: Array
    found: NDArray[np.bool_]
    stepped: NDArray[np.bool_]


def seek_rim(
    photo: NDArray[np.uint8],
    camera: Camera,
    expected: Array,
    normals: Array,
    usual: Looks,
    spread: float,
    reach: float,
) -> Sought:
    """Seek the rim along a stretch that begins and ends on it.

    Args:
        photo: (H, W, 3) 8 bit BGR.
        camera: solved.
        expected: (M, 2) mm on the mat plane, about a mm apart: where the rim would be seen.
        normals: (M, 2) outward.
        usual: the rim's look, (1, D, 3) before and behind the stretch, at `DEPTHS_MM`.
        spread: how unlike the look is to itself along the edge.
        reach: mm, how far from the expected places it is sought.
    """
    half = int(np.ceil(reach / _STEP_MM))
    shifts = np.arange(-half, half + 1) * _STEP_MM
    count = len(DEPTHS_MM)
    # depth falls outward: the first window is the outermost
    depth = np.arange(-half, half + count) * _STEP_MM + DEPTHS_MM[0]
    seen = look_inward(photo, camera, expected, normals, depth)
    windows = np.moveaxis(np.lib.stride_tricks.sliding_window_view(seen, count, axis=1), 3, 2)
    m, k = windows.shape[:2]
    flat = np.ascontiguousarray(windows).reshape(m * k, count, 3)
    unlike = unlike_either(flat, usual).reshape(m, k)[:, ::-1] / spread
    path = _smoothest(unlike, shifts)
    best = unlike[np.arange(m), path]
    beside = np.abs(np.arange(k) - path[:, None]) * _STEP_MM
    other = np.where(beside >= _BESIDE_MM, unlike, np.inf).min(axis=1)
    found = (best < _STRANGE) & (other - best > _PLAINLY)
    found = median_filter(found.astype(np.uint8), size=5, mode="nearest") > 0
    offsets = shifts[path]
    step, stepped = strongest_step(
        photo, camera, expected + offsets[:, None] * normals, normals, _NEAR_MM
    )
    return Sought(offsets + np.where(stepped, step, 0.0), found, stepped)


def _smoothest(unlike: Array, shifts: Array) -> NDArray[np.intp]:
    """(M,) the cheapest way through (M, K) costs from nought at one end to nought at the other."""
    m, k = unlike.shape
    turns = np.arange(-_STEEPEST, _STEEPEST + 1)
    capped = np.minimum(unlike, 3 * _STRANGE)
    # a stretch begins and ends on the rim
    tied = (shifts / (2 * _STEP_MM)) ** 2
    total = np.empty((m, k))
    total[0] = capped[0] + tied
    came = np.zeros((m, k), dtype=np.intp)
    for i in range(1, m):
        options = np.full((len(turns), k), np.inf)
        for t, turn in enumerate(turns):
            source = np.arange(k) - turn
            inside = (source >= 0) & (source < k)
            options[t, inside] = total[i - 1, source[inside]] + _TURN * turn**2
        which = np.argmin(options, axis=0)
        came[i] = np.arange(k) - turns[which]
        total[i] = options[which, np.arange(k)] + capped[i]
    path = np.zeros(m, dtype=np.intp)
    path[-1] = int(np.argmin(total[-1] + tied))
    for i in range(m - 1, 0, -1):
        path[i - 1] = came[i, path[i]]
    return path
