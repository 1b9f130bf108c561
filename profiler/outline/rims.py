"""Which rim the silhouette is: the upper, the lower, or somewhere along the wall between.

Where the side wall faces away from the camera the silhouette is the upper rim; where the camera
looks at the wall from outside it is the lower rim. The sign of outward normal times (point minus
nadir) tells which, and a shift of height is a scaling about the nadir, which leaves normals as
they are. Two things spoil that simple rule. Seen along the wall, many heights fall on one place
of the plan. And a varnished wall seen at a grazing angle mirrors the mat, so that the lower rim
cannot be seen and the silhouette stays on the upper one.

So the rim is chosen for all points together: the plan must go on without a jump, and where the
camera looks at the wall, an upper rim must be seen inside a lower one. The cheapest choice over
the closed curve is found by dynamic programming (Viterbi 1967).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.curves import outward_normals
from profiler.optics.camera import Camera
from profiler.outline.heights import PartEdges
from profiler.outline.parts import Parts

Array = NDArray[np.float64]

#: share of the way from lower to upper rim that each choice stands for
LEVELS = np.linspace(0.0, 1.0, 17)
UPPER, LOWER = 1.0, 0.0
#: cosine between wall normal and line of sight below which the rim is not told by it
_ALONG_THE_WALL = 0.07
#: upper and lower rim nearer than this in the picture need not be told apart, mm
_SAME_RIM_MM = 0.35
#: what the photo shows tells a rim up to this and from that on; between them light and grain
#: differ along any edge, and which rim is usually seen says more
_UPPER_TO, _LOWER_FROM = 0.25, 0.75
#: a fretboard reaches over the body from this share of the way to the join (common practice, no
#: source). A rim is looked for as near to its place as this, mm and share of how far that is inside
#: the silhouette
_BOARD_FROM = 0.5
_BESIDE_MM, _BESIDE_SHARE = 4.0, 0.35
#: costs per point, and per mm that the plan jumps aside, back or ahead
_AGAINST_FACING = 1.0
_AGAINST_EVIDENCE = 0.8
#: a wall that mirrors the mat is less usual than one that is seen, and rare where it is low
_MIRRORED_BODY, _MIRRORED_ELSEWHERE = 0.05, 0.2
#: with so many points told on a part, the others are expected to be alike
_ENOUGH_TOLD, _SAME_VARNISH = 25, 0.1
#: part way between the rims: where the rim is not told, and where the silhouette crosses a wall
#: from one to the other
_PART_WAY, _ACROSS_THE_WALL = 0.02, 0.35
_ASIDE, _BACK, _AHEAD = 1.0, 1.0, 0.02
#: parts have heights of their own, so the plan may jump where they meet
_BETWEEN_PARTS = 0.05
#: points after which the second lap is compared with the first, and cost that is none
_LOOK_BACK, _SAME_COST = 50, 1e-9
#: points whose jumps are reckoned together: they fit into a processor's nearest memory
_AT_ONCE = 64


def edge_z(points: Array, parts: Parts, heights: Mapping[str, PartEdges]) -> tuple[Array, Array]:
    """(N,) upper and (N,) lower edge height at plan points (N, 2), mat frame."""
    return edge_z_at(parts.frame.from_mat(points)[:, 0], parts, heights)


def edge_z_at(x: Array, parts: Parts, heights: Mapping[str, PartEdges]) -> tuple[Array, Array]:
    """The same at places (N,) along the instrument."""
    upper, lower = np.zeros(len(x)), np.zeros(len(x))
    for name, edges in heights.items():
        mine = parts.members(name)
        at = _of_its_middle(x[mine], mine) if edges.each_level else x[mine]
        upper[mine] = z = edges.upper.at(at)
        lower[mine] = z if edges.lower is edges.upper else edges.lower.at(at)
    return upper, lower


def _of_its_middle(x: Array, members: NDArray[np.intp]) -> Array:
    """(K,) for each of some points the x of the middle of the run of points that it is in."""
    if not len(x):
        return x
    runs = np.split(x, np.flatnonzero(np.diff(members) != 1) + 1)
    return np.concatenate([np.full(len(run), (run.min() + run.max()) / 2) for run in runs])


def lean_at(points: Array, parts: Parts, heights: Mapping[str, PartEdges]) -> Array:
    """(N, 2) mm, mat frame: from upper to lower edge, at plan points (N, 2)."""
    x = parts.frame.from_mat(points)[:, 0]
    lean = np.zeros((len(points), 2))
    for name, edges in heights.items():
        if edges.lower is not edges.upper:
            mine = parts.members(name)
            lean[mine, 0] = edges.lean(x[mine])
    return parts.frame.turned(lean)


def upper_rim_if_lower(
    on_mat: Array, camera: Camera, parts: Parts, heights: Mapping[str, PartEdges]
) -> Array:
    """(N, 2) mm on the mat plane: where the upper rim above each point would be seen, if the
    silhouette there is the lower rim."""
    centre = camera.centre
    upper, lower = edge_z(on_mat, parts, heights)
    plan = centre[:2] + (1 - lower / centre[2])[:, None] * (on_mat - centre[:2])
    top = plan - lean_at(on_mat, parts, heights)
    seen: Array = centre[:2] + (top - centre[:2]) / (1 - upper / centre[2])[:, None]
    return seen


def near_the_board(
    on_mat: Array,
    places: Array,
    camera: Camera,
    parts: Parts,
    heights: Mapping[str, PartEdges],
) -> NDArray[np.bool_]:
    """(N,) whether a body's upper rim would lie so near to the fretboard that its edge passes for
    it.

    Args:
        on_mat: (N, 2) mm: the silhouette on the mat plane.
        places: (N, 2) mm, from `upper_rim_if_lower`.
        camera, parts, heights: as there.
    """
    centre = camera.centre
    upper, _ = edge_z(places, parts, heights)
    top = centre[:2] + (1 - upper / centre[2])[:, None] * (places - centre[:2])
    x, y = parts.frame.from_mat(top).T
    near = parts.board_half_width + _BESIDE_MM + _BESIDE_SHARE * np.hypot(*(places - on_mat).T)
    beside = (x > _BOARD_FROM * parts.join) & (x < parts.join) & (np.abs(y) < near)
    return np.asarray(beside & (parts.labels == "body"))


def surely_upper(
    on_mat: Array, camera: Camera, parts: Parts, heights: Mapping[str, PartEdges]
) -> NDArray[np.bool_]:
    """(N,) where the wall faces away from the camera, so that only its upper rim is seen."""
    facing, _ = _facing_and_gap(on_mat, camera, parts, heights)
    return np.asarray(facing > _ALONG_THE_WALL)


def choose_rims(
    on_mat: Array,
    camera: Camera,
    parts: Parts,
    heights: Mapping[str, PartEdges],
    lower_told: Array,
) -> Array:
    """(N,) share of the way up from lower to upper rim at each point of the silhouette.

    Args:
        on_mat: (N, 2) mm: the silhouette on the mat plane, closed, anticlockwise.
        camera: solved.
        parts: split of the same points.
        heights: by part.
        lower_told: (N,) from 0, surely the upper rim, to 1, surely the lower: what the photo
            shows inside it.
    """
    facing, gap = _facing_and_gap(on_mat, camera, parts, heights)
    unary = _unary(facing, gap, lower_told, _lean_to_lower(lower_told, parts))
    plans = _plans(on_mat, camera, parts, heights)
    steps = np.hypot(*(np.roll(on_mat, -1, axis=0) - on_mat).T)
    normals = outward_normals(on_mat, 6.0)
    travel = np.column_stack([-normals[:, 1], normals[:, 0]])
    same_part = parts.labels == np.roll(parts.labels, -1)
    level = _cheapest(unary, plans, travel, steps, same_part)
    chosen: Array = LEVELS[level]
    for name, edges in heights.items():
        if edges.lower is edges.upper:
            chosen[parts.members(name)] = UPPER
    return chosen


def _facing_and_gap(
    on_mat: Array, camera: Camera, parts: Parts, heights: Mapping[str, PartEdges]
) -> tuple[Array, Array]:
    normals = outward_normals(on_mat, 5.0)
    centre = camera.centre
    away = on_mat - centre[:2]
    distance = np.hypot(*away.T)
    upper, lower = edge_z(on_mat, parts, heights)
    # where a side leans, its lower edge stands aside, as if the camera were seen from elsewhere
    aside = lean_at(on_mat, parts, heights) * (centre[2] / np.maximum(upper - lower, 1))[:, None]
    facing = (normals * (away - aside)).sum(axis=1) / np.maximum(distance, 1.0)
    gap = np.maximum(upper - lower, 0.0) / (centre[2] - upper) * distance
    return facing, gap


def _lean_to_lower(told: Array, parts: Parts) -> Array:
    """(N,) cost of the upper rim rather than the lower, where the photo does not tell them apart.

    A varnish that mirrors in one place mirrors in the next.
    """
    lean = np.where(parts.labels == "body", _MIRRORED_BODY, _MIRRORED_ELSEWHERE)
    for part in np.unique(parts.labels):
        mine = parts.labels == part
        lower, upper = int((told[mine] > _LOWER_FROM).sum()), int((told[mine] < _UPPER_TO).sum())
        if lower + upper >= _ENOUGH_TOLD:
            lean[mine] = _SAME_VARNISH * (lower - upper) / (lower + upper)
    return lean


def _unary(facing: Array, gap: Array, seen: Array, lean: Array) -> Array:
    """(N, levels)."""
    away = facing > _ALONG_THE_WALL
    towards = facing < -_ALONG_THE_WALL
    cost = np.zeros((len(facing), len(LEVELS)))
    part_way = (LEVELS > 0) & (LEVELS < 1)
    cost[away] = _AGAINST_FACING * (1 - LEVELS)
    cost[towards] = np.where(part_way, _ACROSS_THE_WALL, 0.0)
    # not seeing the upper rim says little where it would be close to the lower one
    telling = np.clip(-facing * gap / 4.0, 0.2, 1.0)
    for_lower = np.clip((seen - _LOWER_FROM) / (1 - _LOWER_FROM), 0.0, 1.0)
    for_upper = np.clip((_UPPER_TO - seen) / _UPPER_TO, 0.0, 1.0) * telling
    cost[towards, -1] = np.maximum(lean[towards], 0.0) + _AGAINST_EVIDENCE * for_lower[towards]
    cost[towards, 0] = np.maximum(-lean[towards], 0.0) + _AGAINST_EVIDENCE * for_upper[towards]
    cost[~away & ~towards] = np.where(part_way, _PART_WAY, 0.0)
    cost[gap < _SAME_RIM_MM] *= 0.1
    return cost


def _plans(on_mat: Array, camera: Camera, parts: Parts, heights: Mapping[str, PartEdges]) -> Array:
    """(N, levels, 2) mm: the plan point for each choice."""
    centre = camera.centre
    upper, lower = edge_z(on_mat, parts, heights)
    z = lower[:, None] + LEVELS * (upper - lower)[:, None]
    share = 1 - z / centre[2]
    plans: Array = centre[:2] + share[..., None] * (on_mat - centre[:2])[:, None, :]
    # all choices are brought onto the upper edge, so that they can be compared
    plans -= (1 - LEVELS)[:, None] * lean_at(on_mat, parts, heights)[:, None, :]
    return plans


def _cheapest(
    unary: Array, plans: Array, travel: Array, steps: Array, same_part: NDArray[np.bool_]
) -> NDArray[np.intp]:
    n, levels = unary.shape
    after = np.roll(plans, -1, axis=0)
    pair = np.empty((n, levels, levels))
    for k in range(0, n, _AT_ONCE):
        some = slice(k, k + _AT_ONCE)
        pair[some] = _jumps(plans[some], after[some], travel[some], steps[some])
    pair *= np.where(same_part, 1.0, _BETWEEN_PARTS)[:, None, None]
    # twice round the closed curve; the second lap no longer knows where the first began. From where
    # it has come to the first lap's costs again, less what all choices share, it would repeat it
    totals = np.empty((2 * n, levels))
    totals[0] = unary[0]
    options = np.empty((levels, levels))
    for i in range(1, 2 * n):
        at = i % n
        np.add(pair[at - 1], totals[i - 1], out=options)
        np.add(np.minimum.reduce(options, axis=1), unary[at], out=totals[i])
        if i >= n and i % _LOOK_BACK == 0 and _same_apart_from_level(totals[i], totals[at]):
            totals[i + 1 :] = totals[at + 1 : n]
            break
    state = int(np.argmin(totals[-1]))
    path = np.zeros(2 * n, dtype=np.intp)
    half = n // 2
    # which way each state was come to is asked on the way back only, and of one state only
    for i in range(2 * n - 1, half - 1, -1):
        path[i] = state
        if i:
            state = int((pair[(i - 1) % n, state] + totals[i - 1]).argmin())
    chosen = path[half : half + n]
    return np.roll(chosen, half)


def _jumps(plans: Array, after: Array, travel: Array, steps: Array) -> Array:
    """(N, to, from) cost of what the plan jumps from each choice here to each at the next point."""
    # what is compared lies side by side in memory
    x, y = (after[:, :, None, k] - plans[:, None, :, k] for k in (0, 1))
    travel_x, travel_y = (travel[:, k, None, None] for k in (0, 1))
    along = x * travel_x + y * travel_y
    aside = np.abs(x * travel_y - y * travel_x)
    slack = np.minimum(steps, 2.0)[:, None, None]
    cost: Array = (
        # a jump ahead need not follow the edge's own direction: it crosses what is hidden
        _ASIDE * np.maximum(aside - 0.5 * slack - 0.7 * np.maximum(along, 0.0), 0.0)
        + _BACK * np.maximum(-along - 1.6 * slack, 0.0)
        + _AHEAD * np.maximum(along - 1.5 * slack, 0.0)
    )
    return cost


def _same_apart_from_level(one: Array, other: Array) -> bool:
    difference = one - other
    return float(np.ptp(difference)) < _SAME_COST
