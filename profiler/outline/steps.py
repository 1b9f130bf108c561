"""Where a body's or a neck's outline jumps as no side does: aside within a few mm, and on.

A side that mirrors the mat, a printed target or a soft shadow that passes for a side: the edge then
goes over from the rim to something else, or from one rim to the other unnoticed. Either way it
turns one way and at once the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from profiler.geometry.curves import evenly_spaced, turns

Array = NDArray[np.float64]

# Guesses, tried on rendered instruments: bodies turn by less, or not back again at once.
#: the curve turns by more than this, degrees, and back within so far, mm
_TURNS_DEG, _WITHIN_MM = 40.0, 16.0
#: jumps aside by less are what an edge strays by, mm
_LEAST_MM = 3.5
#: a button's sides may be as blunt and long as this; what stands out and is so broad is a button or
#: a hook, mm
_BUTTON_TURNS_DEG_WITHIN_MM = (25.0, 24.0)
_BUTTON_MM = (4.0, 20.0)
#: a saddle or an end pin's plate lies so near to the tail and to the centreline, mm
_TAIL_MM, _MIDDLE_MM = 15.0, 35.0
#: a violin's corners lie before this share of the way to the join
_CORNERS_TO = 0.85
#: turns are told from lines through what lies so far before and behind; a step's way before and
#: behind it from so far, mm
_ARMS_MM, _AIM_MM = np.arange(1.0, 6.0), (4.0, 14.0)
_EVERY_MM = 0.5


@dataclass(frozen=True)
class Step:
    """Attributes:
    place: (2,) mm, its middle.
    height: mm that it goes aside.
    """

    place: Array
    height: float


def find_steps(points: Array, may: NDArray[np.bool_], join: float, cornered: bool) -> list[Step]:
    """Steps of a closed outline; one whose own way is longer than 16 mm is none.

    Args:
        points: (N, 2) mm, anticlockwise: x from the tail, y to the left of the centreline.
        may: (N,) points on which a step is looked for.
        join: mm, x where the body ends.
        cornered: whether the body has the violin family's corners, which are no steps; nor is the
            chin rest that stands over its edge.
    """
    curve = evenly_spaced(points, _EVERY_MM)
    turn = turns(curve, _ARMS_MM)
    found = []
    for step in _without_buttons(
        _aside_and_on(curve, turn, _TURNS_DEG, _WITHIN_MM),
        _aside_and_on(curve, turn, *_BUTTON_TURNS_DEG_WITHIN_MM),
    ):
        x, y = step.place
        at_tail = x < _TAIL_MM and abs(y) < _MIDDLE_MM
        corner = cornered and x < _CORNERS_TO * join
        here = may[np.argmin(np.hypot(*(points - step.place).T))]
        if here and not at_tail and not corner and step.height > _LEAST_MM:
            found.append(step)
    return found


#: a step, and whether it turns to the left first
_Turned = tuple[Step, bool]


def _aside_and_on(curve: Array, turn: Array, least_deg: float, within_mm: float) -> list[_Turned]:
    """Where a curve turns by more than that one way and within so far the other."""
    n, within = len(curve), round(within_mm / _EVERY_MM)
    sharpest = maximum_filter1d(np.abs(turn), 2 * round(_AIM_MM[0] / _EVERY_MM) + 1, mode="wrap")
    sharp = np.flatnonzero((np.abs(turn) == sharpest) & (sharpest > np.radians(least_deg)))
    return [
        (Step((curve[a] + curve[b]) / 2, _aside(curve, int(a), int(b))), bool(turn[a] > 0))
        for a, b in zip(sharp, np.roll(sharp, -1), strict=True)
        if (b - a) % n <= within and turn[a] * turn[b] < 0
    ]


def _aside(curve: Array, a: int, b: int) -> float:
    """mm that the curve goes aside between two of its points, seen along its way before and
    behind them; of an arc that is nought."""
    n = len(curve)
    near, far = (round(mm / _EVERY_MM) for mm in _AIM_MM)
    before, behind = curve[(a - far) % n], curve[(b + far) % n]
    leaves, arrives = curve[(a - near) % n], curve[(b + near) % n]
    way = (leaves - before) + (behind - arrives)
    way = way / max(float(np.hypot(*way)), 1e-9)
    x, y = arrives - leaves
    return abs(float(x * way[1] - y * way[0]))


def _without_buttons(steps: Sequence[_Turned], others: Sequence[_Turned]) -> list[Step]:
    """Without those that have a partner as far away as a button is broad, which comes back where
    they go aside. A button's other side may be blunter than a step is: it is among the others."""
    least, most = _BUTTON_MM
    return [
        step
        for step, leftward in steps
        if not any(
            leftward != other_leftward
            and least < float(np.hypot(*(step.place - other.place))) < most
            for other, other_leftward in others
        )
    ]
