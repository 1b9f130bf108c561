"""Whether a body has corners as the violin family's have: then its top is arched.

A card in the middle of an arched top lies level, and nothing under it tells the arch. But two
bouts that meet a waist in points are, of all bodies, only those of carved instruments.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, minimum_filter1d

from profiler.geometry.curves import evenly_spaced

Array = NDArray[np.float64]

# Guesses, tried on rendered instruments: corners of violins turn by 45 to 100 degrees.
#: a curve's turn is told over so far before and behind, mm; so much is a corner, degrees
_ARM_MM, _TURNS_DEG = 7, 40.0
#: the curve is hollow on both sides of a corner, within so far, mm, by so much, degrees
_NEAR_MM, _HOLLOW_DEG = 30, 2.0
#: corners lie between these shares of the way from the tail to the join, so far apart, mm
_FROM, _TO, _APART_MM = 0.2, 0.85, 30.0
#: between the two of one side lies a waist, narrower than the narrower one by this share at least
_WAIST = 0.85


def has_corners(points: Array, join: float) -> bool:
    """Whether a body's outline has the violin family's corners.

    Args:
        points: (N, 2) mm, closed, anticlockwise: x from the tail, y to the left of the centreline.
        join: mm, x where the body ends.
    """
    curve = evenly_spaced(points, 1.0)
    came, goes = curve - np.roll(curve, _ARM_MM, axis=0), np.roll(curve, -_ARM_MM, axis=0) - curve
    across = came[:, 0] * goes[:, 1] - came[:, 1] * goes[:, 0]
    turn = np.degrees(np.arctan2(across, (came * goes).sum(axis=1)))
    least = minimum_filter1d(turn, _NEAR_MM, mode="wrap")
    hollow = np.roll(least, _NEAR_MM // 2) < -_HOLLOW_DEG
    hollow &= np.roll(least, -(_NEAR_MM // 2)) < -_HOLLOW_DEG
    peak = turn == maximum_filter1d(turn, 2 * _ARM_MM + 1, mode="wrap")
    x, y = curve.T
    inside = (x > _FROM * join) & (x < _TO * join)
    found = peak & hollow & inside & (turn > _TURNS_DEG)
    sides = [_of_a_pair(curve[found & side], curve) for side in (y > 0, y < 0)]
    # three of the four are enough, for print may hide one
    return None not in sides and sum(count or 0 for count in sides) > 2


def _of_a_pair(corners: Array, curve: Array) -> int | None:
    """How many of the two corners of one side (M, 2) were found; None where they are others, as
    hooks round a drum."""
    if not len(corners):
        return 0
    order = np.argsort(corners[:, 0])
    x, reach = corners[order, 0], np.abs(corners[order, 1])
    groups = np.split(np.arange(len(x)), np.flatnonzero(np.diff(x) > _APART_MM) + 1)
    if len(groups) > 2:
        return None
    if len(groups) == 1:
        return 1
    first, last = groups[0][-1], groups[1][0]
    same_side = np.sign(curve[:, 1]) == np.sign(corners[0, 1])
    between = same_side & (curve[:, 0] > x[first]) & (curve[:, 0] < x[last])
    waist = np.abs(curve[between, 1])
    return 2 if len(waist) and waist.min() < _WAIST * min(reach[first], reach[last]) else None
