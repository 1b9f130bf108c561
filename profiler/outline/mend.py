"""Stretches where the silhouette does not show the rim, mended by seeking the rim itself.

Good stretches, where an edge was measured beside bare tint and its rim is told, are trusted. What
lies between two of them is expected to go on smoothly in the plan; along the way the rim is
sought in the photo by its look. Where it is found, it stands in for the silhouette.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_opening, gaussian_filter1d, median_filter
from scipy.spatial import cKDTree
from shapely import LineString, distance, points

from profiler.geometry.curves import hermite_at
from profiler.optics.camera import Camera
from profiler.outline.heights import PartEdges
from profiler.outline.lift import lift_points
from profiler.outline.parts import Parts
from profiler.outline.rims import LOWER, UPPER
from profiler.silhouette.edge import Edge
from profiler.silhouette.looks import NEIGHBOURS, look_inward, unlike_either, usual_looks
from profiler.silhouette.seek import DEPTHS_MM, LOOK_U_MM, seek_rim

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

#: parts that have a rim of one look
_RIMMED = ("body", "headstock")
#: told so clearly that the silhouette is trusted to be the lower rim
_TOLD = 0.85
#: shorter runs of good points are chance
_GOOD_RUN = 7
#: shorter stretches are carried across, longer ones cannot be expected to go on smoothly, mm
_SHORTEST_MM, _LONGEST_MM = 3.0, 140.0
#: the rim is sought so far from where it is expected: mm, and as a share of the stretch
_REACH_MM, _REACH_SHARE, _FARTHEST_MM = 1.5, 0.12, 8.0
#: a stretch is mended if so much of it is found, and it differs from what was there, mm
_FOUND_SHARE, _DIFFERS_MM = {"body": 0.6, "headstock": 0.85}, 0.4
#: standard uncertainty of places where nothing was found between others that were, mm
_BETWEEN_U_MM = 0.6
_LEAST_SPREAD = 0.02
#: in a stretch no longer than this, what stands out of the rim this far is a strap button, mm
_KNOB_MM, _STICKS_OUT_MM = 25.0, 1.0
#: a strap button is within so much of the tail's middle, mm
_TAIL_MM = 20.0
#: what was seen goes on from where the rim is no longer found, if it is as near as this, mm
_GOES_ON_MM = 1.5
#: as unlike its neighbours as this, in times the usual: not the rim
_STRANGE = 3.0
#: points of a part beside another part that are worth a look
_LEAST_OPEN = 3
#: trusted points that a smoothed stretch leans on
_MARGIN = 12
#: trusted points whose curve is carried on, how far as a share of them, and past the end, mm
_CURVE_POINTS, _CURVE_SHARE, _PAST_END_MM = 30, 1.2, 4.0


@dataclass(frozen=True)
class Rimmed:
    """An edge with what is told of it, point by point.

    Attributes:
        edge: N points.
        parts: split of them.
        told, sure, rim: (N,) as in `Sight`.
    """

    edge: Edge
    parts: Parts
    told: Array
    sure: NDArray[np.bool_]
    rim: Array


def mended(
    photo: NDArray[np.uint8], camera: Camera, seen: Rimmed, heights: Mapping[str, PartEdges]
) -> Rimmed:
    """The edge, its rim sought where it is not shown.

    Args:
        photo: (H, W, 3) 8 bit BGR.
        camera: solved.
        seen: the silhouette's edge.
        heights: by part.
    """
    plan = lift_points(seen.edge.pixels, camera, seen.rim, seen.parts, heights)
    good = _good(seen)
    stretches: list[_Stretch] = []
    for part in _RIMMED:
        stretches += _sought(photo, camera, seen, heights, plan, good, part)
    return _spliced(seen, camera, stretches) if stretches else seen


@dataclass(frozen=True)
class _Stretch:
    """What stands in for the edge's points after index `first` and before index `last`."""

    first: int
    last: int
    part: str
    on_mat: Array
    measured: NDArray[np.bool_]
    sigma: Array


def _good(seen: Rimmed) -> NDArray[np.bool_]:
    edge = seen.edge
    good = edge.measured & (
        (seen.sure & (seen.rim == UPPER)) | ((seen.rim == LOWER) & (seen.told > _TOLD))
    )
    if edge.plain is not None:
        good &= edge.plain
    if edge.drawn is not None:
        good &= ~edge.drawn
    return _runs_of(good)


def _runs_of(good: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(N,) without runs that are short enough to be chance, round the closed curve."""
    n = len(good)
    lapped = binary_opening(np.concatenate([good, good, good]), np.ones(_GOOD_RUN))
    return np.asarray(lapped[n : 2 * n], dtype=bool)


def _kept(known: Indices, looks: Array, good: NDArray[np.bool_]) -> tuple[Indices, Array]:
    use = good[known]
    return known[use], looks[use]


def _sought(
    photo: NDArray[np.uint8],
    camera: Camera,
    seen: Rimmed,
    heights: Mapping[str, PartEdges],
    plan: Array,
    good: NDArray[np.bool_],
    part: str,
) -> list[_Stretch]:
    labels, edge = seen.parts.labels, seen.edge
    mine = labels == part
    known = np.flatnonzero(good & mine & (seen.rim == UPPER))
    trusted = np.flatnonzero(good & mine)
    if len(known) < NEIGHBOURS or len(trusted) < 2 * NEIGHBOURS:
        return []
    from profiler.geometry.curves import outward_normals

    looks = look_inward(
        photo, camera, edge.on_mat[known], outward_normals(edge.on_mat, 2.5)[known], DEPTHS_MM
    )
    itself = usual_looks(looks, np.arange(len(known)), np.arange(len(known)))
    unlike = unlike_either(looks, itself)
    spread = max(float(np.median(unlike)), _LEAST_SPREAD)
    # what does not look like the rim is not trusted to be it
    strange = median_filter((unlike > _STRANGE * spread).astype(np.uint8), size=5, mode="wrap") > 0
    good = good.copy()
    good[known[strange]] = False
    good = _runs_of(good)
    known, looks = _kept(known, looks, good)
    trusted = np.flatnonzero(good & mine)
    if len(known) < NEIGHBOURS or len(trusted) < 2 * NEIGHBOURS:
        return []
    out = []
    for gap in _gaps(trusted, mine, part == "body"):
        if edge.drawn is not None and edge.drawn[gap.between].any():
            continue
        tried = [
            _try(photo, camera, seen, heights, plan, part, gap, e, looks, known, spread)
            for e in _expected(plan, trusted, gap)
        ]
        best = [t for t in tried if t is not None]
        if best:
            out.append(max(best, key=lambda t: float(t.measured.sum())))
    return out


@dataclass(frozen=True)
class _Gap:
    """A stretch of one part between trusted points.

    Attributes:
        first, last: indices of the points before and behind it.
        between: indices of its points.
        begins, ends: whether the point before and the one behind are trusted points of the part;
            otherwise another part begins there.
    """

    first: int
    last: int
    between: Indices
    begins: bool
    ends: bool


def _gaps(trusted: Indices, mine: NDArray[np.bool_], open_ended: bool) -> list[_Gap]:
    n = len(mine)
    out = []
    for a, b in zip(trusted.tolist(), np.roll(trusted, -1).tolist(), strict=True):
        size = (b - a) % n
        if size < 3:
            continue
        between = (a + np.arange(1, size)) % n
        own = mine[between]
        if own.all():
            out.append(_Gap(a, b, between, True, True))
            continue
        if not open_ended:
            continue
        lead = int(np.argmin(own))
        if lead > _LEAST_OPEN:
            out.append(_Gap(a, int(between[lead]), between[:lead], True, False))
        trail = int(np.argmin(own[::-1]))
        if trail > _LEAST_OPEN:
            k = len(between) - trail
            out.append(_Gap(int(between[k - 1]), b, between[k:], False, True))
    return out


def _expected(plan: Array, trusted: Indices, gap: _Gap) -> list[Array]:
    a, b, between = gap.first, gap.last, gap.between
    out = []
    if gap.begins and gap.ends:
        chord = float(np.hypot(*(plan[b] - plan[a])))
        if _SHORTEST_MM < chord < _LONGEST_MM:
            leave = _direction(plan, trusted, a, -1)
            arrive = _direction(plan, trusted, b, +1)
            count = int(chord)
            t = np.arange(1, count + 1) / (count + 1)
            out.append(hermite_at(plan[a], plan[b], leave, arrive, t))
        if len(between) > 15:
            out.append(_smooth(plan, between, _MARGIN, _MARGIN))
        return out
    if gap.begins:
        run, length = plan[between], _length(plan[between])
        if length > _SHORTEST_MM:
            out.append(_carried_on(plan, trusted, a, -1, length + _PAST_END_MM))
            if len(run) > 15:
                out.append(_smooth(plan, between, _MARGIN, 0))
    else:
        length = _length(plan[between])
        if length > _SHORTEST_MM:
            out.append(_carried_on(plan, trusted, b, +1, length + _PAST_END_MM)[::-1])
            if len(between) > 15:
                out.append(_smooth(plan, between, 0, _MARGIN))
    return out


def _length(path: Array) -> float:
    return float(np.hypot(*np.diff(path, axis=0).T).sum())


def _carried_on(plan: Array, trusted: Indices, at: int, side: int, length: float) -> Array:
    """Points a mm apart, away from a trusted run as it curves at its end."""
    i = int(np.searchsorted(trusted, at))
    run = plan[trusted[(i + side * np.arange(_CURVE_POINTS)) % len(trusted)]]
    s = -np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(run, axis=0).T))])
    length = min(length, _CURVE_SHARE * -s[-1])
    fit = np.polyfit(s / -s[-1], run, 2)
    t = np.arange(1.0, max(length, 2.0)) / -s[-1]
    # it must leave from where the run ends
    on = np.outer(t**2, fit[0]) + np.outer(t, fit[1]) + run[0]
    return on


def _smooth(plan: Array, between: Indices, before: int, behind: int) -> Array:
    """What was there, evenly spaced and smooth, with so many trusted points on either side."""
    n = len(plan)
    run = (between[0] - before + np.arange(len(between) + before + behind)) % n
    path = plan[run]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    at = np.arange(0.0, along[-1], 1.0)
    even = np.column_stack([np.interp(at, along, path[:, i]) for i in (0, 1)])
    smooth = gaussian_filter1d(even, 6.0, axis=0, mode="nearest")
    inner = (at >= along[before]) & (at <= along[len(run) - 1 - behind])
    # folded parts lie close together once they are smooth
    smooth = smooth[inner]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(smooth, axis=0).T))])
    count = max(int(along[-1]), 3)
    at = np.linspace(0.0, along[-1], count)
    return np.column_stack([np.interp(at, along, smooth[:, i]) for i in (0, 1)])


def _try(photo, camera, seen, heights, plan, part, gap, expected, looks, known, spread):
    edge = seen.edge
    chord = float(len(expected))
    if chord < 3:
        return None
    x = seen.parts.frame.from_mat(expected)[:, 0]
    z = heights[part].upper.at(x)
    centre = camera.centre
    at = centre[:2] + (expected - centre[:2]) / (1 - z / centre[2])[:, None]
    travel = np.gradient(at, axis=0)
    travel /= np.maximum(np.hypot(*travel.T), 1e-9)[:, None]
    normals = np.column_stack([travel[:, 1], -travel[:, 0]])
    place = int(np.searchsorted(known, gap.first if gap.begins else gap.last))
    before = looks[(place + np.arange(-NEIGHBOURS, 0)) % len(known)]
    after = looks[(place + np.arange(NEIGHBOURS)) % len(known)]
    before = before if gap.begins else after
    after = after if gap.ends else before
    reach = min(_REACH_MM + _REACH_SHARE * chord, _FARTHEST_MM)
    sought = seek_rim(
        photo, camera, at, normals, before, after, spread, reach, (gap.begins, gap.ends)
    )
    found_at = at + sought.offsets[:, None] * normals
    moved = expected + (sought.offsets * (1 - z / centre[2]))[:, None] * normals
    use = np.flatnonzero(sought.found)
    if not len(use):
        return None
    # where another part begins, the rim ends with the last place where it was found
    use = np.arange(0 if gap.begins else use[0], len(at) if gap.ends else use[-1] + 1)
    there = LineString(plan[np.concatenate([[gap.first], gap.between, [gap.last]])])
    apart = distance(points(moved), there)
    found = sought.found[use]
    enough = found.mean() > _FOUND_SHARE[part] and len(use) > 2
    if not enough or apart[use][found].max() < _DIFFERS_MM:
        return None
    if gap.begins and gap.ends and chord < _KNOB_MM:
        outer = _farthest_out(plan[gap.between], moved, normals)
        if outer > _STICKS_OUT_MM and _may_be_a_button(seen, plan, gap.between):
            return None
    first, last = gap.first, gap.last
    if not gap.ends:
        last = _goes_on(plan, gap.between, moved[use[-1]], last)
    if not gap.begins:
        first = _goes_on(plan, gap.between[::-1], moved[use[0]], first)
    least = float(edge.sigma.min())
    sigma = np.where(sought.stepped, least, LOOK_U_MM)
    sigma = np.where(sought.found, sigma, _BETWEEN_U_MM)
    return _Stretch(first, last, part, found_at[use], found, sigma[use])


def _may_be_a_button(seen: Rimmed, plan: Array, between: Indices) -> bool:
    """Whether what sticks out was measured beside bare tint, or is where a button usually is."""
    edge = seen.edge
    clear = edge.measured if edge.plain is None else edge.measured & edge.plain
    x, y = seen.parts.frame.from_mat(plan[between].mean(axis=0)[None])[0]
    at_the_tail = x < _TAIL_MM and abs(y) < _TAIL_MM
    return bool(at_the_tail or clear[between].mean() > 0.5)


def _farthest_out(seen: Array, rim: Array, normals: Array) -> float:
    """mm by which seen points stand out of a rim (M, 2) with outward normals."""
    nearest = cKDTree(rim).query(seen)[1]
    return float(((seen - rim[nearest]) * normals[nearest]).sum(axis=1).max())


def _goes_on(plan: Array, ahead: Indices, end: Array, otherwise: int) -> int:
    """The seen point behind a rim's end, among those ahead; otherwise what is behind them all."""
    away = np.hypot(*(plan[ahead] - end).T)
    k = int(np.argmin(away))
    return int(ahead[k + 1]) if away[k] < _GOES_ON_MM and k + 1 < len(ahead) else otherwise


def _direction(plan: Array, trusted: Indices, at: int, side: int) -> Array:
    """Unit direction of travel at a trusted point, from the trusted run on its far side."""
    i = int(np.searchsorted(trusted, at))
    run = trusted[(i + side * np.arange(6)) % len(trusted)]
    travel = (plan[run[-1]] - plan[run[0]]) * side
    unit: Array = travel / max(float(np.hypot(*travel)), 1e-9)
    return unit


def _spliced(seen: Rimmed, camera: Camera, stretches: list[_Stretch]) -> Rimmed:
    """The edge with stretches put in the place of its own points."""
    n = len(seen.rim)
    replaced = np.zeros(n, dtype=bool)
    for s in stretches:
        replaced[(s.first + np.arange(1, (s.last - s.first) % n)) % n] = True
    kept = np.flatnonzero(~replaced)
    new = [np.full(len(s.on_mat), s.first + 0.5) for s in stretches]
    order = np.argsort(np.concatenate([kept.astype(np.float64), *new]), kind="stable")

    def joined(old: NDArray, *values: NDArray) -> NDArray:
        return np.concatenate([old[kept], *values])[order]

    edge = seen.edge
    on_mat = joined(edge.on_mat, *[s.on_mat for s in stretches])
    pixels = joined(
        edge.pixels,
        *[camera.project(np.column_stack([s.on_mat, np.zeros(len(s.on_mat))])) for s in stretches],
    )

    def same(old: NDArray | None, value: object) -> NDArray | None:
        if old is None:
            return None
        return joined(old, *[np.full(len(s.on_mat), value, dtype=old.dtype) for s in stretches])

    made = Edge(
        pixels,
        on_mat,
        joined(edge.measured, *[s.measured for s in stretches]),
        joined(edge.sigma, *[s.sigma for s in stretches]),
        same(edge.drawn, False),
        same(edge.plain, True),
    )
    labels = joined(
        seen.parts.labels,
        *[np.full(len(s.on_mat), s.part, dtype=seen.parts.labels.dtype) for s in stretches],
    )
    return Rimmed(
        made,
        replace(seen.parts, labels=labels),
        same(seen.told, 0.0),
        same(seen.sure, True),
        same(seen.rim, UPPER),
    )
