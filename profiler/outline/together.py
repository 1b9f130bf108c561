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

from profiler.geometry.curves import hermite_at, straight_through
from profiler.geometry.offset import parts_of
from profiler.outline.lift import Lifted, bridge_runs
from profiler.outline.side_button import SIDE_BUTTON

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

#: how far a part is carried on below its neighbour, mm; parts that stick out of another
_UNDER_BODY, _UNDER_HEAD = 60.0, 20.0
_UNDER_EDGE = {"tuners": 12.0, "button": 40.0, SIDE_BUTTON: 12.0}
#: the silhouette's inner corners are rounded: points lost on either side of one
_CORNER_POINTS = 2
#: points of a tuner or button: what has no more is an edge's own roughness
_LEAST_OUTSIDE = 8
#: so many points on either side of a button tell how the wall runs that it stands on
_BESIDE_POINTS = 6
#: of fewer points between others no more can be said than that they are corners
_LEAST_RUN = 3
#: points whose direction the body's end goes on in, and how far at most, mm
_END_POINTS, _TO_NECK_MM = 8, 30.0
#: a neck's side is straight to this, and a corner at its end no longer than so many points
_OFF_THE_LINE_MM, _LONGEST_CORNER = 0.6, 45
#: what a neck hides of a headstock that flares out of it: so long at least and at most, and filled
#: so far inwards, mm, told by runs of more points than this. What turns off more sharply, by the
#: cosine, is a shoulder
_FLARE_MM, _FLARE_DEEP_MM, _FLARE_POINTS, _NO_SHOULDER = (2.0, 25.0), 8.0, 6, 0.5
#: what lies apart from the rest and is no larger may be left out, mm²
_LARGEST_CRUMB_MM2 = 150.0


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
    pieces = []
    for run in runs:
        if run.part in _UNDER_EDGE and len(run.points) > _LEAST_OUTSIDE:
            pieces.append(_attached(plan, run))
    trunks = [_trunk(plan, rim, labels, runs, part) for part in ("body", "neck", "headstock")]
    body, neck = trunks[0], trunks[1]
    if body is not None and neck is not None:
        trunks[0] = _up_to(body, _polygon(neck.points))
    curves = [trunk for trunk in trunks if trunk is not None]
    pieces += [curve.points for curve in curves]
    flares = _flares(plan, runs)
    pieces += [_filled(flare.points) for flare in flares]
    curves += flares
    merged = shapely.union_all([_polygon(p) for p in pieces])
    apart = parts_of(merged)
    if len(apart) > 1 and apart[1].area > _LARGEST_CRUMB_MM2:
        # a head that is told so short that it does not reach its neck: nothing of it may be lost
        curves.append(whole)
        apart = parts_of(shapely.union_all([merged, _polygon(whole.points)]))
    largest = apart[0]
    if largest.area < 0.9 * _polygon(whole.points).area:
        return whole
    ring = np.array(shapely.orient_polygons(shapely.Polygon(largest.exterior)).exterior.coords)[:-1]
    return _named(ring, plan, curves)


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
    members: list[Indices] = []
    for k in _from_the_joint(runs, mine):
        points = runs[k].points
        before, after = runs[k - 1].part, runs[(k + 1) % len(runs)].part
        # between two pegs a few points are all that is seen of the edge
        corner = min(_CORNER_POINTS, (len(points) - 2) // 2)
        first = corner if before in _UNDER_EDGE else 0
        last = corner if after in _UNDER_EDGE else 0
        if len(points) > _LEAST_RUN:
            members.append(points[first : len(points) - last])
    if not members:
        return None
    if part != "neck" or len(members) < 2:
        return bridge_runs(plan, rim, labels, np.concatenate(members), closed=False)
    # two sides: each is carried on below body and headstock
    sides = [bridge_runs(plan, rim, labels, m, closed=False) for m in members]
    along = sides[0].points[-1] - sides[0].points[0]
    carried = [_carried_on(side, along) for side in sides]
    return Lifted(
        np.vstack([c.points for c in carried]),
        np.concatenate([c.source for c in carried]),
        np.concatenate([c.bridged for c in carried]),
    )


def _from_the_joint(runs: Sequence[_Run], mine: Sequence[int]) -> list[int]:
    """The part's runs in the curve's order, begun after another trunk part."""
    n = len(runs)
    for start in mine:
        k = (start - 1) % n
        while runs[k].part in _UNDER_EDGE and k != start:
            k = (k - 1) % n
        if runs[k].part != runs[start].part:
            at = mine.index(start)
            return [*mine[at:], *mine[:at]]
    return list(mine)


def _carried_on(side: Lifted, along: Array) -> Lifted:
    """A neck's side, its ends cut back to where it is straight and carried on from there.

    Where neck and body meet, the silhouette's corner is rounded, and shadow fills it.
    """
    middle, direction = straight_through(side.points)
    across = np.array([-direction[1], direction[0]])
    off = np.abs((side.points - middle) @ across) > _OFF_THE_LINE_MM
    straight = np.flatnonzero(~off)
    first = int(straight[0]) if len(straight) else len(off)
    last = int(straight[-1]) + 1 if len(straight) else 0
    direction = direction * np.sign(direction @ (side.points[-1] - side.points[0]))
    before, after = _UNDER_BODY + first, _UNDER_HEAD
    if direction @ along < 0:
        before, after = _UNDER_HEAD, _UNDER_BODY + len(off) - last
    # a longer bend is no corner: a horn reaches along the neck
    if first > _LONGEST_CORNER:
        first, before = 0, 0.0
    if len(off) - last > _LONGEST_CORNER:
        last, after = len(off), 0.0
    points = side.points[first:last]
    source = side.source[first:last]
    return Lifted(
        np.vstack([points[0] - before * direction, points, points[-1] + after * direction]),
        np.concatenate([source[:1], source, source[-1:]]),
        np.concatenate([[True], side.bridged[first:last], [True]]),
    )


def _up_to(body: Lifted, neck: shapely.Geometry) -> Lifted:
    """The body's curve, carried on at its ends until it is under the neck.

    It ends beside the neck, where the silhouette's corner is rounded: closed straight across, the
    corner would be cut.
    """
    shapely.prepare(neck)
    points, source, bridged = body.points, body.source, body.bridged
    for _ in range(2):  # one end after the other; turned twice it runs as it did
        points, source, bridged = points[::-1], source[::-1], bridged[::-1]
        run = points[-_END_POINTS - _CORNER_POINTS : -_CORNER_POINTS]
        direction = _unit(run[-1] - run[0])
        ahead = run[-1] + np.arange(0.25, _TO_NECK_MM, 0.25)[:, None] * direction
        under = np.flatnonzero(shapely.contains_xy(neck, ahead[:, 0], ahead[:, 1]))
        if len(under):
            end = ahead[min(int(under[0]) + 4, len(ahead) - 1)]
            points = np.vstack([points[:-_CORNER_POINTS], end])
            source, bridged = source[: 1 - _CORNER_POINTS], bridged[: 1 - _CORNER_POINTS]
    return Lifted(points, source, bridged)


def _flares(plan: Array, runs: Sequence[_Run]) -> list[Lifted]:
    """How a headstock comes out of the neck where the neck, which lies higher, hides that."""
    flares = []
    for k, run in enumerate(runs):
        other = runs[(k + 1) % len(runs)]
        if {run.part, other.part} != {"neck", "headstock"}:
            continue
        if min(len(run.points), len(other.points)) <= 2 * _FLARE_POINTS:
            continue
        # out of the neck, whichever way the outline goes
        onward = run.part == "neck"
        neck, head = (run, other) if onward else (other, run)
        step = 1 if onward else -1
        side, flank = plan[neck.points][::step], plan[head.points][::step]
        middle, leave = straight_through(side)
        leave = leave * np.sign(leave @ (side[-1] - side[0]))
        start = middle + ((side[-1] - middle) @ leave) * leave
        arrive = _unit(flank[_FLARE_POINTS] - flank[0])
        across = flank[0] - start
        length = float(np.hypot(*across))
        ahead = min(leave @ arrive, leave @ across / max(length, 1e-9))
        if not _FLARE_MM[0] < length < _FLARE_MM[1] or ahead < _NO_SHOULDER:
            continue
        t = np.linspace(0.0, 1.0, int(length) + 2)
        points = np.vstack([hermite_at(start, flank[0], leave, arrive, t), flank[1:_FLARE_POINTS]])
        source = np.where(t < 0.5, neck.points[::step][-1], head.points[::step][0])
        source = np.concatenate([source, head.points[::step][1:_FLARE_POINTS]])
        bridged = np.arange(len(points)) < len(t)
        flares.append(Lifted(points[::step], source[::step], bridged[::step]))
    return flares


def _filled(curve: Array) -> Array:
    """A strip on the inner side of a stretch of the outline."""
    inward = np.array([curve[0, 1] - curve[-1, 1], curve[-1, 0] - curve[0, 0]])
    return np.vstack([curve, curve[::-1] + _FLARE_DEEP_MM * _unit(inward)])


def _attached(plan: Array, run: _Run) -> Array:
    """A tuner or button, closed and carried on below the edge that it stands out from."""
    if run.part in ("button", SIDE_BUTTON):
        # a few points are all that may look out past the rim, of one side of it: but it stands
        # square on the wall
        points = plan[run.points[1:-1]]
        before = plan[(run.points[0] - _BESIDE_POINTS) % len(plan)]
        behind = plan[(run.points[-1] + _BESIDE_POINTS) % len(plan)]
        inward = np.array([before[1] - behind[1], behind[0] - before[0]])
    else:
        points = plan[run.points[_CORNER_POINTS:-_CORNER_POINTS]]
        inward = (points[0] + points[-1]) / 2 - points.mean(axis=0)
    inward = _UNDER_EDGE[run.part] * _unit(inward)
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
