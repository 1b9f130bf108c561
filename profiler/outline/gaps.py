"""Where a rim is not surely shown: the gaps between trusted points, and how it may go on there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from profiler.geometry.curves import at_lengths, heading, hermite_at, lengths_along

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

#: fewer points are no gap, and beside another part none worth a look
_LEAST_GAP, _LEAST_OPEN = 2, 3
#: shorter gaps are carried across, longer ones cannot be expected to go on smoothly, mm
_SHORTEST_MM, _LONGEST_MM = 3.0, 140.0
#: with more points than this, what was seen there is worth following when it is smoothed so far, mm
_WORTH_FOLLOWING, _SMOOTH_MM = 15, 6.0
#: trusted points that a smoothed gap leans on
_MARGIN = 12
#: trusted points whose curve is carried on, how far as a share of them, and past the end, mm
_CURVE_POINTS, _CURVE_SHARE, _PAST_END_MM = 30, 1.2, 4.0
#: a rim that ends this far from where another part begins goes on in an arc, if that lies ahead, by
#: the cosine; points that tell where it is heading
_FAR_MM, _AHEAD, _HEADING_POINTS = 8.0, 0.7, 10


@dataclass(frozen=True)
class Gap:
    """A stretch of one part beside trusted points.

    Attributes:
        first, last: indices of the points before it and behind it.
        between: indices of its points.
        begins, ends: whether the point before it and the one behind it are trusted points of the
            part; where not, another part begins there.
    """

    first: int
    last: int
    between: Indices
    begins: bool
    ends: bool


def gaps_of(trusted: Indices, mine: NDArray[np.bool_], beside_others: bool) -> list[Gap]:
    """The gaps of a part on a closed curve.

    Args:
        trusted: indices of its trusted points, ascending.
        mine: (N,) which points are the part's.
        beside_others: whether those that end where another part begins are wanted too.
    """
    n = len(mine)
    out = []
    for a, b in zip(trusted.tolist(), np.roll(trusted, -1).tolist(), strict=True):
        between = (a + np.arange(1, (b - a) % n)) % n
        if len(between) < _LEAST_GAP:
            continue
        own = mine[between]
        if own.all():
            out.append(Gap(a, b, between, True, True))
            continue
        if not beside_others:
            continue
        lead, trail = int(np.argmin(own)), int(np.argmin(own[::-1]))
        if lead > _LEAST_OPEN:
            out.append(Gap(a, int(between[lead]), between[:lead], True, False))
        if trail > _LEAST_OPEN:
            k = len(between) - trail
            out.append(Gap(int(between[k - 1]), b, between[k:], False, True))
    return out


def beside_drawn(gap: Gap, drawn: NDArray[np.bool_]) -> list[Gap]:
    """What a hand's own points (N,) leave of a gap at its ends: there its line stays."""
    drawn_here = drawn[gap.between]
    if not drawn_here.any():
        return [gap]
    lead, trail = int(np.argmax(drawn_here)), int(np.argmax(drawn_here[::-1]))
    left = []
    if gap.begins and lead > _LEAST_OPEN:
        left.append(Gap(gap.first, int(gap.between[lead]), gap.between[:lead], True, False))
    if gap.ends and trail > _LEAST_OPEN:
        k = len(gap.between) - trail
        left.append(Gap(int(gap.between[k - 1]), gap.last, gap.between[k:], False, True))
    return left


def ways_across(plan: Array, trusted: Indices, gap: Gap) -> list[Array]:
    """How the plan may go on in a gap: smoothly, and as what was seen there when it is smoothed.

    Args:
        plan: (N, 2) mm, closed.
        trusted: indices of the part's trusted points.
        gap: one of `gaps_of`.

    Returns:
        curves (M, 2) mm, about a mm from point to point, in the plan's order.
    """
    a, b, between = gap.first, gap.last, gap.between
    ways = []
    if gap.begins and gap.ends:
        chord = float(np.hypot(*(plan[b] - plan[a])))
        if _SHORTEST_MM < chord < _LONGEST_MM:
            leave, arrive = (
                heading(plan, trusted, int(np.searchsorted(trusted, at)), side)
                for at, side in ((a, -1), (b, +1))
            )
            t = np.arange(1, int(chord) + 1) / (int(chord) + 1)
            ways.append(hermite_at(plan[a], plan[b], leave, arrive, t))
    else:
        length = float(np.hypot(*np.diff(plan[between], axis=0).T).sum())
        if length <= _SHORTEST_MM:
            return []
        far = length + _PAST_END_MM
        ways.append(
            _carried_on(plan, trusted, a, -1, far)
            if gap.begins
            else _carried_on(plan, trusted, b, +1, far)[::-1]
        )
    if len(between) > _WORTH_FOLLOWING:
        ways.append(_smoothed(plan, gap))
    return [way for way in ways if len(way) > _LEAST_GAP]


def on_to(rim: Array, other: Array) -> Array:
    """(K, 2) mm: how a rim (M, 2) goes on from its last place to where another part begins (2,), as
    an arc; none if that is near, for a chord of no length cuts nothing off, or if it lies aside."""
    across = other - rim[-1]
    length = float(np.hypot(*across))
    if length < _FAR_MM:
        return np.empty((0, 2))
    across /= length
    leave = rim[-1] - rim[-min(len(rim), _HEADING_POINTS)]
    leave /= max(float(np.hypot(*leave)), 1e-9)
    if leave @ across < _AHEAD:
        return np.empty((0, 2))
    # an arc arrives turned as far from the chord as it left
    arrive = 2 * (leave @ across) * across - leave
    t = np.arange(1, int(length)) / int(length)
    return hermite_at(rim[-1], other, leave, arrive, t)


def _carried_on(plan: Array, trusted: Indices, at: int, side: int, length: float) -> Array:
    """Points a mm apart, away from a trusted run as it curves at its end."""
    i = int(np.searchsorted(trusted, at))
    run = plan[trusted[(i + side * np.arange(_CURVE_POINTS)) % len(trusted)]]
    along = lengths_along(run)
    whole = max(float(along[-1]), 1e-9)
    bend, slope, _ = np.polyfit(-along / whole, run, 2)
    t = np.arange(1.0, max(min(length, _CURVE_SHARE * whole), 2.0)) / whole
    # it leaves from where the run ends
    ahead: Array = np.outer(t**2, bend) + np.outer(t, slope) + run[0]
    return ahead


def _smoothed(plan: Array, gap: Gap) -> Array:
    """What was there, smooth, leaning on the trusted points on either side."""
    before, behind = _MARGIN * gap.begins, _MARGIN * gap.ends
    count = before + len(gap.between) + behind
    run = plan[(gap.between[0] - before + np.arange(count)) % len(plan)]
    along = lengths_along(run)
    even = _each_mm(run, along)
    smooth = gaussian_filter1d(even, _SMOOTH_MM, axis=0, mode="nearest")
    at = np.arange(len(even)) * 1.0
    inner = (at >= along[before]) & (at <= along[count - 1 - behind])
    # what was folded lies close together once it is smooth
    smooth = smooth[inner]
    return _each_mm(smooth, lengths_along(smooth)) if len(smooth) > _LEAST_GAP else smooth[:0]


def _each_mm(path: Array, along: Array) -> Array:
    return at_lengths(path, along, np.arange(0.0, along[-1], 1.0))
