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

from profiler.cores import on_cores
from profiler.geometry.curves import outward_normals
from profiler.optics.camera import Camera
from profiler.silhouette.edge import Edge
from profiler.silhouette.looks import (
    NEIGHBOURS,
    Looks,
    ends_there,
    look_inward,
    unlike_either,
    usual_looks,
    variety,
)

Array = NDArray[np.float64]

#: how deep inside the rim the look reaches, and in which steps, mm
_FROM_MM, _TO_MM, _STEP_MM = 0.4, 4.0, 0.2
#: how far the other rim may be from where the heights put it, mm, and as a share of how far that
#: is inside the silhouette
_SLACK_MM, _SLACK = 1.6, 0.6
#: and how far it usually is
_OFF_MM, _OFF = 0.3, 0.25
#: nearer than this the two rims' looks cannot be told apart, mm
_LEAST_APART_MM = 0.8
#: how far beyond the other rim the look is compared, mm
_BEYOND_MM = 1.0
#: how far outside a rim something else is seen, mm, and the depths it is compared with
_OUTSIDE_MM, _OUTERMOST = (0.4, 1.0), 3
#: log light: looks that differ by less are not told apart
_LEAST_DIFFERENCE = 0.12
#: the camera that looks at a wall sees the side of a binding too, outside the look of its face: so
#: broad at most, mm and as a share of how far inside the other rim would be (bindings are up to
#: 7 mm high on walls of 60 to 110: common practice, no source)
_BINDING_MM, _BINDING_SHARE = 3.0, 0.1
#: walls face alike, and so stand in the same light, by this cosine
_ALIKE_FACING = 0.9
#: what lies beside bare tint shows the rim's look, if so much of the edge does
_PLAIN_SHARE = 0.5
#: as unlike as so many times what tells two looks apart, it is neither
_STRANGE = 2.0
#: log light: hues that differ by more, and by so many times what they usually do, are of another
#: colour; but not where more than this share would be left out
_OTHER_HUE, _OTHER_TIMES, _MOST_LIKE = 0.25, 3.0, 0.75
#: told so clearly that it teaches others
_SURE = 0.85


def _depths() -> Array:
    """(D,) mm inside the rim at which the look is taken."""
    return np.arange(_FROM_MM, _TO_MM, _STEP_MM)


def look_inside(photo: NDArray[np.uint8], camera: Camera, edge: Edge) -> Array:
    """(N, E, 3) log light inside the silhouette: a rim's look at its `_depths`, and deeper by a
    binding's side. It stays as it is however the rims are told."""
    normals = outward_normals(edge.on_mat, 2.5)
    deeper = np.arange(_FROM_MM, _TO_MM + _BINDING_MM, _STEP_MM)
    return look_inward(photo, camera, edge.on_mat, normals, deeper)


def lower_rim_told(
    photo: NDArray[np.uint8],
    camera: Camera,
    edge: Edge,
    places: Array,
    sure: NDArray[np.bool_],
    labels: NDArray[np.str_],
    inside_seen: Array | None = None,
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
        inside_seen: what `look_inside` gives, where it is known.

    Returns:
        (N,) 0 for surely the upper rim, 1 for surely the lower one, 0.5 for not told.
    """
    told = np.full(len(sure), 0.5)
    normals = outward_normals(edge.on_mat, 2.5)
    inside = -((places - edge.on_mat) * normals).sum(axis=1)
    depth = _depths()
    # so far outside a rim something else is seen
    outside = round((_FROM_MM + _OUTSIDE_MM[1]) / _STEP_MM)
    thick = outside - round((_FROM_MM + _OUTSIDE_MM[0]) / _STEP_MM) + 1
    reach = np.arange(_FROM_MM - _SLACK_MM - outside * _STEP_MM, _TO_MM + _SLACK_MM, _STEP_MM)
    deeper = look_inside(photo, camera, edge) if inside_seen is None else inside_seen
    here = deeper[:, : len(depth)]

    def tell_part(part: str) -> None:
        known = np.flatnonzero(sure & edge.measured & (labels == part))
        if edge.plain is not None:
            known = _without_mirrored(here, known, edge.plain[known])
        if part == "body":
            known = _of_one_colour(here, known)
        asked = np.flatnonzero(~sure & (labels == part) & (inside > _LEAST_APART_MM))
        if len(known) < NEIGHBOURS or len(asked) == 0:
            return
        usual = usual_looks(here, known, asked)
        itself = usual_looks(here, known, known)
        spread = float(np.median(unlike_either(here[known], itself)))
        tell = 2 * max(spread, _LEAST_DIFFERENCE)
        around = look_inward(photo, camera, places[asked], normals[asked], reach)
        there = around[:, outside:]
        beside = np.lib.stride_tricks.sliding_window_view(around, thick, axis=1)
        windows = np.lib.stride_tricks.sliding_window_view(there, len(depth), axis=1)
        shifts = np.abs(np.arange(windows.shape[1]) * _STEP_MM - _SLACK_MM)
        # what lies deeper looks alike whichever rim it is
        weigh = (depth < np.maximum(inside[asked], _LEAST_APART_MM)[:, None] + _BEYOND_MM) * 1.0
        as_lower = np.full(len(asked), np.inf)
        for k, shift in enumerate(shifts):
            near = shift <= _SLACK * inside[asked] + _STEP_MM / 2
            unlike = unlike_either(
                np.moveaxis(windows[near, k], 2, 1), (usual[0][near], usual[1][near]), weigh[near]
            )
            # a black face looks the same at every depth: its rim is where that look ends
            ends = ends_there(
                np.moveaxis(beside[near, k], 2, 1), (usual[0][near], usual[1][near]), _OUTERMOST
            )
            usual_shift = _OFF_MM + _OFF * inside[asked[near]]
            unlike = unlike + np.maximum(tell - ends, 0.0) + tell / 2 * (shift / usual_shift) ** 2
            as_lower[near] = np.minimum(as_lower[near], unlike)
        as_upper = unlike_either(here[asked], usual, weigh)
        side = np.minimum(_BINDING_SHARE * inside[asked], _BINDING_MM)
        for k in range(1, deeper.shape[1] - len(depth) + 1):
            broad = side >= k * _STEP_MM
            if not broad.any():
                break
            unlike = unlike_either(
                deeper[asked[broad], k : k + len(depth)],
                (usual[0][broad], usual[1][broad]),
                weigh[broad],
            )
            unlike = unlike + tell / 2 * (k * _STEP_MM / side[broad]) ** 2
            as_upper[broad] = np.minimum(as_upper[broad], unlike)
        difference = median_filter(as_upper - as_lower, size=9, mode="nearest")
        # where it looks like neither, which of them is less unlike says little
        strange = np.maximum(np.minimum(as_upper, as_lower) / (_STRANGE * tell), 1.0)
        plainly = np.clip(0.5 + difference / (2 * tell * strange), 0.0, 1.0)
        # a face that is one colour up to its rim may go on so down the wall: that it is seen tells
        # nothing of the rim
        telling = np.clip(np.maximum(*(variety(look) for look in usual)) / tell, 0.0, 1.0)
        plainly = np.where(plainly < 0.5, 0.5 - telling * (0.5 - plainly), plainly)
        told[asked] = _by_the_wall(here[asked], plainly, usual, as_upper, tell, normals[asked])

    on_cores(tell_part, np.unique(labels))
    return told


def _without_mirrored(
    here: Array, known: NDArray[np.intp], plain: NDArray[np.bool_]
) -> NDArray[np.intp]:
    """Points (K,) of an edge that show the rim's look; `plain`: which of them lie beside bare tint.

    Over print lies, too, what a wall mirrors of it. That is no rim, and looks like none that is
    seen elsewhere.
    """
    if plain.all() or plain.sum() < max(NEIGHBOURS, _PLAIN_SHARE * len(known)):
        return known
    off = unlike_either(here[known], usual_looks(here, known[plain], known))
    most = _STRANGE * max(float(np.median(off[plain])), _LEAST_DIFFERENCE)
    return known[plain | (off < most)]


def _of_one_colour(here: Array, known: NDArray[np.intp]) -> NDArray[np.intp]:
    """Points (K,) of an edge without the few of quite another colour than the others: there the
    silhouette left the rim unnoticed, for a wall that mirrors bare tint or for a shadow."""
    if len(known) < NEIGHBOURS:
        return known
    hue = here[known] - here[known].mean(axis=2, keepdims=True)
    off = np.sqrt(((hue - np.median(hue, axis=0)) ** 2).mean(axis=(1, 2)))
    like = off < max(_OTHER_HUE, _OTHER_TIMES * float(np.median(off)))
    return known[like] if like.mean() > _MOST_LIKE else known


def _by_the_wall(
    here: Array, told: Array, usual: Looks, as_upper: Array, tell: float, normals: Array
) -> Array:
    """(M,) told again, where the rims' looks are too alike, by the look of the wall itself.

    On a black headstock the place of the upper rim looks the same whether it is one or not. But
    where the lower rim was told, the look inside it is the wall's, and elsewhere that is either
    seen or not.
    """
    wall = np.flatnonzero(told > _SURE)
    open_ = np.flatnonzero((told > 1 - _SURE) & (told < _SURE))
    if len(wall) < NEIGHBOURS // 2 or len(open_) == 0:
        return told
    walls = usual_looks(here, wall, open_)
    like_wall = unlike_either(here[open_], walls)
    apart = np.minimum(*(unlike_either(look[open_], walls) for look in usual))
    difference = median_filter(as_upper[open_] - like_wall, size=9, mode="nearest")
    again = told.copy()
    by_wall = np.clip(0.5 + difference / (2 * tell), 0.0, 1.0)
    # a wall that faces elsewhere stands in other light: that it is not seen says nothing
    alike = (normals[open_] @ normals[wall].T > _ALIKE_FACING).sum(axis=1) >= NEIGHBOURS // 2
    says = (apart > tell) & (alike | (by_wall > told[open_]))
    again[open_] = np.where(says, by_wall, told[open_])
    return again
