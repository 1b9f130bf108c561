"""What an edge looks like on its inner side, and how unlike two such looks are.

Inside its rim an instrument looks the same for a good way along: binding, then top.
"""

from __future__ import annotations

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
    # short rows side by side in memory are sorted in a third of the time that medians across take
    flat = np.ascontiguousarray(looks[known].reshape(len(known), -1).T)
    sides = []
    for side in (np.arange(-NEIGHBOURS, 0), np.arange(NEIGHBOURS)):
        lined_up = np.sort(flat[:, (place[:, None] + side) % len(known)], axis=2)
        middle = lined_up[..., NEIGHBOURS // 2 - 1 : NEIGHBOURS // 2 + 1].mean(axis=2).T
        sides.append(middle[which].reshape(-1, *looks.shape[1:]))
    return sides[0], sides[1]


def unlike_either(looks: Array, usual: Looks, weigh: Array | None = None) -> Array:
    """(M,) how unlike looks (M, D, 3) are to the more alike of two usual ones."""
    closer: Array = np.minimum(*(_unlike(looks, look, weigh) for look in usual))
    return closer


def _unlike(looks: Array, usual: Array, weigh: Array | None = None) -> Array:
    """(M,) mean difference of looks (M, D, 3), apart from a common shade; weights (M, D)."""
    difference = looks - usual
    gain = np.clip(difference.mean(axis=(1, 2), keepdims=True), -_GAIN, _GAIN)
    apart = np.abs(difference - gain).mean(axis=2)
    mean: Array = np.average(apart, axis=1, weights=weigh)
    return mean


def ends_there(outside: Array, usual: Looks, count: int) -> Array:
    """(M,) how plainly the looks end: how unlike the light (M, B, 3) just outside is to the
    outermost `count` depths of the more alike of two usual looks.

    A face without a binding looks the same at every depth. Where its look ends, there is its rim.
    """
    mean = outside.mean(axis=1)
    plainly: Array = np.minimum(
        *(np.abs(mean - look[:, :count].mean(axis=1)).mean(axis=1) for look in usual)
    )
    return plainly
