"""What the other photos say about which rim one photo shows.

Where a wall may be seen, one photo alone has to tell by its look whether the silhouette is the
upper rim or the lower one. Another photo that looks at the same wall from the other side shows its
upper rim without doubt: the choice that brings the two together is the right one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from profiler.geometry.curves import outward_normals
from profiler.outline.heights import PartEdges
from profiler.outline.lift import lift_points
from profiler.outline.rims import LOWER, UPPER, choose_rims, surely_upper
from profiler.outline.sight import Sight
from profiler.scene.record import Scene

Array = NDArray[np.float64]

#: a sure rim further away than this from both choices says nothing, mm
_REACH_MM = 2.5
#: and so do two choices that lie nearer to each other than this, mm
_LEAST_APART_MM = 0.5
#: how well two photos' edges agree where the choice is right, mm
_AGREE_MM = 0.3
#: cosine between the normals of an edge and of the one it is compared with
_SAME_WAY = 0.9


def with_witness(
    sights: Sequence[Sight], scene: Scene, heights: Mapping[str, PartEdges]
) -> list[Sight]:
    """The sights with their rims chosen anew, knowing what the others surely see.

    Args:
        sights: of all photos, in one rough frame.
        scene: solved.
        heights: by part.
    """
    sights = [
        replace(s, sure=surely_upper(s.edge.on_mat, scene.cameras[s.index], s.parts, heights))
        for s in sights
    ]
    sure_points, sure_normals, owner, part = _sure(sights, scene, heights)
    out = []
    for sight in sights:
        camera = scene.cameras[sight.index]
        others = owner != sight.index
        told = sight.told.copy()
        choices = [
            lift_points(sight.edge.pixels, camera, np.full(len(told), level), sight.parts, heights)
            for level in (LOWER, UPPER)
        ]
        normals = outward_normals(sight.edge.on_mat, 3.0)
        for name in np.unique(sight.parts.labels):
            asked = np.flatnonzero(~sight.sure & (sight.parts.labels == name))
            known = np.flatnonzero(others & (part == name))
            if len(asked) == 0 or len(known) < 5:
                continue
            off = [
                _off(choice[asked], normals[asked], sure_points[known], sure_normals[known])
                for choice in choices
            ]
            apart = np.abs(((choices[1][asked] - choices[0][asked]) * normals[asked]).sum(axis=1))
            says = (np.minimum(*off) < _REACH_MM) & (apart > _LEAST_APART_MM)
            lean = np.clip((off[1] ** 2 - off[0] ** 2) / (2 * _AGREE_MM**2), -8.0, 8.0)
            told[asked[says]] = 1 / (1 + np.exp(-lean[says]))
        rim = choose_rims(sight.edge.on_mat, camera, sight.parts, heights, told)
        out.append(replace(sight, told=told, rim=rim))
    return out


def _sure(
    sights: Sequence[Sight], scene: Scene, heights: Mapping[str, PartEdges]
) -> tuple[Array, Array, NDArray[np.intp], NDArray[np.str_]]:
    """Points, normals, photo and part of all that is surely the upper rim and was measured."""
    points, normals, owner, part = [], [], [], []
    for sight in sights:
        use = sight.sure & sight.edge.measured & (sight.rim == UPPER)
        curve = sight.upper_edge(scene.cameras[sight.index], heights)
        points.append(curve[use])
        normals.append(outward_normals(curve, 3.0)[use])
        owner.append(np.full(int(use.sum()), sight.index))
        part.append(sight.parts.labels[use])
    return np.vstack(points), np.vstack(normals), np.concatenate(owner), np.concatenate(part)


def _off(points: Array, normals: Array, sure: Array, sure_normals: Array) -> Array:
    """(N,) mm across the edge from points to the nearest sure rim; large where none is near."""
    distance, nearest = cKDTree(sure).query(points)
    across = np.abs(((points - sure[nearest]) * sure_normals[nearest]).sum(axis=1))
    alike = (normals * sure_normals[nearest]).sum(axis=1) > _SAME_WAY
    off: Array = np.where(alike & (distance < 2 * _REACH_MM), across, 10 * _REACH_MM)
    return off
