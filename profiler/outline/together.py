"""The lifted parts laid together: what the vertical projection of all of them covers.

Each part is seen at its own height, so once lifted they no longer meet where they met in the
photo: a tuner's shaft begins below the edge of the headstock, the neck above the body's rim. Each
part is closed by itself, reaching a little under its neighbour, and the outline is the rim of
their union.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.outline.lift import Lifted, bridge_runs

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

#: parts that stick out of another
_ATTACHED = ("tuners", "button")
#: how far a part is carried on below its neighbour, mm
_UNDER_BODY, _UNDER_HEAD, _UNDER_EDGE = 25.0, 20.0, 12.0
#: the silhouette's inner corners are rounded: points lost on either side of one
_CORNER_POINTS = 2
#: over so many points the direction is taken in which a side goes on
_DIRECTION_POINTS = 12


@dataclass(frozen=True)
class _Run:
    """Neighbouring points of one part."""

    part: str
    points: Indices


def lay_together(plan: Array, rim: Array, labels: NDArray[np.str_]) -> Lifted:
    """One closed curve from the lifted points of all parts.

    Args:
        plan: (N, 2) mm, lifted points in the order of the silhouette, anticlockwise.
        rim: (N,) share of the way up, from `choose_rims`.
        labels: (N,) part of each point.
    """
    runs = _runs(labels)
    whole = bridge_runs(plan, rim, labels, np.arange(len(plan)), closed=True)
    if len(runs) < 2:
        return whole
    pieces = [
        _attached(plan, run.points[_CORNER_POINTS:-_CORNER_POINTS])
        for run in runs
        if run.part in _ATTACHED and len(run.points) > 4 * _CORNER_POINTS
    ]
    curves = [_trunk(plan, rim, labels, runs, part) for part in ("body", "neck", "headstock")]
    curves = [c for c in curves if c is not None]
    pieces += [c.points for c in curves if c is not None]
    merged = shapely.union_all([_polygon(p) for p in pieces])
    largest = max(shapely.get_parts(merged), key=lambda g: float(g.area))
    if largest.area < 0.9 * _polygon(whole.points).area:
        return whole
    ring = np.array(shapely.orient_polygons(shapely.Polygon(largest.exterior)).exterior.coords)[:-1]
    return _named(ring, plan, [c for c in curves if c is not None])


def _runs(labels: NDArray[np.str_]) -> list[_Run]:
    """Runs of one part, round the closed curve."""
    n = len(labels)
    starts = np.flatnonzero(labels != np.roll(labels, 1))
    if len(starts) == 0:
        return [_Run(str(labels[0]), np.arange(n))]
    lengths = np.diff(np.append(starts, starts[0] + n))
    return [
        _Run(str(labels[s]), (s + np.arange(k)) % n) for s, k in zip(starts, lengths, strict=True)
    ]


def _trunk(
    plan: Array, rim: Array, labels: NDArray[np.str_], runs: Sequence[_Run], part: str
) -> Lifted | None:
    """A part's own closed curve; what sticks out of it is cut off, what hides it bridged."""
    mine = [k for k, run in enumerate(runs) if run.part == part]
    if not mine:
        return None
    # begin after the longest stretch of other trunk parts
    order = _from_the_joint(runs, mine)
    chunks: list[Array] = []
    members: list[Indices] = []
    for k in order:
        points = runs[k].points
        before, after = runs[k - 1].part, runs[(k + 1) % len(runs)].part
        first = _CORNER_POINTS if before in _ATTACHED else 0
        last = _CORNER_POINTS if after in _ATTACHED else 0
        if len(points) > first + last + 2:
            members.append(points[first : len(points) - last])
    if not members:
        return None
    curve = bridge_runs(plan, rim, labels, np.concatenate(members), closed=len(runs) == 1)
    if part != "neck" or len(members) < 2:
        return curve
    # two sides: each is carried on below body and headstock
    sides = [bridge_runs(plan, rim, labels, m, closed=False) for m in members]
    source: list[Indices] = []
    bridged: list[NDArray[np.bool_]] = []
    for side in sides:
        towards_head = side.points[-1] @ _along(sides) > side.points[0] @ _along(sides)
        ends = (_UNDER_BODY, _UNDER_HEAD) if towards_head else (_UNDER_HEAD, _UNDER_BODY)
        chunks.append(_carried_on(side.points, *ends))
        source.append(np.concatenate([side.source[:1], side.source, side.source[-1:]]))
        bridged.append(np.concatenate([[True], side.bridged, [True]]))
    return Lifted(np.vstack(chunks), np.concatenate(source), np.concatenate(bridged))


def _along(sides: Sequence[Lifted]) -> Array:
    """(2,) from the body to the head: the outline goes round anticlockwise, so the side that
    comes first after the body runs towards the head."""
    first = sides[0].points
    return np.asarray(first[-1] - first[0])


def _from_the_joint(runs: Sequence[_Run], mine: Sequence[int]) -> list[int]:
    """The part's runs in the curve's order, begun after another trunk part."""
    n = len(runs)
    for start in mine:
        k = (start - 1) % n
        while runs[k].part in _ATTACHED and k != start:
            k = (k - 1) % n
        if runs[k].part != runs[start].part:
            at = mine.index(start)
            return [*mine[at:], *mine[:at]]
    return list(mine)


def _carried_on(side: Array, before: float, after: float) -> Array:
    """A side with a point more at either end, straight on."""
    k = min(_DIRECTION_POINTS, len(side) - 1)
    start = side[0] + before * _unit(side[0] - side[k])
    end = side[-1] + after * _unit(side[-1] - side[-1 - k])
    return np.vstack([start, side, end])


def _attached(plan: Array, run: Indices) -> Array:
    """A tuner or button, closed and carried on below the edge that it stands out from."""
    points = plan[run]
    root = (points[0] + points[-1]) / 2
    inward = _UNDER_EDGE * _unit(root - points.mean(axis=0))
    return np.vstack([points[0] + inward, points, points[-1] + inward])


def _unit(v: Array) -> Array:
    unit: Array = v / max(float(np.hypot(*v)), 1e-9)
    return unit


def _polygon(points: Array) -> shapely.Geometry:
    """Points as a valid area; what crosses itself is taken apart."""
    made = shapely.make_valid(shapely.Polygon(points))
    return shapely.union_all(
        [g for g in shapely.get_parts(made) if g.geom_type.endswith("Polygon")]
    )


def _named(ring: Array, plan: Array, curves: Sequence[Lifted]) -> Lifted:
    """The union's rim, each point with the edge point that it came from."""
    points = np.vstack([plan, *[c.points for c in curves]])
    source = np.concatenate([np.arange(len(plan)), *[c.source for c in curves]])
    carried = np.concatenate([np.zeros(len(plan), dtype=bool), *[c.bridged for c in curves]])
    tree = shapely.STRtree(shapely.points(points))
    nearest = tree.nearest(shapely.points(ring))
    away = np.hypot(*(points[nearest] - ring).T)
    return Lifted(ring, source[nearest], carried[nearest] | (away > 0.5))
