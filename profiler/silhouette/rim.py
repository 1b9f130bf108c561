"""Does the silhouette look like the upper rim of the instrument?

Inside its upper rim an instrument looks the same for a good way along: binding, then top. Where
the camera surely sees the upper rim, that look is learnt from the photo itself. Elsewhere the look
just inside the silhouette is compared with it, and so is the look at the place where the upper rim
would be if the silhouette were the lower one, with the side wall between.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from profiler.geometry.curves import outward_normals
from profiler.optics.camera import Camera
from profiler.optics.light import sample_linear
from profiler.silhouette.edge import Edge, across

Array = NDArray[np.float64]

#: how deep inside the rim the look reaches, and in which steps, mm
_FROM_MM, _TO_MM, _STEP_MM = 0.4, 4.0, 0.2
#: how far the other rim may be from where the heights put it, mm
_SLACK_MM = 1.6
#: nearer than this the two rims' looks overlap, mm
_LEAST_APART_MM = 1.5
#: points on either side whose look is expected
_NEIGHBOURS = 20
#: log light: the wall's shadow or a burst may shade the look as a whole by this much
_GAIN = 0.4
#: log light: looks that differ by less are not told apart
_LEAST_DIFFERENCE = 0.12
_DARK = 0.01
#: told so clearly that it teaches others
_SURE = 0.85


def lower_rim_told(
    photo: NDArray[np.uint8],
    camera: Camera,
    edge: Edge,
    places: Array,
    sure: NDArray[np.bool_],
    labels: NDArray[np.str_],
) -> Array:
    """How clearly the silhouette is the lower rim.

    Args:
        photo: (H, W, 3) 8 bit BGR.
        camera: solved.
        edge: traced.
        places: (N, 2) mm on the mat plane: where the upper rim would be seen, if the silhouette
            is the lower one.
        sure: (N,) where the silhouette is the upper rim without doubt.
        labels: (N,) part of each point; parts look different.

    Returns:
        (N,) 0 for surely the upper rim, 1 for surely the lower one, 0.5 for not told.
    """
    told = np.full(len(sure), 0.5)
    normals = outward_normals(edge.on_mat, 2.5)
    inside = -((places - edge.on_mat) * normals).sum(axis=1)
    depth = np.arange(_FROM_MM, _TO_MM, _STEP_MM)
    reach = np.arange(_FROM_MM - _SLACK_MM, _TO_MM + _SLACK_MM, _STEP_MM)
    here = _look(photo, camera, edge.on_mat, normals, depth)
    for part in np.unique(labels):
        known = np.flatnonzero(sure & edge.measured & (labels == part))
        asked = np.flatnonzero(~sure & (labels == part) & (inside > _LEAST_APART_MM))
        if len(known) < _NEIGHBOURS or len(asked) == 0:
            continue
        usual = _usual_look(here, known, asked)
        itself = _usual_look(here, known, known)
        spread = float(np.median(_unlike(here[known], itself)))
        there = _look(photo, camera, places[asked], normals[asked], reach)
        windows = np.lib.stride_tricks.sliding_window_view(there, len(depth), axis=1)
        as_lower = np.min(
            [_unlike(np.moveaxis(windows[:, k], 2, 1), usual) for k in range(windows.shape[1])],
            axis=0,
        )
        as_upper = _unlike(here[asked], usual)
        difference = median_filter(as_upper - as_lower, size=9, mode="nearest")
        tell = 2 * max(spread, _LEAST_DIFFERENCE)
        plainly = np.clip(0.5 + difference / (2 * tell), 0.0, 1.0)
        told[asked] = _by_the_wall(here[asked], plainly, usual, as_upper, tell)
    return told


def _by_the_wall(here: Array, told: Array, usual: Array, as_upper: Array, tell: float) -> Array:
    """(M,) told again, where the rims' looks are too alike, by the look of the wall itself.

    On a black headstock the place of the upper rim looks the same whether it is one or not. But
    where the lower rim was told, the look inside it is the wall's, and elsewhere that is either
    seen or not.
    """
    wall = np.flatnonzero(told > _SURE)
    open_ = np.flatnonzero((told > 1 - _SURE) & (told < _SURE))
    if len(wall) < _NEIGHBOURS // 2 or len(open_) == 0:
        return told
    walls = _usual_look(here, wall, open_)
    like_wall, apart = _unlike(here[open_], walls), _unlike(usual[open_], walls)
    difference = median_filter(as_upper[open_] - like_wall, size=9, mode="nearest")
    again = told.copy()
    again[open_] = np.where(
        apart > tell, np.clip(0.5 + difference / (2 * tell), 0.0, 1.0), told[open_]
    )
    return again


def _look(
    photo: NDArray[np.uint8], camera: Camera, places: Array, normals: Array, depth: Array
) -> Array:
    """(N, D, 3) log light at depths (D,) mm inward from places (N, 2) on the mat plane."""
    pixels, per_mm, _ = across(camera, places, normals)
    at = pixels[:, None, :] - depth[None, :, None] * per_mm[:, None, :]
    return np.asarray(np.log(sample_linear(photo, at) + _DARK), dtype=np.float64)


def _usual_look(looks: Array, known: NDArray[np.intp], asked: NDArray[np.intp]) -> Array:
    """(M, D, 3) the middle look of the nearest known points on either side of each asked one."""
    place, which = np.unique(np.searchsorted(known, asked), return_inverse=True)
    around = (place[:, None] + np.arange(-_NEIGHBOURS, _NEIGHBOURS)) % len(known)
    middle: Array = np.median(looks[known[around]], axis=1)
    return middle[which]


def _unlike(looks: Array, usual: Array) -> Array:
    """(M,) mean difference of looks (M, D, 3), apart from a common shade."""
    difference = looks - usual
    gain = np.clip(difference.mean(axis=(1, 2), keepdims=True), -_GAIN, _GAIN)
    apart: Array = np.abs(difference - gain).mean(axis=(1, 2))
    return apart
