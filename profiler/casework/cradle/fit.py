"""The fit check: the solid instrument laid into the cradle, and the gap measured all round.

Points are spread over every face of the wood that looks at the instrument, lining left out; the
gap is from the wood to the nearest place of the instrument.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.casework.cradle.linings import Contact
from profiler.casework.cradle.pieces import CradlePiece
from profiler.casework.cradle.plan import CradlePlan
from profiler.instrument.solid import Slab, Solid

Array = NDArray[np.float64]
Point3 = tuple[float, float, float]

#: points on the wood are about this far apart, mm
STEP_MM = 1.0
#: what lies farther from the wood than this is no gap of the fit, mm
FAR_MM = 25.0
#: a direction counts as below, beside or behind where this much of it points there
MOSTLY = 0.7
#: and stops a movement along that way where this much does: less of it lifts the instrument instead
STOPS = 0.9
#: gaps that differ by less are as tight as each other: the one that counts looks straight along an
#: axis, at a face instead of a corner, whose rounding nobody read, mm
ALIKE_MM = 0.05
#: the body's side is judged this far within its edges, mm
EDGE_MM = 2.0


@dataclass(frozen=True)
class Faces:
    """Points on the wood that look at the instrument.

    Attributes:
        points: (N, 3) mm, cradle frame.
        rows: (N,) number of the run along the wood that a point belongs to; points of a run follow
            each other.
        slot: (N,) whether it lies in the slot for the button.
    """

    points: Array
    rows: NDArray[np.intp]
    slot: NDArray[np.bool_]


@dataclass(frozen=True)
class Spot:
    """A place on the wood and its gap, mm."""

    at: Point3
    gap: float


@dataclass(frozen=True)
class PieceFit:
    """How one piece fits, the instrument at rest.

    Attributes:
        piece: which.
        faces: the points judged, with their gaps within `FAR_MM`.
        gaps: (N,) mm, wood to instrument.
        towards: (N, 3) unit, from the wood to the instrument.
        needs: (N,) mm: below this the lining is as hard as the wood.
        linings: (N,) mm, uncompressed.
        tightest: of gap less lining.
        below, right, left, behind: least gap on that side, mm; None where the wood has none there.
        contact: length of wood, across or along, whose lining the instrument touches, mm.
    """

    piece: CradlePiece
    faces: Faces
    gaps: Array
    towards: Array
    needs: Array
    linings: Array
    tightest: Spot
    below: float | None
    right: float | None
    left: float | None
    behind: float | None
    contact: float


@dataclass(frozen=True)
class Play:
    """How far the instrument can move from its rest until a lining stops it, mm; None where nothing
    does.

    Attributes:
        tail, head: along x.
        right, left: across.
        sink: how much more the seats give before they are hard.
    """

    tail: float | None
    head: float | None
    right: float | None
    left: float | None
    sink: float | None


@dataclass(frozen=True)
class Fit:
    """All pieces, and what holds the instrument as a whole."""

    pieces: tuple[PieceFit, ...]
    play: Play


def check_fit(plan: CradlePlan) -> Fit:
    """Lay the instrument into the cradle."""
    fits = tuple(f for p in plan.pieces if (f := fit_of(plan, p)) is not None)
    return Fit(fits, _play(plan, fits))


def fit_of(plan: CradlePlan, piece: CradlePiece) -> PieceFit | None:
    """The fit of one piece; None where nothing of it looks at the instrument."""
    faces = facing(plan, piece)
    if not len(faces.points):
        return None
    lowered = faces.points - np.array([0.0, 0.0, plan.lift.mm])
    gaps = plan.solid.distance(lowered)
    near = gaps <= FAR_MM
    if not near.any():
        return None
    faces = Faces(faces.points[near], faces.rows[near], faces.slot[near])
    lowered, gaps = lowered[near], gaps[near]
    towards = plan.solid.towards(lowered)
    thick = np.full(len(gaps), piece.contact.lining.thickness)
    needs = np.full(len(gaps), piece.contact.lining.crushed)
    if piece.slot is not None:
        thick[faces.slot] = piece.slot.lining.thickness
        needs[faces.slot] = piece.slot.lining.crushed
    tight = least_of(gaps - thick, np.abs(towards).max(axis=1))
    spot = Spot(tuple(float(v) for v in faces.points[tight]), float(gaps[tight]))  # type: ignore[arg-type]
    return PieceFit(
        piece,
        faces,
        gaps,
        towards,
        needs,
        thick,
        spot,
        _least(gaps, towards[:, 2] > MOSTLY),
        _least(gaps, towards[:, 1] > MOSTLY),
        _least(gaps, towards[:, 1] < -MOSTLY),
        _least(gaps, towards[:, 0] > MOSTLY),
        _touching(faces, gaps < thick - 1e-6),
    )


def least_of(values: Array, straight: Array) -> int:
    """Which of (N,) values is least; of those that are about as small the one that looks most
    straight along an axis, (N,) 0 to 1."""
    alike = values <= values.min() + ALIKE_MM
    return int(np.argmax(np.where(alike, straight, -1.0)))


def _least(gaps: Array, where: NDArray[np.bool_]) -> float | None:
    return float(gaps[where].min()) if where.any() else None


def _touching(faces: Faces, touch: NDArray[np.bool_]) -> float:
    """Longest sum along one run of points, mm."""
    longest = 0.0
    for row in np.unique(faces.rows):
        here = np.flatnonzero(faces.rows == row)
        steps = np.linalg.norm(np.diff(faces.points[here], axis=0), axis=1)
        both = touch[here][1:] & touch[here][:-1]
        longest = max(longest, float(steps[both & (steps < 3 * STEP_MM)].sum()))
    return longest


def facing(plan: CradlePlan, piece: CradlePiece) -> Faces:
    """Points on the wood that look at the instrument."""
    if not piece.upright:
        return _block_faces(plan, piece)
    ring = np.asarray(shapely.segmentize(piece.shape.exterior, STEP_MM).coords)[:-1]
    y0, z0, y1, z1 = piece.shape.bounds
    cut = (
        (ring[:, 0] > y0 + 0.1)
        & (ring[:, 0] < y1 - 0.1)
        & (ring[:, 1] > z0 + 0.1)
        & (ring[:, 1] < z1 - 1e-6)
    )
    curve = ring[cut][np.argsort(ring[cut][:, 0], kind="stable")]
    xs = (piece.span[0], sum(piece.span) / 2, piece.span[1])
    points = [np.column_stack([np.full(len(curve), x), curve]) for x in xs]
    slot = [np.full(len(curve), piece.slot is not None)] * 3
    if piece.key == "tail":
        face = _tail_face(plan.solid, piece, plan.lift.mm)
        points += face
        slot += [np.zeros(len(f), dtype=bool) for f in face]
    return _faces(points, slot)


def _faces(points: list[Array], slot: list[NDArray[np.bool_]]) -> Faces:
    points = [p for p in points if len(p)]
    slot = [s for s in slot if len(s)]
    if not points:
        return Faces(np.zeros((0, 3)), np.zeros(0, dtype=np.intp), np.zeros(0, dtype=bool))
    rows = np.concatenate([np.full(len(p), i, dtype=np.intp) for i, p in enumerate(points)])
    return Faces(np.vstack(points), rows, np.concatenate(slot))


def _levels(solid: Solid, x: Array, lift: float, top: float, whole: bool) -> list[Array]:
    """Three runs of (N,) heights at which the body's side stands before wood that reaches up to
    `top`; NaN where it does not. Without `whole`, where the side is widest."""
    body = solid.part("body")
    if not isinstance(body, Slab):
        return []
    low = lift + (body.low.at(x) if whole else body.widest_from(x)) + EDGE_MM
    high = np.minimum(top - 0.5, lift + body.high.at(x) - EDGE_MM)
    high = np.where(high > low, high, np.nan)
    return [low + share * (high - low) for share in (0.0, 0.5, 1.0)]


def _tail_face(solid: Solid, piece: CradlePiece, lift: float) -> list[Array]:
    """The face towards the body, where there is wood."""
    x = piece.span[1]
    y0, _, y1, top = piece.shape.bounds
    rows = []
    y = np.arange(y0 + 0.5, y1, STEP_MM)
    for z in _levels(solid, np.zeros(len(y)), lift, float(top), True):
        inside = np.isfinite(z) & shapely.contains_xy(piece.shape, y, z)
        rows.append(np.column_stack([np.full(len(y), x), y, z])[inside])
    return rows


def _block_faces(plan: CradlePlan, piece: CradlePiece) -> Faces:
    ring = np.asarray(shapely.segmentize(piece.shape.exterior, STEP_MM).coords)[:-1]
    x0, y0, x1, y1 = piece.shape.bounds
    edges = [np.abs(ring[:, 0] - v) < 0.05 for v in (x0, x1)]
    edges += [np.abs(ring[:, 1] - v) < 0.05 for v in (y0, y1)]
    curve = ring[~np.any(edges, axis=0)]
    curve = curve[np.argsort(curve[:, 0], kind="stable")]
    points = [
        np.column_stack([curve, z])[np.isfinite(z)]
        for z in _levels(plan.solid, curve[:, 0], plan.lift.mm, piece.span[1], False)
    ]
    return _faces(points, [np.zeros(len(p), dtype=bool) for p in points])


def _play(plan: CradlePlan, fits: tuple[PieceFit, ...]) -> Play:
    def until(axis: int, sign: float) -> float | None:
        """The instrument moved along an axis meets what lies against that movement."""
        found = []
        for fit in fits:
            # wood towards which the instrument moves: it looks back, against the movement
            against = -sign * fit.towards[:, axis]
            faced = against > STOPS
            if faced.any():
                air = np.maximum(fit.gaps - fit.linings, 0.0)[faced] / against[faced]
                found.append(float(air.min()))
        return min(found) if found else None

    seats = [plan.wishes.scheme["body"]] + [f.piece.contact for f in fits]
    return Play(
        until(0, -1.0),
        until(0, 1.0),
        until(1, -1.0),
        until(1, 1.0),
        _sink(seats),
    )


def _sink(seats: list[Contact]) -> float | None:
    found = [c.lining.loaded - c.lining.crushed for c in seats if c.bears]
    return min(found) if found else None
