"""The height of a rim from where several photos see it.

Where two photos see the same rim, lifting both edges to the right height brings them to one place;
lifted wrongly they part by the height's error times the difference of the two lines of sight. Over
all points of all edges that is one linear least-squares problem for the rises over the believed
heights, in which the scene's own doubts are unknowns too, so that what a camera's place could
explain is not taken for a height. Points far from the others' are weighed down (Cauchy weights).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from profiler.geometry.curves import outward_normals
from profiler.optics.lens import Lens
from profiler.outline.heights import PartEdges
from profiler.outline.rims import LOWER, UPPER
from profiler.outline.rise import Rises
from profiler.outline.rounding import EDGE_RADIUS_U_MM
from profiler.outline.sight import Sight
from profiler.scene.record import Scene

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

#: how far apart two edges may be taken for one, mm, in the first round and the later ones
REACH_MM = (6.0, 3.0, 2.0)
#: cosine between their normals, at least
_SAME_WAY = 0.94
#: points next to a change of part or rim are corners, blurred and hidden in parts
_CORNER_POINTS = 3
#: of a short run no more than one part in so many is taken for a corner, at either end
_SHORTEST_PART = 5
#: an edge is found a little differently in each photo: light, shine, roundness, mm
_EDGE_MM = 0.12
#: neighbours along an edge share their error over so many points
_ALIKE_POINTS = 8.0
#: distances in sigmas from which a point loses its say
_CAUCHY = 2.5
_ROUNDS = 6
#: photos that each one is held against; of more than these, those are taken that lie spread from
#: the nearest to the farthest, so that the work grows as the photos and not as their square
_PARTNERS = 4


@dataclass(frozen=True)
class Matches:
    """Places where several photos see the same rim.

    Attributes:
        sight: (L,) which photo.
        point: (L,) which point of its edge.
        place: (L,) which place; a place has two lines at least.
        normal: (L, 2) unit, mat frame, the same for all lines of a place.
        weight: (L,) 1/mm².
        alike: so many neighbouring places share their error.
    """

    sight: Indices
    point: Indices
    place: Indices
    normal: Array
    weight: Array
    alike: float

    def along(self, curves: Sequence[Array]) -> Array:
        """(L,) mm along the normal, for lifted curves (N, 2)."""
        starts = np.cumsum([0, *(len(curve) for curve in curves[:-1])])
        which = starts[self.sight] + self.point
        x, y = np.concatenate(curves).T
        along: Array = x.take(which) * self.normal[:, 0] + y.take(which) * self.normal[:, 1]
        return along

    def apart(self, along: Array, weight: Array, out: Array | None = None) -> Array:
        """(..., L) mm from the middle of each place, for distances (..., L) along the normal; into
        `out`, where that is given."""
        total = np.maximum(np.bincount(self.place, weight), 1e-12)
        apart = np.empty_like(along) if out is None else out
        # row by row: there may be hundreds of rows of hundreds of thousands
        rows, into = (values.reshape(-1, len(weight)) for values in (along, apart))
        for row, moved in zip(rows, into, strict=True):
            middle = np.bincount(self.place, weight * row) / total
            np.subtract(row, middle[self.place], out=moved)
        return apart


def find_matches(
    sights: Sequence[Sight],
    curves: Sequence[Array],
    heights: Mapping[str, PartEdges],
    reach: float,
    scene: Scene,
) -> Matches:
    """Points of different photos that show the same place of the same rim.

    Args:
        sights: of the photos.
        curves: their edges lifted, (N, 2) mm, mat frame.
        heights: by part.
        reach: mm, how far apart they may be.
        scene: solved.
    """
    single = [part for part, edges in heights.items() if edges.upper is edges.lower]
    kinds = [_kinds(s, single) for s in sights]
    partners_of = _held_against(np.array([scene.cameras[s.index].centre for s in sights]))
    normals = [outward_normals(c, 3.0) for c in curves]
    lines: list[tuple[Indices, Indices, Indices, Array, Array]] = []
    first = 0
    # neighbours share their error, so of many photos fewer points of each say as much
    stride = min(-(-len(sights) // (_PARTNERS + 1)), int(_ALIKE_POINTS / 2))
    alike = _ALIKE_POINTS / stride
    for i in range(len(sights)):
        own = np.flatnonzero(kinds[i] != "")[::stride]
        partner = np.full((len(sights), len(own)), -1)
        partner[i] = own
        for k in partners_of[i]:
            partner[k] = partners(
                (curves[i][own], normals[i][own], kinds[i][own]),
                (curves[k], normals[k], kinds[k]),
                reach,
            )
        many = (partner >= 0).sum(axis=0)
        places = np.flatnonzero(many >= 2)
        number = np.full(len(own), -1)
        number[places] = first + np.arange(len(places))
        first += len(places)
        for k in sorted((i, *partners_of[i])):
            other = sights[k]
            at = places[partner[k, places] >= 0]
            point = partner[k, at]
            sigma = np.hypot(other.edge.sigma[point], _EDGE_MM)
            lines.append(
                (
                    np.full(len(at), k),
                    point,
                    number[at],
                    normals[i][own[at]],
                    # every photo is the first in turn, so each place comes up many times
                    1 / (sigma**2 * alike * many[at]),
                )
            )
    sight_, point_, place_, normal_, weight_ = (
        np.concatenate([line[j] for line in lines]) for j in range(5)
    )
    return Matches(sight_, point_, place_, normal_, weight_, alike)


def _held_against(centres: Array) -> list[list[int]]:
    """Which other photos each one's edge is looked for in, by where (K, 3) they were taken from."""
    partners: list[list[int]] = []
    for i, centre in enumerate(centres):
        away = np.linalg.norm(centres - centre, axis=1)
        others = [int(k) for k in np.argsort(away, kind="stable") if k != i]
        some = np.linspace(0, len(others) - 1, min(len(others), _PARTNERS)).round().astype(int)
        partners.append([others[at] for at in some])
    return partners


def _kinds(sight: Sight, single: Sequence[str]) -> NDArray[np.str_]:
    """(N,) part and rim of each point that may be matched, '' for the others.

    Args:
        sight: of one photo.
        single: parts with one edge all round, whatever side it is seen from.
    """
    rim = np.where(sight.rim == UPPER, "u", np.where(sight.rim == LOWER, "l", ""))
    rim[np.isin(sight.parts.labels, single)] = "u"
    whole = np.char.add(sight.parts.labels.astype("<U12"), rim)
    near = _corners(whole != np.roll(whole, 1))
    kinds: NDArray[np.str_] = np.where((rim != "") & sight.edge.measured & ~near, whole, "")
    return kinds


def _corners(change: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(N,) points next to a change, at which a run begins; of a short run a part of it is kept.

    A strap button seen over the rim is a few points long: without them its height is lost.
    """
    near = np.zeros(len(change), dtype=bool)
    starts: list[int] = np.flatnonzero(change).tolist()
    for start, end in zip(
        starts, [*starts[1:], *(s + len(change) for s in starts[:1])], strict=True
    ):
        corner = min(_CORNER_POINTS, max((end - start) // _SHORTEST_PART, 1))
        near[(start + np.arange(corner)) % len(change)] = True
        near[(end - 1 - np.arange(corner)) % len(change)] = True
    return near


def partners(
    mine: tuple[Array, Array, NDArray[np.str_]],
    other: tuple[Array, Array, NDArray[np.str_]],
    reach: float,
) -> Indices:
    """(M,) the other curve's point that shows the same place as each of mine, or -1."""
    points, normals, kinds = mine
    partner = np.full(len(points), -1)
    for kind in np.unique(kinds):
        here, there = np.flatnonzero(kinds == kind), np.flatnonzero(other[2] == kind)
        if len(there) < 3:
            continue
        # from afar along the normal, but beside it no further than the points lie apart
        _, nearest = cKDTree(other[0][there]).query(points[here])
        at = there[nearest]
        step = other[0][at] - points[here]
        across = (step * normals[here]).sum(axis=1)
        along = step[:, 0] * -normals[here][:, 1] + step[:, 1] * normals[here][:, 0]
        same = (np.abs(across) < reach) & (np.abs(along) < 1.2)
        same &= (normals[here] * other[1][at]).sum(axis=1) > _SAME_WAY
        partner[here[same]] = at[same]
    return partner


#: how far below its face a rounded edge is seen from usual places, in radii
_BELOW_FACE = 0.8


@dataclass(frozen=True)
class Triangulation:
    """The rises that bring the photos' edges together.

    Attributes:
        rises: which knots.
        rise: (Q,) mm.
        covariance: (Q, Q) mm², without what the scene's doubts add.
        gain: (Q, L) mm per mm: how rises follow the distances at `matches`.
        apart: (L,) mm, distances that were left.
        matches: places used, with their last weights.
    """

    rises: Rises
    rise: Array
    covariance: Array
    gain: Array
    apart: Array
    matches: Matches

    @property
    def doubt(self) -> Array:
        """(Q,) mm, standard; a rounded edge is seen a part of its radius below its face."""
        variance = np.maximum(np.diag(self.covariance), 0.0)
        spread: Array = np.sqrt(variance + (_BELOW_FACE * EDGE_RADIUS_U_MM) ** 2)
        return spread


@dataclass(frozen=True)
class Responses:
    """How the lifted edges follow what is not known, each a list of (N, 2) mm, one a photo.

    Attributes:
        by_rise: for each knot, for one mm.
        by_scene: for each of the scene's doubts, for one standard uncertainty, the believed
            heights following; and for the edges' rounding, which a height must not explain.
    """

    by_rise: Sequence[Sequence[Array]]
    by_scene: Sequence[Sequence[Array]]


def triangulate(
    rises: Rises,
    matches: Matches,
    curves_at: Callable[[Array], Sequence[Array]],
    responses: Responses,
    start: Array,
) -> Triangulation:
    """Solve for the rises.

    Args:
        rises: knots and what is believed of them.
        matches: places that several photos see.
        curves_at: the lifted edges for rises (Q,).
        responses: of those edges.
        start: (Q,) mm, where to linearise.
    """
    base = matches.along(curves_at(start))
    unknown = [matches.along(curves) for curves in (*responses.by_rise, *responses.by_scene)]
    slopes = np.array(unknown).reshape(-1, len(base))
    own = slice(0, rises.count)
    belief = np.eye(len(slopes))
    belief[own, own] = np.linalg.inv(rises.believed)
    sigma = np.sqrt(1 / (matches.weight * matches.alike * _many(matches)))
    weight, design = matches.weight, np.empty_like(slopes)
    for _ in range(_ROUNDS):
        design = matches.apart(slopes, weight, design)
        # how far apart they would be at the believed heights
        unmoved = matches.apart(base, weight) - start @ design[own]
        root = np.sqrt(weight)
        design *= root
        normal = design @ design.T + belief
        solution = -np.linalg.solve(normal, design @ (root * unmoved))
        used = weight
        left = unmoved + (solution @ design) / root
        weight = matches.weight / (1 + (left / (_CAUCHY * sigma)) ** 2)
    kept = np.linalg.inv(normal)[own] @ design
    gain = kept * root
    blunt = np.eye(rises.count) - kept @ design[own].T
    rise = np.asarray(solution[own], dtype=np.float64)
    return Triangulation(
        rises=rises,
        rise=rise,
        covariance=blunt @ rises.believed @ blunt.T + kept @ kept.T,
        gain=gain,
        apart=matches.apart(matches.along(curves_at(rise)), used),
        matches=replace(matches, weight=used),
    )


def _many(matches: Matches) -> Array:
    many: Array = np.bincount(matches.place)[matches.place].astype(np.float64)
    return many


def rises_in(found: Triangulation, curves: Sequence[Array]) -> Array:
    """(Q,) mm: the rises that would have been found in a scene moved a little.

    Args:
        found: in the scene as solved.
        curves: the edges lifted to `found.rise` in the moved scene, believed heights following.
    """
    m = found.matches
    change = m.apart(m.along(curves), m.weight) - found.apart
    moved: Array = found.rise - found.gain @ change
    return moved


@dataclass(frozen=True)
class Through:
    """(N, 3) what a lens makes of the pixels of a sight's edge: most doubts leave the lens."""

    lens: Lens
    directions: Array

    def by(self, lens: Lens) -> Array | None:
        """The directions, if the lens is still the same."""
        return self.directions if lens == self.lens else None


def seen_through(sights: Sequence[Sight], scene: Scene) -> list[Through]:
    """What each sight's own lens makes of its edge."""
    lenses = [scene.cameras[s.index].lens for s in sights]
    return [
        Through(lens, lens.unproject(s.edge.pixels)) for s, lens in zip(sights, lenses, strict=True)
    ]


def curves_of(
    sights: Sequence[Sight],
    scene: Scene,
    heights: Mapping[str, PartEdges],
    through: Sequence[Through],
    rounder: float = 0.0,
) -> list[Array]:
    """The sights' edges lifted in a scene: (N, 2) mm, mat frame, each; their rounding
    larger than usual by so many standard uncertainties.

    `through` is of the scene before it was moved, from `seen_through`.
    """
    lifted = []
    for sight, seen in zip(sights, through, strict=True):
        camera = scene.cameras[sight.index]
        lifted.append(sight.upper_edge(camera, heights, seen.by(camera.lens), rounder))
    return lifted
