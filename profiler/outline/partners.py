"""A tuner that print hides altogether, told by its partner across the head.

A pearl button over a white seam, or chrome that mirrors one, shows no edge at all. But tuners stand
in pairs, straight across the head from each other or, pegs, all by the same step further on one
side. Where all of one side's have a partner and the other side has one more, the one that is
missing stands where it would make a pair. A seam that hides one often bites into its partner, for
it runs straight across: so its shape is that of whichever as large a tuner was seen best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.curves import lengths_along, runs_of

Array = NDArray[np.float64]

# Guesses, tried on rendered instruments.
#: a tuner's outline from the head and back is so long, mm
_LEAST_MM, _MOST_MM = 20.0, 110.0
#: partners are this near to where their step along the head puts them, and stand out alike, mm
_NEAR_MM, _ALIKE_MM = 5.0, 8.0
#: pegs' step is no more than this part of how far one stands from the next
_STEP_OF_NEXT = 0.6
#: a tuner as large as its partner stands out as far, mm; and the partner's own shape does where so
#: much of it was seen clearly
_AS_LARGE_MM, _CLEAR_ENOUGH = 2.5, 0.9
#: the head's side where the tuner would stand is told by points so near, and by so many at least
_BESIDE_MM, _LEAST_BESIDE = 10.0, 6


@dataclass(frozen=True)
class Partner:
    """A tuner that was not seen.

    Attributes:
        outline: (M, 2) mm, instrument frame, from the head and back, in the instrument's order.
        first, last: indices of the instrument's points between which it would stand.
        beside: how many tuners were seen on its side of the head, and on the other.
    """

    outline: Array
    first: int
    last: int
    beside: tuple[int, int]

    @property
    def on_left(self) -> bool:
        return bool(self.outline[:, 1].mean() > 0)


@dataclass(frozen=True)
class _Tuner:
    """Attributes:
    run: (N,) indices of its points.
    x: mm, where it stands along the head.
    side: 1 on the left, -1 on the right.
    foot: mm from the centreline, where it leaves the head.
    tip: mm from the centreline that it reaches.
    clear: share of its points that were seen clearly.
    """

    run: NDArray[np.intp]
    x: float
    side: int
    foot: float
    tip: float
    clear: float

    def out_from(self, points: Array) -> Array:
        """(M, 2) mm of it along the head and out from it, from its foot on, as if on the left."""
        ordered = points[self.run][:: self.side]
        out: Array = ordered * (1.0, self.side) - (self.x, self.foot)
        return out


def unseen_partner(
    points: Array, labels: NDArray[np.str_], clear: NDArray[np.bool_]
) -> Partner | None:
    """The one tuner that would make pairs of them all; None where all have a partner, or where
    more than one has none: then the instrument was made so.

    Args:
        points: (N, 2) mm, closed: x from the tail, y to the left of the centreline.
        labels: (N,) part of each.
        clear: (N,) whether each was seen clearly.
    """
    tuners = labels == "tuners"
    left, right = (_on_side(points, tuners, clear, side) for side in (1, -1))
    if abs(len(left) - len(right)) != 1 or not (left and right):
        return None
    few, many = sorted((left, right), key=len)
    alone = _alone(few, many)
    if alone is None:
        return None
    tuner, step = alone
    x, side = tuner.x - step, -tuner.side
    beside = (labels == "headstock") & (points[:, 1] * side > 0)
    beside &= np.abs(points[:, 0] - x) < _BESIDE_MM
    if beside.sum() < _LEAST_BESIDE:
        return None
    foot = float(np.median(np.abs(points[beside, 1])))
    like = _clearest(tuner, [*left, *right])
    # seen from the other side its outline runs the other way round
    outline = (like.out_from(points) + np.array([x, foot]))[::side] * (1.0, side)
    at = np.flatnonzero(beside)
    first, last = (
        int(at[np.hypot(*(points[at] - end).T).argmin()]) for end in (outline[0], outline[-1])
    )
    between = (last - first) % len(points)
    if not 0 < between <= 2 * _BESIDE_MM + 1:
        return None
    return Partner(outline, first, last, (len(few), len(many)))


def _clearest(tuner: _Tuner, others: Sequence[_Tuner]) -> _Tuner:
    """The tuner itself, if it was seen clearly; else the one as large that was seen best."""
    if tuner.clear > _CLEAR_ENOUGH:
        return tuner
    reach = tuner.tip - tuner.foot
    alike = [t for t in others if abs(t.tip - t.foot - reach) < _AS_LARGE_MM]
    return max(alike, key=lambda t: t.clear)


def _on_side(
    points: Array, tuners: NDArray[np.bool_], clear: NDArray[np.bool_], side: int
) -> list[_Tuner]:
    """Whole tuners on one side of the head, from the nut on."""
    found = []
    for run in runs_of(tuners) if tuners.any() else []:
        mine = points[run]
        if not _LEAST_MM < lengths_along(mine)[-1] < _MOST_MM:
            continue
        y = side * mine[:, 1]
        foot = float(y[[0, -1]].mean())
        if foot > 0:
            x, seen = float(mine[[0, -1], 0].mean()), float(clear[run].mean())
            found.append(_Tuner(run, x, side, foot, float(y.max()), seen))
    return sorted(found, key=lambda tuner: tuner.x)


def _alone(few: Sequence[_Tuner], many: Sequence[_Tuner]) -> tuple[_Tuner, float] | None:
    """The one of many that has no partner among the few, and by how much further on than their
    partners the many stand, mm; None unless all of the few have one."""
    next_one = float(np.diff([tuner.x for tuner in many]).min())
    steps = [0.0, *(b.x - a.x for a in few for b in many)]
    for step in sorted(steps, key=abs):
        # of a single one any could be the partner that stands further on
        if abs(step) > (_NEAR_MM if len(few) == 1 else _STEP_OF_NEXT * next_one):
            return None
        taken = [[k for k, b in enumerate(many) if _partners(a, b, step)] for a in few]
        free = set(range(len(many))) - {k for found in taken for k in found}
        if all(len(found) == 1 for found in taken) and len(free) == 1:
            return many[free.pop()], step
    return None


def _partners(one: _Tuner, other: _Tuner, step: float) -> bool:
    return abs(other.x - step - one.x) < _NEAR_MM and abs(other.tip - one.tip) < _ALIKE_MM
