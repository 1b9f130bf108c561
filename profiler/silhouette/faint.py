"""Where the instrument has nearly the ground's own colour, so that its edge may be lost.

Maple on a warm tint, a blue top on a blue one: what is found there may as well be a string, the
grain or the shadow's border, and looks like any edge. So the two sides of the edge are compared.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import label, median_filter
from scipy.spatial import cKDTree

from profiler.geometry.curves import outward_normals
from profiler.silhouette.edge import Edge
from profiler.silhouette.ground import TINT, Lighting, Plan

Array = NDArray[np.float64]

#: how far on either side of the edge its light is compared, mm
_BESIDE_MM = np.arange(0.8, 3.3, 0.4)
#: mm: what lies so far in tells whether only a strip along the edge is faint, as a pale binding,
#: and differs from the ground by so much, log light
_BEHIND_MM, _PLAINLY_APART = np.arange(4.5, 8.1, 0.5), 0.4
#: log light, root mean square of the colours: sides that differ by less are nearly alike; a guess
#: between rendered ones
_NEARLY_ALIKE = 0.2
_DARK = 2e-3
#: mm: an edge is looked for so near where it was found, and lies within so much; log light: no
#: edge steps by less there
_NEAR_MM, _WITHIN_MM, _STEP = 1.5, 1.5, 0.35
#: log light over the lit tint's, beside the edge: only in such shade a border may be the shadow's
_SHADED = -0.7
#: mm: places beside an edge that have to be bare tint, and shorter stretches are passed over
_BARE_MM, _LEAST_MM = 3.0, 10.0
#: mm: so far in the edge that the shadow hides is looked for
_DEEP_MM = 25.0


def faintly_seen(plan: Plan, edge: Edge) -> NDArray[np.bool_]:
    """(N,) where the light on both sides of an edge is nearly the same.

    Args:
        plan: the photo laid flat.
        edge: N points.
    """
    return np.asarray(_apart(plan, edge, _BESIDE_MM) < _NEARLY_ALIKE)


def plain_behind(plan: Plan, edge: Edge) -> NDArray[np.bool_]:
    """(N,) where some mm in from an edge something is seen that is not of the ground's light.

    If the edge itself is faint there, a strip along it is, and no more than that can be lost.

    Args:
        plan: the photo laid flat.
        edge: N points.
    """
    return np.asarray(_apart(plan, edge, _BEHIND_MM) > _PLAINLY_APART)


def _apart(plan: Plan, edge: Edge, inward: Array) -> Array:
    """(N,) log light by which the ground beside an edge differs from what lies so far in, mm."""
    normals = outward_normals(edge.on_mat, 2.5)

    def seen(outward: Array) -> Array:
        places = edge.on_mat[:, None] + outward[:, None] * normals[:, None]
        light = np.log(np.maximum(plan.at(plan.light, places), _DARK))
        middle: Array = np.median(light, axis=1)
        return middle

    apart: Array = np.sqrt(((seen(-inward) - seen(_BESIDE_MM)) ** 2).mean(axis=1))
    return apart


def softly_bounded(plan: Plan, lighting: Lighting, edge: Edge) -> Array:
    """(N,) mm, how far in the sharpest step is where an edge in deep shade is sharp nowhere.

    It may be the shadow's border there; elsewhere 0.

    A glossy wall mirrors the mat and goes over into its own shadow; where it ends is not seen.

    Args:
        plan: the photo laid flat.
        lighting: of the ground.
        edge: N points.
    """
    normals = outward_normals(edge.on_mat, 2.5)

    def places(across: Array) -> Array:
        points: Array = edge.on_mat[:, None] + across[:, None] * normals[:, None]
        return points

    starts = np.arange(-_NEAR_MM - _WITHIN_MM / 2, _NEAR_MM - _WITHIN_MM / 2 + 0.1, 0.5)
    inner, outer = (
        np.log(np.maximum(plan.at(plan.light, places(starts + more)), _DARK))
        for more in (0.0, _WITHIN_MM)
    )
    soft = np.abs(outer - inner).mean(axis=2).max(axis=1) < _STEP
    bare = plan.at(plan.printed, places(np.arange(-_BARE_MM, _BARE_MM + 0.1))) == TINT
    outside = places(np.arange(1.0, 2.6, 0.5))
    light, lit = (np.maximum(plan.at(v, outside), _DARK) for v in (plan.light, lighting.lit))
    shade = np.log(light / lit).mean(axis=(1, 2))
    found = soft & bare.all(axis=1) & (shade < _SHADED)
    stretches = _long(median_filter(found, size=9, mode="wrap"), edge)
    depths = np.arange(0.0, _DEEP_MM, 0.5)
    within = np.log(np.maximum(plan.at(plan.light, places(-depths)), _DARK))
    over = round(_WITHIN_MM / 0.5)
    steps = np.abs(within[:, over:] - within[:, :-over]).mean(axis=2)
    return np.where(stretches, depths[np.argmax(steps, axis=1)] + _WITHIN_MM, 0.0)


def _long(found: NDArray[np.bool_], edge: Edge) -> NDArray[np.bool_]:
    """(N,) those of the stretches found that are long enough to say something."""
    if found.all() or not found.any():
        return found
    first = int(np.argmin(found))
    turned = np.roll(found, -first)
    steps = np.roll(np.hypot(*(np.roll(edge.on_mat, -1, axis=0) - edge.on_mat).T), -first)
    numbers, _ = label(turned)
    lengths = np.bincount(numbers, weights=steps)
    kept = edge.on_mat[np.roll(turned & (lengths[numbers] > _LEAST_MM), first)]
    if not len(kept):
        return np.zeros_like(found)
    # where such a stretch ends the edge is led astray as well
    away, _ = cKDTree(kept).query(edge.on_mat)
    return np.asarray(away < _LEAST_MM)
