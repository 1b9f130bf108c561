"""The instrument's rim sought where the silhouette does not show it, by what it looks like.

A varnished wall mirrors the mat, a white binding lies on a white print: there the silhouette
wanders. The rim itself is still seen, as the place where the look learnt elsewhere along the same
edge begins. It is sought for a whole stretch together, so that it goes on without a jump
(dynamic programming, Viterbi 1967), and then laid to where the light changes most.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from profiler.optics.camera import Camera
from profiler.silhouette.edge import strongest_step
from profiler.silhouette.looks import Looks, ends_there, look_inward, unlike_either, usual_looks

Array = NDArray[np.float64]

#: depths inside the rim that are compared, mm
DEPTHS_MM = np.arange(0.4, 4.0, 0.2)
_STEP_MM = 0.2
#: what is found teaches what to look for next to it
_PASSES = 4
#: depths of a look that are compared with what is outside
_OUTERMOST = 3
#: the rim found may turn away from the expected one by so much from one mm to the next
_STEEPEST = 3
#: what such a turn costs, in times the usual unlikeness
_TURN = 0.25
#: as unlike as this, in times the usual: not the rim
_STRANGE = 2.5
#: so far out of the rim something else is seen: mm from it, and times the usual at which it counts
#: as plainly something else
_OUTSIDE_MM, _PLAINLY = (0.4, 1.0), 2.0
#: the step of the light is sought so near to where the look begins, mm
_NEAR_MM = 0.6
#: standard uncertainty where only the look tells, mm
LOOK_U_MM = 0.3
#: places compared together: they fit into a processor's nearer memory
_AT_ONCE = 16


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
    before: Array,
    after: Array,
    spread: float,
    reach: float,
    tied: tuple[bool, bool] = (True, True),
) -> Sought:
    """Seek the rim along a stretch.

    Args:
        photo: (H, W, 3) 8 bit BGR.
        camera: solved.
        expected: (M, 2) mm on the mat plane, about a mm apart: where the rim would be seen.
        normals: (M, 2) outward.
        before, after: (B, D, 3) the rim's looks before and behind the stretch, at `DEPTHS_MM`.
        spread: how unlike the look is to itself along the edge.
        reach: mm, how far from the expected places it is sought.
        tied: whether the stretch begins and ends at known places of the rim.
    """
    half = int(np.ceil(reach / _STEP_MM))
    shifts = (np.arange(-half, half + 1) * _STEP_MM).astype(np.float64)
    deep = len(DEPTHS_MM)
    outside = round((_OUTSIDE_MM[1] + DEPTHS_MM[0]) / _STEP_MM)
    # from the outermost place outside the outermost rim to the innermost depth of the innermost
    depth = DEPTHS_MM[0] + (np.arange(2 * half + deep + outside) - half - outside) * _STEP_MM
    around = look_inward(photo, camera, expected, normals, depth)
    # by how far outward the rim is, as the shifts are
    looks = _windows(around[:, outside:], deep)[:, ::-1]
    thick = outside - round((_OUTSIDE_MM[0] + DEPTHS_MM[0]) / _STEP_MM) + 1
    beside = _windows(around, thick)[:, : 2 * half + 1][:, ::-1]
    m = len(expected)
    rows = np.arange(m)
    found = np.zeros(m, dtype=bool)
    path = np.full(m, half)
    for _ in range(_PASSES):
        along = np.concatenate([before, looks[rows, path], after])
        known = np.concatenate(
            [np.ones(len(before), bool), found, np.ones(len(after), bool)]
        ).nonzero()[0]
        usual = usual_looks(along, known, len(before) + rows)
        unlike = _each(unlike_either, looks, usual) / spread
        ends = _each(lambda o, u: ends_there(o, u, _OUTERMOST), beside, usual) / spread
        path = _smoothest(unlike + np.maximum(_PLAINLY - ends, 0.0), shifts, tied)
        good = (unlike[rows, path] < _STRANGE) & (ends[rows, path] > _PLAINLY)
        good = median_filter(good.astype(np.uint8), size=5, mode="nearest") > 0
        grown = good.sum() > found.sum() + 1
        found = good
        if good.all() or not grown:
            break
    offsets = shifts[path]
    step, stepped = strongest_step(
        photo, camera, expected + offsets[:, None] * normals, normals, _NEAR_MM
    )
    return Sought(offsets + np.where(stepped, step, 0.0), found, stepped)


def _windows(around: Array, size: int) -> Array:
    """(M, W, size, 3) of (M, L, 3)."""
    return np.moveaxis(np.lib.stride_tricks.sliding_window_view(around, size, axis=1), 3, 2)


def _each(compare: Callable[[Array, Looks], Array], looks: Array, usual: Looks) -> Array:
    """(M, K) looks (M, K, D, 3), each compared with its place's usual ones (M, D, 3)."""
    told = np.empty(looks.shape[:2])
    for first in range(0, len(looks), _AT_ONCE):
        some = slice(first, first + _AT_ONCE)
        before, after = (look[some, None] for look in usual)
        told[some] = compare(np.ascontiguousarray(looks[some]), (before, after))
    return told


def _smoothest(unlike: Array, shifts: Array, tied: tuple[bool, bool]) -> NDArray[np.intp]:
    """(M,) the cheapest way through (M, K) costs, where tied from nought and to nought."""
    m, k = unlike.shape
    # a stretch's places are gone through one by one; what each may have come from is one view
    before = np.full(k + 2 * _STEEPEST, np.inf)
    came_from = np.lib.stride_tricks.sliding_window_view(before, 2 * _STEEPEST + 1)
    turning = _TURN * np.arange(-_STEEPEST, _STEEPEST + 1) ** 2
    here = np.arange(k)
    capped = np.minimum(unlike, 3 * _STRANGE)
    to_rim = (shifts / (2 * _STEP_MM)) ** 2
    total = capped[0] + tied[0] * to_rim
    came = np.zeros((m, k), dtype=np.intp)
    for i in range(1, m):
        before[_STEEPEST:-_STEEPEST] = total
        options = came_from + turning
        which = options.argmin(axis=1)
        came[i] = here + which - _STEEPEST
        total = options[here, which] + capped[i]
    path = np.zeros(m, dtype=np.intp)
    path[-1] = int(np.argmin(total + tied[1] * to_rim))
    for i in range(m - 1, 0, -1):
        path[i - 1] = came[i, path[i]]
    return path
