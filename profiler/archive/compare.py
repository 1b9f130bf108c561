"""Two measurements of the same instrument over each other: what differs, is it more than we know.

The bodies are laid over each other by least squares; what the neck and the head then do shows as it
is. A difference is told with U = √(u95₁² + u95₂²), as for independent measurements (JCGM 100,
5.1.2). What both photos share, as the same lens record, makes the true U smaller than that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree

from profiler.geometry.curves import evenly_spaced, outward_normals, runs_of
from profiler.instrument.record import Measurement, Quantity

Array = NDArray[np.float64]

SPACING_MM = 2.0
#: fewer body points than this, and the whole outline is laid over
LEAST_BODY = 40
#: a run of points that exceeds the uncertainty is only told if it is so long, mm
LEAST_RUN_MM = 6.0
#: matches further apart than this are no match when the bodies are laid over, mm
FARTHEST_MM = 30.0
_ROUNDS = 40


@dataclass(frozen=True)
class PartDifference:
    """How one part lies compared with before.

    Attributes:
        part: its name.
        along, sideways: mm, how far it has gone towards the head, and to the left.
        u95: mm, of either.
        largest: mm, the largest difference of its outline, across it; positive outwards.
        largest_u95: mm, there.
        exceeding: mm of its outline that differ by more than the uncertainty.
    """

    part: str
    along: float
    sideways: float
    u95: float
    largest: float
    largest_u95: float
    exceeding: float

    @property
    def moved(self) -> bool:
        """Whether it lies elsewhere by more than the uncertainty."""
        return max(abs(self.along), abs(self.sideways)) > self.u95


@dataclass(frozen=True)
class NumberDifference:
    """One number then and now, mm; None where one of them is not known."""

    name: str
    before: float | None
    now: float | None
    u95: float | None

    @property
    def difference(self) -> float | None:
        if self.before is None or self.now is None:
            return None
        return self.now - self.before

    @property
    def exceeds(self) -> bool | None:
        """None where it cannot be told."""
        difference = self.difference
        return None if difference is None or self.u95 is None else abs(difference) > self.u95


@dataclass(frozen=True)
class Comparison:
    """All of it.

    Attributes:
        before, now: (N, 2), (M, 2) mm in the older one's frame.
        points, normals: (K, 2) along the newer outline, and outwards.
        difference, u95: (K,) mm across it, positive outwards.
        part: (K,) which part each point belongs to.
        exceeding: (K,) whether it belongs to a run that exceeds the uncertainty.
        parts, numbers: in words.
        laid_by: 'body' or 'whole outline'.
    """

    before: Array
    now: Array
    points: Array
    normals: Array
    difference: Array
    u95: Array
    part: tuple[str, ...]
    exceeding: NDArray[np.bool_]
    parts: tuple[PartDifference, ...]
    numbers: tuple[NumberDifference, ...]
    laid_by: str

    @property
    def same(self) -> bool:
        """Whether nothing differs by more than the uncertainty."""
        return not self.exceeding.any() and not any(n.exceeds for n in self.numbers)


def compare(before: Measurement, now: Measurement) -> Comparison:
    """Lay the newer one over the older one and take the differences."""
    old = _Old(before)
    body = np.array([p in ("body", "back") for p in now.outline_part])
    by_body = bool(body.sum() >= LEAST_BODY and old.body is not None)
    outline = _laid(now.outline, old, body if by_body else np.ones(len(body), bool), by_body)
    points = evenly_spaced(outline, SPACING_MM)
    nearest = KDTree(outline).query(points)[1]
    normals = outward_normals(points, 3 * SPACING_MM)
    foot, index = old.foot(points)
    # across the outline: the gap to the old line, outwards where the new point is outside it
    gap = np.hypot(*(points - foot).T)
    outside = ~shapely.contains_xy(old.polygon, points[:, 0], points[:, 1])
    difference = np.where(outside, gap, -gap)
    u95 = np.hypot(now.outline_u95[nearest], before.outline_u95[index])
    part = tuple(now.outline_part[i] for i in nearest)
    exceeding = _runs(np.abs(difference) > u95)
    return Comparison(
        before.outline,
        outline,
        points,
        normals,
        difference,
        u95,
        part,
        exceeding,
        _parts(points, old, difference, u95, np.array(part), exceeding),
        _numbers(before, now),
        "body" if by_body else "whole outline",
    )


class _Old:
    """The older outline, with what is needed to be near it."""

    def __init__(self, m: Measurement) -> None:
        self.outline = m.outline
        self.polygon = shapely.Polygon(m.outline)
        ring = self.polygon.exterior
        self.fine = np.asarray(ring.segmentize(0.5).coords)[:-1]
        self.tree = KDTree(self.fine)
        self.across = outward_normals(self.fine, 2.0)
        self.points = KDTree(m.outline)
        body = np.array([p in ("body", "back") for p in m.outline_part])
        self.body = body if body.sum() >= LEAST_BODY else None
        shapely.prepare(self.polygon)

    def normals(self, points: Array) -> Array:
        """(K, 2) outward normals of the line next to these points."""
        across: Array = self.across[self.tree.query(points)[1]]
        return across

    def foot(self, points: Array) -> tuple[Array, NDArray[np.intp]]:
        """(K, 2) nearest points of the line, (K,) the outline point next to each."""
        at = self.tree.query(points)[1]
        there = self.fine[at]
        gap = np.hypot(*(points - there).T)
        for side in (-1, 1):  # onto the pieces of line before and behind the nearest corner
            piece = self.fine[(at + side) % len(self.fine)] - self.fine[at]
            along = ((points - self.fine[at]) * piece).sum(axis=1)
            share = along / np.maximum((piece**2).sum(axis=1), 1e-12)
            foot = self.fine[at] + np.clip(share, 0.0, 1.0)[:, None] * piece
            closer = np.hypot(*(points - foot).T) < gap
            there = np.where(closer[:, None], foot, there)
            gap = np.hypot(*(points - there).T)
        return there, np.asarray(self.points.query(there)[1], dtype=np.intp)


def _laid(outline: Array, old: _Old, chosen: NDArray[np.bool_], by_body: bool) -> Array:
    """The newer outline moved so that the chosen points lie best, robustly (Huber, 1964)."""
    laid = outline.copy()
    for _ in range(_ROUNDS):
        points = laid[chosen]
        foot, index = old.foot(points)
        apart = points - foot
        gap = np.hypot(*apart.T)
        use = gap < FARTHEST_MM
        if by_body and old.body is not None:
            use &= old.body[index]
        if use.sum() < 10:
            return laid
        points, foot, gap, across = points[use], foot[use], gap[use], old.normals(points[use])
        weight = np.minimum(1.0, 1.5 * max(float(np.median(gap)), 0.02) / np.maximum(gap, 1e-9))
        middle = points.mean(axis=0)
        arm = points - middle
        # point to line: what slides along the line costs nothing
        rows = np.column_stack([across, across[:, 1] * arm[:, 0] - across[:, 0] * arm[:, 1]])
        off = ((points - foot) * across).sum(axis=1)
        root = np.sqrt(weight)
        move, *_ = np.linalg.lstsq(rows * root[:, None], -off * root, rcond=None)
        c, s = np.cos(move[2]), np.sin(move[2])
        moved = (laid - middle) @ np.array([[c, s], [-s, c]]) + middle + move[:2]
        step = np.abs(moved - laid).max()
        laid = moved
        if step < 1e-4:
            break
    return laid


def _runs(over: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Only runs that are long enough, round the closed outline."""
    if over.all():
        return over
    least = int(np.ceil(LEAST_RUN_MM / SPACING_MM))
    kept = np.zeros_like(over)
    for run in runs_of(over):
        kept[run] = len(run) >= least
    return kept


def _parts(
    points: Array,
    old: _Old,
    difference: Array,
    u95: Array,
    part: NDArray[np.str_],
    exceeding: NDArray[np.bool_],
) -> tuple[PartDifference, ...]:
    found = []
    for name in dict.fromkeys(part.tolist()):
        own = part == name
        if own.sum() < 4:
            continue
        worst = int(np.argmax(np.where(own, np.abs(difference) - u95, -np.inf)))
        shift = _shift(points[own], old)
        found.append(
            PartDifference(
                name,
                float(shift[0]),
                float(shift[1]),
                float(np.median(u95[own])),
                float(difference[worst]),
                float(u95[worst]),
                float(exceeding[own].sum() * SPACING_MM),
            )
        )
    return tuple(found)


def _shift(points: Array, old: _Old) -> Array:
    """(2,) the move after which a stretch of outline lies on the old line as well as it can.

    A direction in which the stretch says nothing (the length of a straight edge) counts as no move.
    """
    shift = np.zeros(2)
    for _ in range(_ROUNDS):
        back = points - shift
        foot, _ = old.foot(back)
        across = old.normals(back)
        signed = ((back - foot) * across).sum(axis=1)
        usable = np.hypot(*(back - foot).T) < FARTHEST_MM
        if not usable.any():
            break
        step, *_ = np.linalg.lstsq(across[usable], signed[usable], rcond=0.15)
        shift = shift + step
        if np.abs(step).max() < 1e-3:
            break
    return shift


def _numbers(before: Measurement, now: Measurement) -> tuple[NumberDifference, ...]:
    pairs = [("length", before.length, now.length), ("widest width", before.width, now.width)]
    pairs.append(("thickest height", before.height, now.height))
    nothing = Quantity(None, None)
    for name in dict.fromkeys((*before.widths, *now.widths)):
        pairs.append(
            (
                f"width, {name.replace('_', ' ')}",
                before.widths.get(name, nothing),
                now.widths.get(name, nothing),
            )
        )
    return tuple(
        NumberDifference(
            name,
            a.value,
            b.value,
            float(np.hypot(a.u95, b.u95)) if a.u95 is not None and b.u95 is not None else None,
        )
        for name, a, b in pairs
        if a.value is not None or b.value is not None
    )
