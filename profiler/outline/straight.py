"""Bays in a neck's side, where its edge was lost, filled along the straight line that the side is.

A neck of nearly the mat's colour lets the silhouette run in between its frets. Its sides are
straight, in the plan and so in the photo, and hold nothing that goes inward: what leaves the line
on the neck's inner side and comes back to it is a stretch where the edge was lost. What stands out
of a neck may be there, a fifth string's peg, and is left.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.curves import runs_of
from profiler.geometry.lines import robust_line
from profiler.optics.camera import Camera
from profiler.outline.parts import Parts
from profiler.outline.splice import retold
from profiler.silhouette.edge import Edge

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

# Guesses, tried on rendered photos.
#: a side is as long as this, lies this near to its line, mm, over so much of its length, and all
#: of its bays together are no longer than so much of it
_LEAST_MM, _ON_LINE_MM, _MOSTLY, _MOST_LOST = 80.0, 0.5, 0.5, 0.4
#: a bay is as deep as this, mm, and begins where the edge leaves the line for good by so much
_DEEP_MM, _LEAVES_MM = 1.0, 0.3
#: of the body's so many points beside the neck are looked at
_AHEAD_POINTS = 300
#: points at either end of a bay that may lie on neither side of the line
_CORNER_POINTS = 6
#: standard uncertainty of the line in a bay, mm
_TOLD_U_MM = 0.4


def with_straight_neck(edge: Edge, camera: Camera, parts: Parts) -> Edge:
    """The edge, bays in the neck's sides filled along the lines that these lie on.

    Args:
        edge: traced.
        camera: its camera.
        parts: split of its points.
    """
    points = parts.frame.from_mat(edge.on_mat)
    told = np.zeros(len(points), dtype=bool)
    for neck in runs_of(parts.labels == "neck"):
        line = _line_of(points[neck])
        run = _carried_on(neck, points, parts)
        if line is None or (edge.drawn is not None and edge.drawn[run].any()):
            continue
        for bay, places in _bays(points[run], line):
            points[run[bay]], told[run[bay]] = places, True
    if not told.any():
        return edge
    return retold(edge, camera, parts.frame.to_mat(points), told, _TOLD_U_MM)


def _carried_on(neck: Indices, points: Array, parts: Parts) -> Indices:
    """A run of the neck's points, and so many of the body's behind either end: where a bay begins
    the body may be thought to end."""
    count = len(points)
    before = (neck[0] - np.arange(_AHEAD_POINTS, 0, -1)) % count
    behind = (neck[-1] + np.arange(1, _AHEAD_POINTS + 1)) % count
    others = np.flatnonzero(parts.labels[before] != "body")
    before = before[others[-1] + 1 :] if len(others) else before
    others = np.flatnonzero(parts.labels[behind] != "body")
    behind = behind[: others[0]] if len(others) else behind
    on: Indices = np.concatenate([before, neck, behind])
    return on


@dataclass(frozen=True)
class _Line:
    """A neck's side: `left` is 1 on the left of the centreline, -1 on its right; y there at x."""

    left: float
    slope: float
    at_tail: float
    length: float

    def y(self, x: Array) -> Array:
        return self.at_tail + self.slope * x


def _line_of(side: Array) -> _Line | None:
    """Where most of a neck's side lies, (N, 2) mm in the instrument's frame; None where too little
    of it lies on a line."""
    x, y = side.T
    long = float(np.ptp(x))
    if long < _LEAST_MM:
        return None
    left = 1.0 if np.median(y) > 0 else -1.0
    # the outermost of each millimetre: a bay's own points may be many
    place = np.floor(x - x.min()).astype(int)
    out = np.full(place.max() + 1, -np.inf)
    np.maximum.at(out, place, left * y)
    at = np.flatnonzero(np.isfinite(out))
    slope, height, near = robust_line(x.min() + at + 0.5, out[at], _ON_LINE_MM)
    return _Line(left, left * slope, left * height, long) if near.sum() > _MOSTLY * long else None


def _bays(side: Array, line: _Line) -> list[tuple[Indices, Array]]:
    """Points of a neck's side, (N, 2) mm in the instrument's frame, that lie in bays, and where
    they would lie on its line."""
    x, y = side.T
    within = line.left * (line.y(x) - y)
    on_line = np.abs(within) < _ON_LINE_MM
    found: list[tuple[Indices, Array]] = []
    lost = 0.0
    inside = np.flatnonzero(within > _LEAVES_MM)
    for run in np.split(inside, np.flatnonzero(np.diff(inside) > 1) + 1) if len(inside) else []:
        if within[run].max() < _DEEP_MM:
            continue
        # where it turns in, an edge may be rounded outwards a little
        before = np.flatnonzero(on_line[max(run[0] - _CORNER_POINTS, 0) : run[0]])
        behind = np.flatnonzero(on_line[run[-1] + 1 : run[-1] + 1 + _CORNER_POINTS])
        if not len(before) or not len(behind):
            continue
        first = max(run[0] - _CORNER_POINTS, 0) + int(before[-1])
        last = int(run[-1]) + 1 + int(behind[0])
        bay = np.arange(first + 1, last)
        along = np.linspace(x[first], x[last], len(bay) + 2)[1:-1]
        lost += abs(float(x[last] - x[first]))
        found.append((bay, np.column_stack([along, line.y(along)])))
    return found if lost < _MOST_LOST * line.length else []
