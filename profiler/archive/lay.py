"""Laying one outline over another, or into another, as well as it can be laid.

Both questions are the same: move a rigid outline so that the worst place is as good as possible.
Each step looks for the nearest points, takes distances as linear in a small move and solves the
linear programme 'make the worst place best' within a limited step (sequential linear programming).
The figure that is told is measured afterwards on the outlines themselves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.spatial import KDTree

from profiler.archive.shape import standing
from profiler.geometry.curves import evenly_spaced

Array = NDArray[np.float64]

#: of an outline's points when it is moved about, mm
SPACING_MM = 8.0
#: of the points that stand for the other outline
FINE_MM = 1.0
#: of these, every so many take part where gaps are measured
EVERY = 4
ICP_ROUNDS = 12
LP_ROUNDS = 8
#: the worst places that a step looks at
WORST = 40
#: a way round that begins with so much larger a gap than the other is not followed, mm
HOPELESS_MM = 8.0


@dataclass(frozen=True)
class Lay:
    """Where an outline lies: point p comes to turn(angle) · flip(p) + shift.

    Attributes:
        angle: rad.
        shift: (2,) mm.
        mirrored: y is turned round first.
    """

    angle: float
    shift: tuple[float, float]
    mirrored: bool = False

    def moved(self, points: Array) -> Array:
        """(N, 2) mm there."""
        flipped = points * [1.0, -1.0] if self.mirrored else points
        c, s = np.cos(self.angle), np.sin(self.angle)
        turned: Array = flipped @ np.array([[c, s], [-s, c]]) + np.asarray(self.shift)
        return turned

    def back(self, points: Array) -> Array:
        """(N, 2) mm: what comes to lie at these points."""
        c, s = np.cos(self.angle), np.sin(self.angle)
        flipped: Array = (points - np.asarray(self.shift)) @ np.array([[c, -s], [s, c]])
        return flipped * [1.0, -1.0] if self.mirrored else flipped

    def then(self, angle: float, shift: Array, about: Array) -> Lay:
        """Turned a little more about a point, and moved."""
        c, s = np.cos(angle), np.sin(angle)
        old = np.asarray(self.shift) - about
        x, y = np.array([[c, -s], [s, c]]) @ old + about + shift
        return Lay(float(self.angle + angle), (float(x), float(y)), self.mirrored)


@dataclass(frozen=True)
class Overlay:
    """Two outlines laid over each other.

    Attributes:
        lay: of the moved one.
        largest: mm, the largest gap anywhere between the two lines (Hausdorff distance).
        mean: mm, the mean gap along the moved line.
    """

    lay: Lay
    largest: float
    mean: float


@dataclass(frozen=True)
class Fit:
    """An outline inside another; `room` is the least room left, mm, negative: it sticks out."""

    lay: Lay
    room: float


class Line:
    """A closed outline with what is needed to be near it."""

    def __init__(self, outline: Array) -> None:
        """`outline`: (N, 2) mm, closed, first point not repeated."""
        self.polygon = shapely.Polygon(outline)
        if not self.polygon.is_valid:
            self.polygon = shapely.Polygon(self.polygon.buffer(0).exterior)
        self.ring = self.polygon.exterior
        self.corners = np.asarray(self.ring.coords)[:-1]
        self.points = evenly_spaced(self.corners, SPACING_MM)
        fine = np.asarray(self.ring.segmentize(FINE_MM).coords)[:-1]
        ahead = np.roll(fine, -1, axis=0) - np.roll(fine, 1, axis=0)
        length = np.maximum(np.hypot(*ahead.T), 1e-12)
        turn = 1.0 if self.ring.is_ccw else -1.0
        self.fine = fine
        self.normals = turn * np.column_stack([ahead[:, 1], -ahead[:, 0]]) / length[:, None]
        self.tree = KDTree(fine)
        self.own_normals = self.nearest(self.points)[1]
        shapely.prepare(self.polygon)

    def nearest(self, points: Array) -> tuple[Array, Array]:
        """(M, 2) nearest points on the line, and (M, 2) its outward normals there."""
        _, index = self.tree.query(points)
        return self.fine[index], self.normals[index]


def lay_over(moving: Line, still: Line, close: Overlay) -> Overlay:
    """The smallest largest gap, from a place that is close already; measured on the outlines."""
    return _measure(moving, still, _minimax(moving, still, close).lay)


def lay_closely(moving: Line, still: Line, lay: Lay) -> Overlay:
    """From one start, by least squares only, gaps taken at every few millimetres: for ranking."""
    return _rough(moving, still, _icp(moving, still, lay))


def laid_over(moving: Line, still: Line, mirrored: bool = False) -> Overlay:
    """The smallest largest gap of both ways round (and mirrored, if asked)."""
    begun = starts(moving.points, still.points, (False, True) if mirrored else (False,))
    rough = sorted((lay_closely(moving, still, lay) for lay in begun), key=lambda o: o.largest)
    hopeful = [o for o in rough if o.largest < rough[0].largest + HOPELESS_MM]
    return min((lay_over(moving, still, o) for o in hopeful), key=lambda o: o.largest)


def lay_into(moving: Line, outer: Line) -> Fit:
    """Where it lies with the most room all round, of both ways round."""
    begun = []
    for lay in starts(moving.points, outer.points, (False,)):
        two = (lay, _boxes_centred(moving, outer, lay))
        rooms = [float(_room_pairs(moving, outer, one)[1].min()) for one in two]
        begun.append((max(rooms), two[int(np.argmax(rooms))]))
    most = max(room for room, _ in begun)
    hopeful = [lay for room, lay in begun if room > most - HOPELESS_MM]
    best = max((_roomiest(moving, outer, lay) for lay in hopeful), key=lambda fit: fit.room)
    return Fit(best.lay, room_of(moving, outer, best.lay))


def room_of(moving: Line, outer: Line, lay: Lay) -> float:
    """Least room between the outline as it lies and the outer line; negative: it sticks out so far.

    Sticking out is measured along the moved outline.
    """
    corners = lay.moved(moving.corners)
    inside = shapely.Polygon(corners)
    if outer.polygon.covers(inside):
        return float(shapely.LinearRing(corners).distance(outer.ring))
    points = np.vstack([lay.moved(moving.points), corners])
    out = ~shapely.contains_xy(outer.polygon, points[:, 0], points[:, 1])
    if not out.any():
        return 0.0
    return -float(shapely.distance(shapely.points(points[out]), outer.ring).max())


def starts(moving: Array, still: Array, flips: tuple[bool, ...]) -> list[Lay]:
    """Frames of inertia laid over each other, both ways round."""
    lays = []
    still_middle, still_angle = _inertia(still)
    for flip in flips:
        middle, angle = _inertia(moving * [1.0, -1.0] if flip else moving)
        for turn in (0.0, np.pi):
            by = still_angle - angle + turn
            c, s = np.cos(by), np.sin(by)
            x, y = still_middle - np.array([[c, -s], [s, c]]) @ middle
            lays.append(Lay(float(by), (float(x), float(y)), flip))
    return lays


def _inertia(points: Array) -> tuple[Array, float]:
    middle = points.mean(axis=0)
    probe = standing(np.vstack([middle, [middle[0] + 1.0, middle[1]]]), points)
    x, y = probe[1] - probe[0]
    return middle, -float(np.arctan2(y, x))


def _icp(moving: Line, still: Line, lay: Lay) -> Lay:
    """Point to line, both ways, least squares."""
    for _ in range(ICP_ROUNDS):
        points, to, normals = _pairs(moving, still, lay)
        about = points.mean(axis=0)
        rows = _rows(points, normals, about)
        gap = ((points - to) * normals).sum(axis=1)
        move, *_ = np.linalg.lstsq(rows, -gap, rcond=None)
        lay = lay.then(float(np.clip(move[2], -0.2, 0.2)), move[:2], about)
        if np.abs(move[:2]).max() < 0.02 and abs(move[2]) < 5e-5:
            break
    return lay


def _pairs(moving: Line, still: Line, lay: Lay) -> tuple[Array, Array, Array]:
    """Points of the moved line, what they lie nearest to, normals; and the other way round."""
    points = lay.moved(moving.points)
    to, normals = still.nearest(points)
    back = lay.moved(moving.nearest(lay.back(still.points))[0])
    both = np.vstack([normals, still.own_normals])
    return np.vstack([points, back]), np.vstack([to, still.points]), both


def _rows(points: Array, directions: Array, about: Array) -> Array:
    """(M, 3) change of each distance with dx, dy and a turn about a point."""
    arm = points - about
    turning = directions[:, 1] * arm[:, 0] - directions[:, 0] * arm[:, 1]
    return np.column_stack([directions, turning])


def _minimax(moving: Line, still: Line, best: Overlay) -> Overlay:
    """Make the largest gap smaller, step by step."""
    reach = max(2.0, min(10.0, best.largest))
    for _ in range(LP_ROUNDS):
        points, to, _ = _pairs(moving, still, best.lay)
        about = points.mean(axis=0)
        apart = points - to
        gap = np.hypot(*apart.T)
        worst = np.argsort(gap)[-WORST:]
        direction = apart[worst] / np.maximum(gap[worst], 1e-9)[:, None]
        rows = _rows(points[worst], direction, about)
        move = _step(rows, gap[worst], reach, moving)
        if move is None:
            break
        tried = _rough(moving, still, best.lay.then(move[2], move[:2], about))
        better = best.largest - tried.largest
        if better > 0:
            best = tried
        if better < max(0.005, 0.005 * best.largest):
            reach /= 4
            if reach < 0.01:
                break
    return best


def _roomiest(moving: Line, outer: Line, lay: Lay) -> Fit:
    """Make the least room larger, step by step."""
    points, signed, direction = _room_pairs(moving, outer, lay)
    reach = 10.0
    for _ in range(LP_ROUNDS):
        about = points.mean(axis=0)
        worst = np.argsort(signed)[:WORST]
        rows = _rows(points[worst], direction[worst], about)
        # the most room for the tightest place is the least of the largest lack of room
        move = _step(-rows, -signed[worst], reach, moving)
        if move is None:
            break
        tried = lay.then(move[2], move[:2], about)
        there = _room_pairs(moving, outer, tried)
        better = float(there[1].min() - signed.min())
        if better > 0:
            lay, (points, signed, direction) = tried, there
        if better < 0.03:
            reach /= 4
            if reach < 0.1:
                break
    return Fit(lay, float(signed.min()))


def _step(rows: Array, value: Array, reach: float, moving: Line) -> Array | None:
    """The small move that makes max(value + rows·move) least; None where none helps."""
    arm = float(np.hypot(*(moving.points - moving.points.mean(axis=0)).T).max())
    a = np.column_stack([rows, -np.ones(len(rows))])
    bounds = [(-reach, reach), (-reach, reach), (-reach / arm, reach / arm), (None, None)]
    done = linprog([0, 0, 0, 1.0], A_ub=a, b_ub=-value, bounds=bounds, method="highs")
    if not done.success or done.fun > value.max() - 1e-6:
        return None
    return np.asarray(done.x[:3])


def _room_pairs(moving: Line, outer: Line, lay: Lay) -> tuple[Array, Array, Array]:
    """Points of the moved line, facing places all round both lines; signed room; its direction."""
    points = lay.moved(moving.points)
    to, _ = outer.nearest(points)
    points = np.vstack([points, lay.moved(moving.nearest(lay.back(outer.points))[0])])
    apart = points - np.vstack([to, outer.points])
    gap = np.hypot(*apart.T)
    inside = shapely.contains_xy(outer.polygon, points[:, 0], points[:, 1])
    side = np.where(inside, 1.0, -1.0)
    return points, gap * side, apart / np.maximum(gap, 1e-9)[:, None] * side[:, None]


def _boxes_centred(moving: Line, outer: Line, lay: Lay) -> Lay:
    """The same way round, but box over box: closer for shapes with a thin end."""
    points = standing(lay.moved(moving.points), outer.points)
    box = standing(outer.points, outer.points)
    off = (box.max(axis=0) + box.min(axis=0) - points.max(axis=0) - points.min(axis=0)) / 2
    _, angle = _inertia(outer.points)
    c, s = np.cos(angle), np.sin(angle)
    x, y = np.asarray(lay.shift) + np.array([[c, -s], [s, c]]) @ off
    return Lay(lay.angle, (float(x), float(y)), lay.mirrored)


def _rough(moving: Line, still: Line, lay: Lay) -> Overlay:
    points, to, _ = _pairs(moving, still, lay)
    gap = np.hypot(*(points - to).T)
    return Overlay(lay, float(gap.max()), float(gap[: len(moving.points)].mean()))


def _measure(moving: Line, still: Line, lay: Lay) -> Overlay:
    # every corner, where a gap is largest, and places in between
    between = moving.fine[::EVERY]
    moved = lay.moved(np.vstack([between, moving.corners]))
    there = _distances(moved, still.corners)
    back = _distances(np.vstack([still.fine[::EVERY], still.corners]), lay.moved(moving.corners))
    mean = float(there[: len(between)].mean())
    return Overlay(lay, float(max(there.max(), back.max())), mean)


def _distances(points: Array, corners: Array) -> Array:
    """(M,) mm from points to a closed line of (N, 2) corners."""
    pieces = shapely.linestrings(np.stack([corners, np.roll(corners, -1, axis=0)], axis=1))
    _, gaps = shapely.STRtree(pieces).query_nearest(
        shapely.points(points), all_matches=False, return_distance=True
    )
    return np.asarray(gaps)
