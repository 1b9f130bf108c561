"""Where needles stand and which way they run, from the sides of those that stick out.

Along a hollow's flanks each needle is longer than the one beside it: over that length its side is
seen, with the mat beyond it. Such sides are half a needle's thickness from its middle, to the left
on one flank, to the right on the other, so that the thickness falls out; and both ends of the row
have flanks, so that a needle's direction shows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.silhouette.level import Level
from profiler.silhouette.needle_or_mat import Looks
from profiler.silhouette.tips import Ends

Array = NDArray[np.float64]

#: a needle sticks out by so much that its side is looked at; this much is left out at both ends, mm
_STICKS_OUT_MM, _LEFT_OUT_MM = 0.9, 0.3
#: no more of it is looked at than this, mm
_MOST_MM = 8.0
#: a side is sought from so much of the pitch inside a needle's middle, to as much beyond the next's
_WITHIN = 0.1
#: needles' thickness over the pitch, and its standard uncertainty (common practice, no source)
_THICK, _U_THICK = 0.92, 0.04
#: the row's half length as its pitch says is out by this, standard; sides are seen to this, mm
_ROW_MM, _SIDE_MM = 0.1, 0.04
#: part of the pitch to which the row's place was known before, standard
_U_PLACE = 0.15
#: over half a needle's length it leans by this, mm, standard; nothing moves by more than this part
#: of the pitch
_LEAN_MM, _MOST_MOVED = 0.1, 0.6
#: sides that must be seen to say anything
_LEAST = 6


@dataclass(frozen=True)
class Standing:
    """Attributes:
    shift: (K,) mm, by which the needles' middles lie beside where they were thought to be.
    tilt: rad, by which needles lean to the right of straight up.
    moved: (2,) mm, of the row and of its ends away from its middle, in all.
    """

    shift: Array
    tilt: float
    moved: Array


def standing_by_sides(
    level: Level, places: Array, pitch: float, looks: Looks, ends: tuple[Ends, Ends], moved: Array
) -> Standing | None:
    """Where the needles' sides say that they stand; None where too few sides are seen.

    Args:
        level: laid flat at the needles' height.
        places: (K,) mm, about where they are, evenly spaced.
        pitch: mm.
        looks: of needles and mat at these places.
        ends: upper and lower.
        moved: (2,) mm, that they were moved by already, as `Standing` has it.
    """
    found = []
    for end, up in zip(ends, (True, False), strict=True):
        rows = (end.v - level.corner[1]) / level.cell
        for k in range(len(places) - 1):
            for long, short in ((k, k + 1), (k + 1, k)):
                out = rows[long] - rows[short] if up else rows[short] - rows[long]
                if not out * level.cell > _STICKS_OUT_MM:
                    continue
                side = _side(level, looks, places, pitch, long, short, rows, up)
                if side is not None:
                    found.append((places[long], *side))
    if len(found) < _LEAST:
        return None
    at, off, sign, v = np.array(found).T
    if min((sign > 0).sum(), (sign < 0).sum()) < _LEAST / 3:
        return None
    middle, half = float(places.mean()), float(np.ptp(places)) / 2
    mid_v = (float(v.min()) + float(v.max())) / 2
    tall = max(float(np.ptp(v)) / 2, 1.0)
    design = np.column_stack([np.ones(len(at)), (at - middle) / half, sign, (v - mid_v) / tall])
    # the thickness is near the pitch; the row is about as long as it was thought to be; a needle
    # whose end was misread shows a side where none is
    expected = np.array([-moved[0], -moved[1], _THICK / 2 * pitch, 0.0])
    prior = np.diag([(_U_PLACE * pitch) ** -2, _ROW_MM**-2, (_U_THICK * pitch) ** -2, _LEAN_MM**-2])
    solved = np.array([float(np.median(off - sign * expected[2])), *expected[1:]])
    for _ in range(10):
        left = off - design @ solved
        spread = max(1.4826 * float(np.median(np.abs(left))), _SIDE_MM)
        w = (np.abs(left) < 2.5 * spread) / spread**2
        solved = np.linalg.solve(
            design.T @ (w[:, None] * design) + prior, design.T @ (w * off) + prior @ expected
        )
    shift = solved[0] + solved[1] * (places - middle) / half

    limit = _MOST_MOVED * pitch
    return Standing(np.clip(shift, -limit, limit), float(solved[3]) / tall, moved + solved[:2])


def _side(
    level: Level,
    looks: Looks,
    places: Array,
    pitch: float,
    long: int,
    short: int,
    rows: Array,
    up: bool,
) -> tuple[float, float, float] | None:
    """mm from a needle's middle to its side, and which side: -1 left, 1 right; and its v."""
    cell = level.cell
    rest = _LEFT_OUT_MM / cell
    if up:
        low, high = rows[short] + rest, min(rows[long] - rest, rows[short] + _MOST_MM / cell)
    else:
        low, high = max(rows[long] + rest, rows[short] - _MOST_MM / cell), rows[short] - rest
    span = np.arange(max(round(float(low)), 0), min(round(float(high)), len(looks.seen) - 1))
    if len(span) < 3:
        return None
    sign = 1.0 if short > long else -1.0
    u0 = (places[long] - level.corner[0]) / cell
    # from within the long one to beyond the short one's place: the next one is shorter still
    start = -_WITHIN * pitch / cell
    steps = np.arange(start, (1 + _WITHIN) * pitch / cell + 0.5)
    columns = np.rint(u0 + sign * steps).astype(np.intp)
    if columns.min() < 0 or columns.max() >= level.light.shape[1]:
        return None
    needle, mat = np.exp(looks.needle[span, long]), np.exp(looks.mat[span, short])
    step = mat - needle
    size = (step**2).sum(axis=1)
    light = level.light[np.ix_(span, columns)].astype(np.float64)
    share = ((light - needle[:, None, :]) * step[:, None, :]).sum(axis=2)
    profile = share.sum(axis=0) / max(float(size.sum()), 1e-12)
    # needle at first, mat at last
    if not (profile[:2].mean() < 0.45 and profile[-2:].mean() > 0.55):
        return None
    first, last = float(profile[:2].mean()), float(profile[-2:].mean())
    part = np.clip((profile - first) / (last - first), 0.0, 1.0)
    off = (start + float((1.0 - part).sum()) - 0.5) * cell
    return sign * off, sign, level.corner[1] + float(span.mean()) * cell
