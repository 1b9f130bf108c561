"""What an edge looks like on its inner side, and how unlike two such looks are.

Inside its rim an instrument looks the same for a good way along: binding, then top.
"""

from __future__ import annotations

from functools import reduce

import numpy as np
from numpy.typing import NDArray

from profiler.optics.camera import Camera
from profiler.optics.light import sample_linear
from profiler.silhouette.edge import across

Array = NDArray[np.float64]
#: (M, D, 3) each: on either side along the edge
Looks = tuple[Array, Array]

#: points on either side whose look is expected
NEIGHBOURS = 20
#: log light: a wall's shadow or a burst may shade the look as a whole by this much
_GAIN = 0.4
_DARK = 0.01
#: places whose usual looks are found together: they fit into a processor's nearer memory
_AT_ONCE = 200


def look_inward(
    photo: NDArray[np.uint8], camera: Camera, places: Array, normals: Array, depth: Array
) -> Array:
    """(N, D, 3) log light at depths (D,) mm inward from places (N, 2) on the mat plane."""
    pixels, per_mm, _ = across(camera, places, normals)
    at = pixels[:, None, :] - depth[None, :, None] * per_mm[:, None, :]
    return np.asarray(np.log(sample_linear(photo, at) + _DARK), dtype=np.float64)


def usual_looks(looks: Array, known: NDArray[np.intp], asked: NDArray[np.intp]) -> Looks:
    """(M, D, 3) each: the middle look of the nearest known points before each asked one, and of
    those after it: they differ where a soundboard's binding ends at a fingerboard."""
    # asked points between the same known ones share their neighbours
    place, which = np.unique(np.searchsorted(known, asked), return_inverse=True)
    flat = looks[known].reshape(len(known), -1)
    some = np.split(place, range(_AT_ONCE, len(place), _AT_ONCE))
    middles = np.concatenate([_middles(flat, np.stack([p - NEIGHBOURS, p])) for p in some], axis=1)
    before, after = middles.reshape(2, len(place), *looks.shape[1:])
    return before[which], after[which]


def _middles(rows: Array, starts: NDArray[np.intp]) -> Array:
    """(..., K) medians of `NEIGHBOURS` rows of (N, K), from each start (...) on, round and round.

    Such a run is two halves, and other runs share them: each half is sorted once. Laid against the
    other one turned round, the smaller of each pair are the run's smaller half.
    """
    half = NEIGHBOURS // 2
    begins, at = np.unique(np.stack([starts, starts + half]) % len(rows), return_inverse=True)
    first, second = at.reshape(2, *starts.shape)
    ranked = _in_order([rows[(begins + k) % len(rows)] for k in range(half)])
    pairs = [(a[first], b[second]) for a, b in zip(ranked, reversed(ranked), strict=True)]
    below = reduce(np.maximum, (np.minimum(*pair) for pair in pairs))
    above = reduce(np.minimum, (np.maximum(*pair) for pair in pairs))
    middles: Array = (below + above) / 2
    return middles


def _in_order(values: list[Array]) -> list[Array]:
    """A few arrays of one shape, at each place sorted from the first to the last of them.

    Odd-even transposition (Habermann 1972): it takes a quarter of the time of sorting many short
    rows one by one.
    """
    for turn in range(len(values)):
        for k in range(turn % 2, len(values) - 1, 2):
            a, b = values[k], values[k + 1]
            values[k], values[k + 1] = np.minimum(a, b), np.maximum(a, b)
    return values


def unlike_either(looks: Array, usual: Looks, weigh: Array | None = None) -> Array:
    """(...) how unlike looks (..., D, 3) are to the more alike of two usual ones."""
    closer: Array = np.minimum(*(_unlike(looks, look, weigh) for look in usual))
    return closer


def _unlike(looks: Array, usual: Array, weigh: Array | None = None) -> Array:
    """(...) mean difference of looks (..., D, 3), apart from a common shade; weights (..., D)."""
    difference = looks - usual
    gain = np.clip(difference.mean(axis=(-2, -1), keepdims=True), -_GAIN, _GAIN)
    difference -= gain
    apart = _mean_of_colours(np.abs(difference, out=difference))
    mean: Array = np.average(apart, axis=-1, weights=weigh)
    return mean


def _mean_of_colours(looks: Array) -> Array:
    """(...) of (..., 3): NumPy sets out anew for each cell where it sums along an axis of three."""
    mean: Array = (looks[..., 0] + looks[..., 1] + looks[..., 2]) / 3
    return mean


def variety(looks: Array) -> Array:
    """(M,) log light: how unlike the depths of looks (M, D, 3) are to each other."""
    unlike: Array = np.abs(looks - looks.mean(axis=1, keepdims=True)).mean(axis=(1, 2))
    return unlike


def ends_there(outside: Array, usual: Looks, count: int) -> Array:
    """(...) how plainly the looks end: how unlike the light (..., B, 3) just outside is to the
    outermost `count` depths of the more alike of two usual looks.

    A face without a binding looks the same at every depth. Where its look ends, there is its rim.
    """
    mean = outside.mean(axis=-2)
    plainly: Array = np.minimum(
        *(_mean_of_colours(np.abs(mean - look[..., :count, :].mean(axis=-2))) for look in usual)
    )
    return plainly
