"""Each photo's own outline among the others': what it is out by, what it cannot see or denies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from profiler.geometry.curves import outward_normals
from profiler.optics.camera import Camera
from profiler.outline.heights import PartEdges
from profiler.outline.lift import Lifted
from profiler.outline.merge import OwnOutline
from profiler.outline.parts import Parts
from profiler.outline.rims import edge_z
from profiler.outline.sight import Sight, Silhouetted
from profiler.scene.record import Scene

Array = NDArray[np.float64]
Heights = Mapping[str, PartEdges]

#: an edge is found a little differently in each photo, beyond what it says of itself, mm
EDGE_MM = 0.12
#: standard uncertainty of what was carried across, mm
_BRIDGED_MM = 0.25
#: where most of a stretch is not measured its edge may be anywhere near, mm; points on either side
#: that are looked at, and the share of them that may be missed
_MISSED_MM, _AROUND_POINTS, _FEW_MISSED = 2.0, 3.0, 0.3
#: a point this far inside another photo's silhouette cannot be seen on its edge, mm
_HIDDEN_MM = 1.0
#: what a photo cannot see and another shows stands out by this, mm; if it is the lower edge of a
#: wall, whose upper edge the first one shows, by so many times what its height leaves open besides:
#: backs are as broad as their tops, unless it is seen that they are not
_STANDS_OUT_MM, _BACK_STANDS_OUT = 0.5, 2.0
#: and one this far outside cannot be there at all
_DENIED_MM = 0.5
#: edge points lie about a millimetre apart: a longer step was not followed but crossed, mm
_STEP_MM = 2.5


def with_crossings(joined: Lifted) -> tuple[Lifted, NDArray[np.bool_]]:
    """The outline, points put into the long steps between its points, as carried across.

    Where parts are laid together a step may cut a corner that the photo did not show. Left without
    points of its own it would have the say of the well seen points at its ends.

    Returns:
        the outline, M points; (M,) which of them were put in.
    """
    points, n = joined.points, len(joined.points)
    step = np.roll(points, -1, axis=0) - points
    count = np.maximum(np.ceil(np.hypot(*step.T) / _STEP_MM).astype(int), 1)
    if (count == 1).all():
        return joined, np.zeros(n, dtype=bool)
    first = np.repeat(np.arange(n), count)
    share = (np.arange(len(first)) - np.repeat(np.cumsum(count) - count, count)) / count[first]
    nearer = np.where(share < 0.5, first, (first + 1) % n)
    crossed = share > 0
    plan = points[first] + share[:, None] * step[first]
    return Lifted(plan, joined.source[nearer], joined.bridged[first] | crossed), crossed


def own_outline(
    sights: Sequence[Sight],
    k: int,
    joined: Lifted,
    crossed: NDArray[np.bool_],
    scene: Scene,
    heights: Heights,
    height_shifts: Sequence[Array],
    silhouettes: Sequence[Silhouetted],
) -> OwnOutline:
    """One photo's outline with its doubts and with what the other photos say of each point.

    Args:
        sights: of all photos, in one rough frame.
        k: which of them.
        joined: its lifted parts laid together, M points.
        crossed: (M,) which of them only cross a long step.
        scene: solved.
        heights: by part.
        height_shifts: (M, 2) mm each, how heights would move it, one standard uncertainty.
        silhouettes: of all photos.
    """
    sight = sights[k]
    normals = outward_normals(joined.points, 3.0)
    edge = sight.edge.sigma[joined.source] + np.where(joined.bridged, _BRIDGED_MM, 0.0)
    # which rim it is stays out of a photo's say: where all are unsure of it, a lost edge would win
    missed = np.maximum(_missed(sight.edge.measured)[joined.source], 0.5 * joined.bridged)
    own = np.hypot(edge, EDGE_MM) + _MISSED_MM * missed
    by_height = np.zeros(len(own))
    for shift in height_shifts:
        by_height = by_height + (shift * normals).sum(axis=1) ** 2
    variance = own**2 + by_height
    parts = replace(sight.parts, labels=sight.parts.labels[joined.source])
    upper, lower = edge_z(joined.points, parts, heights)
    blind = np.zeros((len(joined.points), len(sights)), dtype=bool)
    denied = blind.copy()
    height = lower + sight.rim[joined.source] * (upper - lower)
    reach = _lowest_and_highest(joined.points, parts, heights)
    for j, other in enumerate(sights):
        if j == k:
            continue
        camera = scene.cameras[other.index]

        def depth(z: Array, camera: Camera = camera, shadow: Silhouetted = silhouettes[j]) -> Array:
            solid = np.column_stack([joined.points, z])
            return shadow.depth(camera.at_height(camera.project(solid), 0.0))

        # what only crosses a step shows nothing that another photo might have missed
        blind[:, j] = (depth(height) > _HIDDEN_MM) & ~crossed
        # whatever is there, from its lower edge to its upper one, that photo sees the mat
        denied[:, j] = np.max([depth(z) for z in reach], axis=0) < -_DENIED_MM
    back = (sight.rim[joined.source] < 0.5) & (parts.labels == "body")
    least_out = stands_out_from(back, np.sqrt(by_height))
    return OwnOutline(joined.points, np.sqrt(variance), own, blind, denied, least_out)


def stands_out_from(back: NDArray[np.bool_], by_height: Array) -> Array:
    """(N,) mm by which what another photo cannot see has to stand out of that photo's outline.

    Args:
        back: (N,) where it is the lower edge of a body's wall.
        by_height: (N,) mm, how far its height would move it, one standard uncertainty.
    """
    return np.asarray(_STANDS_OUT_MM + np.where(back, _BACK_STANDS_OUT * by_height, 0.0))


def _missed(measured: NDArray[np.bool_]) -> Array:
    """(N,) 0 where the edge is measured all round, to 1 where most of its neighbours are not."""
    share = gaussian_filter1d((~measured).astype(np.float64), _AROUND_POINTS, mode="wrap")
    missed: Array = np.clip((share - _FEW_MISSED) / (1 - _FEW_MISSED), 0.0, 1.0)
    return missed


def _lowest_and_highest(points: Array, parts: Parts, heights: Heights) -> tuple[Array, Array]:
    """(N,) mm each: between which heights what is at plan points (N, 2) lies, with all doubts."""
    x = parts.frame.from_mat(points)[:, 0]
    low, high = np.zeros(len(x)), np.zeros(len(x))
    for name, edges in heights.items():
        mine = parts.members(name)
        low[mine] = edges.lower.at(x[mine]) - 2 * edges.lower.u_at(x[mine])
        high[mine] = edges.upper.at(x[mine]) + 2 * edges.upper.u_at(x[mine])
    return np.maximum(low, 0.0), high
