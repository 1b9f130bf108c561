"""From where the edge is seen to where it is: each point lifted to its own height.

Where the side wall faces away from the camera the silhouette is the upper rim; where the camera
looks at the wall from outside it is the lower rim. The sign of outward normal times (point minus
nadir) tells which, and a shift of height is a scaling about the nadir, which leaves normals as
they are. Between the two, seen along the wall, many heights fall on one place of the plan (where
the outline bulges) or the place itself is hidden (where it is hollow): there the plan is carried
across smoothly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from profiler.geometry.curves import hermite, outward_normals
from profiler.optics.camera import Camera
from profiler.outline.heights import PartEdges
from profiler.outline.parts import Parts

Array = NDArray[np.float64]

#: cosine between wall normal and line of sight below which the rim is not told apart
_ALONG_THE_WALL = 0.07
#: upper and lower rim nearer than this in the picture need not be told apart, mm
_SAME_RIM_MM = 0.35
#: points dropped on either side of a jump from upper to lower rim
_JUMP_MARGIN = 2

UPPER, LOWER, BETWEEN = 1, -1, 0


@dataclass(frozen=True)
class Lifted:
    """The plan outline before it is framed.

    Attributes:
        points: (M, 2) mm, mat frame, closed, anticlockwise.
        source: (M,) index of the edge point that each came from (the nearer end for bridges).
        bridged: (M,) True where the plan was carried across.
        rim: (N,) UPPER, LOWER or BETWEEN for each edge point.
    """

    points: Array
    source: NDArray[np.intp]
    bridged: NDArray[np.bool_]
    rim: NDArray[np.int8]


def which_rim(
    on_mat: Array, camera: Camera, parts: Parts, heights: Mapping[str, PartEdges]
) -> NDArray[np.int8]:
    """(N,) which rim the silhouette is at each point.

    Args:
        on_mat: (N, 2) mm: the silhouette on the mat plane, closed, anticlockwise.
        camera: solved.
        parts: split of the same points.
        heights: by part.
    """
    normals = outward_normals(on_mat, 5.0)
    centre = camera.centre
    away = on_mat - centre[:2]
    distance = np.hypot(*away.T)
    facing = (normals * away).sum(axis=1) / np.maximum(distance, 1.0)
    upper, lower = _edge_z(on_mat, parts, heights)
    gap = np.maximum(upper - lower, 0.0) / centre[2] * distance
    sign = np.where(facing >= 0, UPPER, LOWER)
    sign = np.where((np.abs(facing) < _ALONG_THE_WALL) & (gap > _SAME_RIM_MM), BETWEEN, sign)
    rim: NDArray[np.int8] = median_filter(sign, size=7, mode="wrap").astype(np.int8)
    jump = (rim * np.roll(rim, -1) < 0) & (gap > _SAME_RIM_MM)
    for k in range(-_JUMP_MARGIN + 1, _JUMP_MARGIN + 1):
        rim[np.roll(jump, k)] = BETWEEN
    return rim


def _edge_z(points: Array, parts: Parts, heights: Mapping[str, PartEdges]) -> tuple[Array, Array]:
    x = parts.frame.from_mat(points)[:, 0]
    upper, lower = np.zeros(len(points)), np.zeros(len(points))
    for name, edges in heights.items():
        mine = parts.labels == name
        upper[mine] = edges.upper.at(x[mine])
        lower[mine] = edges.lower.at(x[mine])
    return upper, lower


def rim_height(
    points: Array, rim: NDArray[np.int8], parts: Parts, heights: Mapping[str, PartEdges]
) -> Array:
    """(N,) mm: height of the seen edge at plan points (N, 2), mat frame."""
    upper, lower = _edge_z(points, parts, heights)
    chosen: Array = np.where(
        rim == LOWER, lower, np.where(rim == UPPER, upper, (upper + lower) / 2)
    )
    return chosen


def lift_points(
    pixels: Array,
    camera: Camera,
    rim: NDArray[np.int8],
    parts: Parts,
    heights: Mapping[str, PartEdges],
) -> Array:
    """(N, 2) px to (N, 2) mm, mat frame, each at the height of its rim.

    Heights depend on the place and the place on the height; the slopes are small, so a few
    rounds settle it.
    """
    rays = camera.rays(pixels)
    centre = camera.centre
    plan = centre[:2] - centre[2] / rays[:, 2:] * rays[:, :2]
    for _ in range(4):
        z = rim_height(plan, rim, parts, heights)
        plan = centre[:2] + ((z - centre[2]) / rays[:, 2])[:, None] * rays[:, :2]
    lifted: Array = plan
    return lifted


def join_runs(plan: Array, rim: NDArray[np.int8], labels: NDArray[np.str_]) -> Lifted:
    """One closed curve from the lifted points, carried across where no rim is told.

    Args:
        plan: (N, 2) lifted points.
        rim: (N,).
        labels: (N,) part of each point.
    """
    kept = np.flatnonzero(rim != BETWEEN)
    if len(kept) < 8:
        kept = np.arange(len(plan))
    points: list[Array] = []
    source: list[int] = []
    bridged: list[bool] = []
    for i, a in enumerate(kept):
        b = kept[(i + 1) % len(kept)]
        points.append(plan[a])
        source.append(int(a))
        bridged.append(False)
        same = rim[a] == rim[b] and labels[a] == labels[b] and (b - a) % len(plan) <= 3
        chord = float(np.hypot(*(plan[b] - plan[a])))
        if same or chord < 1.5:
            continue
        leave = _direction(plan, kept, i, -1)
        arrive = _direction(plan, kept, (i + 1) % len(kept), +1)
        if labels[a] != labels[b]:
            continue  # parts meet in a corner
        between = hermite(plan[a], plan[b], leave, arrive, 1.0)
        for k, p in enumerate(between):
            points.append(p)
            source.append(int(a if k < len(between) / 2 else b))
            bridged.append(True)
    return Lifted(np.array(points), np.array(source), np.array(bridged), rim)


def _direction(plan: Array, kept: NDArray[np.intp], i: int, side: int) -> Array:
    """Unit direction of travel at kept[i], from the run on its far side."""
    run = kept[(i + side * np.arange(6)) % len(kept)]
    ends = plan[run]
    travel = (ends[-1] - ends[0]) * side
    unit: Array = travel / max(float(np.hypot(*travel)), 1e-9)
    return unit
