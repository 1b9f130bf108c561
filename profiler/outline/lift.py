"""From where the edge is seen to where it is: each point lifted to its own height.

Where many heights fall on one place of the plan, or the place itself is hidden behind the rim,
the plan is carried across smoothly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from profiler.geometry.curves import hermite_at, outward_normals
from profiler.optics.camera import Camera
from profiler.outline.heights import PartEdges
from profiler.outline.parts import Parts
from profiler.outline.rims import LOWER, UPPER, edge_z, lean_at

Array = NDArray[np.float64]

#: points on either side of a jump from rim to rim on the body, where the rims are far apart
_JUMP_POINTS = 4


@dataclass(frozen=True)
class Lifted:
    """The plan outline before it is framed.

    Attributes:
        points: (M, 2) mm, mat frame, closed, anticlockwise.
        source: (M,) index of the edge point that each came from (the nearer end for bridges).
        bridged: (M,) True where the plan was carried across.
    """

    points: Array
    source: NDArray[np.intp]
    bridged: NDArray[np.bool_]


def lift_points(
    pixels: Array,
    camera: Camera,
    rim: Array,
    parts: Parts,
    heights: Mapping[str, PartEdges],
) -> Array:
    """(N, 2) px to (N, 2) mm, mat frame, each at the height of its rim (its share of the way up).

    Points seen on the lower edge are carried along a leaning side to the upper one.
    Heights depend on the place and the place on the height; the slopes are small, so a few
    rounds settle it.
    """
    rays = camera.rays(pixels)
    centre = camera.centre
    plan = centre[:2] - centre[2] / rays[:, 2:] * rays[:, :2]
    for _ in range(4):
        upper, lower = edge_z(plan, parts, heights)
        z = lower + rim * (upper - lower)
        plan = centre[:2] + ((z - centre[2]) / rays[:, 2])[:, None] * rays[:, :2]
    upper_edge: Array = plan - (1 - rim)[:, None] * lean_at(plan, parts, heights)
    return upper_edge


def with_lean(upper_edge: Array, parts: Parts, heights: Mapping[str, PartEdges]) -> Array:
    """The outer one of upper and lower edge at each point: what the vertical projection shows.

    Args:
        upper_edge: (N, 2) mm, mat frame, closed, anticlockwise, from `lift_points`.
        parts: split of the same points.
        heights: by part.
    """
    lean = lean_at(upper_edge, parts, heights)
    if not lean.any():
        return upper_edge
    outward = (outward_normals(upper_edge, 5.0) * lean).sum(axis=1) > 0
    outer: Array = upper_edge + np.where(outward[:, None], lean, 0.0)
    return outer


def bridge_runs(
    plan: Array, rim: Array, labels: NDArray[np.str_], members: NDArray[np.intp], closed: bool
) -> Lifted:
    """One curve from some of the lifted points, carried across where no rim is told.

    Args:
        plan: (N, 2) lifted points.
        rim: (N,) share of the way up, from `choose_rims`.
        labels: (N,) part of each point.
        members: (K,) the points wanted, in the curve's order.
        closed: whether the last is followed by the first.
    """
    told = (rim == UPPER) | (rim == LOWER)
    # at a jump from rim to rim the edge turns a corner that blurs its neighbours
    jump = (rim != np.roll(rim, 1)).astype(np.uint8)
    near = (jump > 0) | (np.roll(jump, -1) > 0)
    on_body = jump * (labels == "body").astype(np.uint8)
    near |= maximum_filter1d(on_body, 2 * _JUMP_POINTS + 1, mode="wrap") > 0
    kept = members[(told & ~near)[members]]
    if len(kept) < 8:
        kept = members
    points: list[Array] = []
    source: list[int] = []
    bridged: list[bool] = []
    for i, a in enumerate(kept):
        points.append(plan[a])
        source.append(int(a))
        bridged.append(False)
        if i == len(kept) - 1 and not closed:
            break
        b = kept[(i + 1) % len(kept)]
        same = rim[a] == rim[b] and labels[a] == labels[b] and (b - a) % len(plan) <= 3
        chord = float(np.hypot(*(plan[b] - plan[a])))
        if same or chord < 1.5 or labels[a] != labels[b]:
            continue  # parts meet in a corner
        leave = _direction(plan, kept, i, -1)
        arrive = _direction(plan, kept, (i + 1) % len(kept), +1)
        steps = np.arange(1, int(chord) + 1) / (int(chord) + 1)
        between = hermite_at(plan[a], plan[b], leave, arrive, steps)
        for k, p in enumerate(between):
            points.append(p)
            source.append(int(a if k < len(between) / 2 else b))
            bridged.append(True)
    return Lifted(np.array(points), np.array(source), np.array(bridged))


def _direction(plan: Array, kept: NDArray[np.intp], i: int, side: int) -> Array:
    """Unit direction of travel at kept[i], from the run on its far side."""
    run = kept[(i + side * np.arange(6)) % len(kept)]
    ends = plan[run]
    travel = (ends[-1] - ends[0]) * side
    unit: Array = travel / max(float(np.hypot(*travel)), 1e-9)
    return unit
