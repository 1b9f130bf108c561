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
from scipy.ndimage import binary_opening, gaussian_filter1d
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
_FOUND_SHARE, _DIFFERS_MM = 0.6, 0.4
#: standard uncertainty of places where nothing was found between others that were, mm
_BETWEEN_U_MM = 0.6
_LEAST_SPREAD = 0.02


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
    doubled = np.concatenate([good, good, good])
    n = len(good)
    return np.asarray(binary_opening(doubled, np.ones(_GOOD_RUN))[n : 2 * n], dtype=bool)


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
    spread = max(float(np.median(unlike_either(looks, itself))), _LEAST_SPREAD)
    n = len(labels)
    out = []
    for a, b in zip(trusted, np.roll(trusted, -1), strict=True):
        gap = int((b - a) % n)
        between = (a + np.arange(1, gap)) % n
        if gap < 3:
            continue
        if edge.drawn is not None and edge.drawn[between].any():
            continue
        options = _expected(plan, trusted, int(a), int(b), between, mine)
        tried = [
            _try(
                photo,
                camera,
                seen,
                heights,
                plan,
                part,
                int(a),
                int(b),
                between,
                e,
                looks,
                known,
                spread,
            )
            for e in options
        ]
        best = [t for t in tried if t is not None]
        if best:
            out.append(max(best, key=lambda t: float(t.measured.mean())))
    return out


def _expected(plan, trusted, a, b, between, mine) -> list[Array]:
    if not mine[between].all():
        return []
    chord = float(np.hypot(*(plan[b] - plan[a])))
    out = []
    if _SHORTEST_MM < chord < _LONGEST_MM:
        leave = _direction(plan, trusted, a, -1)
        arrive = _direction(plan, trusted, b, +1)
        count = int(chord)
        t = np.arange(1, count + 1) / (count + 1)
        out.append(hermite_at(plan[a], plan[b], leave, arrive, t))
    if len(between) > 15:
        out.append(_smooth(plan, a, b, between))
    return out


def _smooth(plan: Array, a: int, b: int, between: Indices) -> Array:
    """What was there, evenly spaced and smooth, tied to the trusted runs at its ends."""
    n = len(plan)
    margin = 12
    run = (a - margin + np.arange(len(between) + 2 + 2 * margin)) % n
    path = plan[run]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    at = np.arange(0.0, along[-1], 1.0)
    even = np.column_stack([np.interp(at, along, path[:, i]) for i in (0, 1)])
    smooth = gaussian_filter1d(even, 6.0, axis=0, mode="nearest")
    inner = (at > along[margin]) & (at < along[len(run) - 1 - margin])
    # folded parts lie close together once they are smooth
    smooth = smooth[inner]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(smooth, axis=0).T))])
    count = max(int(along[-1]), 3)
    at = np.linspace(0.0, along[-1], count)
    return np.column_stack([np.interp(at, along, smooth[:, i]) for i in (0, 1)])


def _try(photo, camera, seen, heights, plan, part, a, b, between, expected, looks, known, spread):
    edge = seen.edge
    chord = float(len(expected))
    x = seen.parts.frame.from_mat(expected)[:, 0]
    z = heights[part].upper.at(x)
    centre = camera.centre
    at = centre[:2] + (expected - centre[:2]) / (1 - z / centre[2])[:, None]
    travel = np.gradient(at, axis=0)
    travel /= np.maximum(np.hypot(*travel.T), 1e-9)[:, None]
    normals = np.column_stack([travel[:, 1], -travel[:, 0]])
    place = np.searchsorted(known, a)
    before = looks[(place + np.arange(-NEIGHBOURS, 0)) % len(known)]
    after = looks[(place + np.arange(NEIGHBOURS)) % len(known)]
    reach = min(_REACH_MM + _REACH_SHARE * chord, _FARTHEST_MM)
    sought = seek_rim(photo, camera, at, normals, before, after, spread, reach)
    found_at = at + sought.offsets[:, None] * normals
    moved = expected + (sought.offsets * (1 - z / centre[2]))[:, None] * normals
    there = LineString(np.vstack([plan[a], plan[between], plan[b]]))
    apart = distance(points(moved), there)
    if sought.found.mean() < _FOUND_SHARE or apart[sought.found].max() < _DIFFERS_MM:
        return None
    least = float(edge.sigma.min())
    sigma = np.where(sought.stepped, least, LOOK_U_MM)
    sigma = np.where(sought.found, sigma, _BETWEEN_U_MM)
    return _Stretch(int(a), int(b), part, found_at, sought.found, sigma)


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
