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

from profiler.geometry.curves import AIM_POINTS, heading, hermite_at, outward_normals
from profiler.optics.camera import Camera
from profiler.outline.heights import PartEdges
from profiler.outline.parts import Parts
from profiler.outline.rims import LOWER, UPPER, edge_z_at, lean_at
from profiler.outline.rounding import edge_radius, hidden_by_rounding
from profiler.outline.side_button import SIDE_BUTTON
from profiler.outline.turned import end_seen_further, seen_wider

Array = NDArray[np.float64]

#: points on either side of a jump from rim to rim on the body, where the rims are far apart
_JUMP_POINTS = 4
#: points that tell where an edge is heading, at most, beside what sticks out of it: the corner
#: between the two blurs the nearest, and a bend that is not there would go on under all of it
_AIM_BESIDE_OTHERS = 14


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
    directions: Array | None = None,
    rounder: float = 0.0,
) -> Array:
    """(N, 2) px to (N, 2) mm, mat frame, each at the height of its rim (its share of the way up).

    Points seen on the lower edge are carried along a leaning side to the upper one, and points on
    an upper edge over its rounding to where it is widest. `rounder`: by so many standard
    uncertainties its radius is larger than it usually is.
    Heights depend on the place and the place on the height; the slopes are small, so a few
    rounds settle it. `directions`: what the camera's lens makes of the pixels, where it is known.
    """
    if directions is None:
        directions = camera.lens.unproject(pixels)
    rays, centre = camera.turned_to_mat(directions), camera.centre
    aside = rays[:, :2] / rays[:, 2:]  # mm on the plan for one mm of height
    x0 = parts.frame.from_mat(centre[None, :2])[0, 0]
    along = parts.frame.turned_back(aside)[:, 0]
    z = np.zeros(len(pixels))
    for _ in range(4):
        upper, lower = edge_z_at(x0 + along * (z - centre[2]), parts, heights)
        z = lower + rim * (upper - lower)
    plan = centre[:2] + (z - centre[2])[:, None] * aside
    normals = outward_normals(plan, 5.0)
    slope = -(aside * normals).sum(axis=1)
    usual, u = edge_radius(parts, heights)
    edged = (rim == UPPER) & (usual > 0)
    widen = np.where(edged, (usual + rounder * u) * hidden_by_rounding(slope), 0.0)
    turned = parts.members("tuners")
    if "tuners" in heights:
        widen[turned] = -seen_wider(slope[turned], heights["tuners"].upright)
    for part in ("button", SIDE_BUTTON):
        button = parts.members(part)
        widen[button] = -end_seen_further(slope[button], rounder)
    leant = (1 - rim)[:, None] * lean_at(plan, parts, heights)
    upper_edge: Array = plan - leant + widen[:, None] * normals
    return upper_edge


def with_lean(
    upper_edge: Array,
    parts: Parts,
    heights: Mapping[str, PartEdges],
    outer: NDArray[np.bool_],
) -> Array:
    """The outer one of upper and lower edge at each point: what the vertical projection shows.

    Args:
        upper_edge: (N, 2) mm, mat frame, closed, anticlockwise, from `lift_points`.
        parts: split of the same points.
        heights: by part.
        outer: (N,) where the lower edge is the outer one, from `leans_out`. Where the two change
            places a hair of doubt would move a point by all that they are apart, so doubts are
            carried through with what was found without them.
    """
    lean = lean_at(upper_edge, parts, heights)
    both: Array = upper_edge + np.where(outer[:, None], lean, 0.0)
    return both


def leans_out(
    upper_edge: Array, parts: Parts, heights: Mapping[str, PartEdges]
) -> NDArray[np.bool_]:
    """(N,) where the lower edge is the outer one; arguments as of `with_lean`."""
    lean = lean_at(upper_edge, parts, heights)
    if not lean.any():
        return np.zeros(len(lean), dtype=bool)
    return np.asarray((outward_normals(upper_edge, 5.0) * lean).sum(axis=1) > 0)


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
    following = np.roll(kept, -1)
    chords = np.hypot(*(plan[following] - plan[kept]).T)
    same_part = labels[kept] == labels[following]  # parts meet in a corner
    same = (rim[kept] == rim[following]) & ((following - kept) % len(plan) <= 3)
    carried = same_part & ~same & (chords >= 1.5)
    carried[-1] &= closed
    pieces: list[Lifted] = []
    first = 0
    for i in np.flatnonzero(carried).tolist():
        pieces.append(_as_lifted(plan, kept[first : i + 1]))
        first = i + 1
        a, b = int(kept[i]), int(following[i])
        passed = (a + np.arange(1, (b - a) % len(plan))) % len(plan)
        beside_others = (labels[passed] != labels[a]).any()
        before, behind = (
            int(np.clip(run, AIM_POINTS, _AIM_BESIDE_OTHERS)) if beside_others else AIM_POINTS
            for run in (_run_from(kept, i, -1), _run_from(kept, (i + 1) % len(kept), +1))
        )
        leave = heading(plan, kept, i, -1, before)
        arrive = heading(plan, kept, (i + 1) % len(kept), +1, behind)
        count = int(chords[i])
        between = hermite_at(plan[a], plan[b], leave, arrive, np.arange(1, count + 1) / (count + 1))
        nearer = np.where(np.arange(count) < count / 2, a, b)
        pieces.append(Lifted(between, nearer, np.ones(count, dtype=bool)))
    pieces.append(_as_lifted(plan, kept[first:]))
    return Lifted(
        np.concatenate([piece.points for piece in pieces]),
        np.concatenate([piece.source for piece in pieces]),
        np.concatenate([piece.bridged for piece in pieces]),
    )


def _run_from(members: NDArray[np.intp], i: int, side: int) -> int:
    """How many members follow on each other from members[i] to one side, few looked at."""
    run = members[(i + side * np.arange(_AIM_BESIDE_OTHERS)) % len(members)]
    gaps = np.flatnonzero(np.diff(run) * side != 1)
    return int(gaps[0]) + 1 if len(gaps) else len(run)


def _as_lifted(plan: Array, members: NDArray[np.intp]) -> Lifted:
    return Lifted(plan[members], members, np.zeros(len(members), dtype=bool))
