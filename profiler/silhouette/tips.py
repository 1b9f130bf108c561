"""Where needles end: for all of them together.

Each cell along a needle speaks for needle or for mat (`needle_or_mat`); an end at some place is as
likely as all that the cells inside and outside of it say. A needle has two ends, and all needles
being about as long, its far end says where its near one is. Along the row the ends run on smoothly,
but for where the wood begins (the best chain by Viterbi's recursion, 1967). An end that could as
well be elsewhere is not told.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.silhouette.needle_or_mat import Looks
from profiler.silhouette.needle_step import steps_at

Array = NDArray[np.float64]
Index = NDArray[np.intp]

#: an end is sought so far inside and outside of where the silhouette ends, mm
_INWARD_MM, _OUTWARD_MM = 12.0, 12.0
#: places that are looked at of each needle
_MOST = 8
#: most nats that all cells together may say against a place
_MOST_AGAINST = 30.0
#: ends bend from one needle to the next by about this, mm (a guess; where the wood begins, by much
#: more, so the chance of that falls off slowly)
_BEND_MM = 0.12
#: nats of a bend that is not known
_UNKNOWN_BEND = 1.0
#: an end is not told where another, farther off than this, mm, is as likely but for so many nats,
#: with a place between them that is not; or where nothing tells it over so many mm
_ELSEWHERE_MM, _AS_LIKELY, _RIDGE, _BLANK_MM = 1.0, 2.0, 0.7, 2.5
#: an end whose step cannot be fitted is where the cells part, if that is no wider than this, mm
_WIDEST_MM = 0.4
#: cells so near to an end, mm, differ by so many nats at least in what they speak for (a guess)
_CLOSE_MM, _CLEARLY = (0.2, 1.4), 2.0
#: their length is sought so far from what most show, mm; it is denied by a needle that says this
#: many nats against it, and this part of the needles must not
_LENGTHS_MM, _DENIED, _LEAST_ALIKE = 6.0, 8.0, 0.4


@dataclass(frozen=True)
class Ends:
    """One end of each needle.

    Attributes:
        v: (K,) mm along the needles, NaN where it cannot be told.
        sigma: (K,) mm, standard, of each from the photo's own noise.
    """

    v: Array
    sigma: Array


def trace_tips(
    looks: Looks, inside: NDArray[np.bool_], first_v: float, cell: float, blur: float
) -> tuple[Ends, Ends]:
    """Upper and lower ends of all needles.

    Args:
        looks: of needles and mat.
        inside: (H, K) what is thought to be needle.
        first_v: mm, of the first row.
        cell: mm.
        blur: mm, of the photo, sigma.
    """
    # both sides turned so that outside is up
    costs = [_cost(looks, inside, up, cell) for up in (True, False)]
    rows = [_best_chain([_choice(c[:, k]) for k in range(c.shape[1])], cell) for c in costs]
    length = _length(costs, rows, cell)
    alone = rows
    if length is not None:
        both = costs[0] + _mirrored(costs[1], length)
        both -= both.min(axis=0)
        choices = [_choice(both[:, k]) for k in range(both.shape[1])]
        together = _best_chain(choices, cell)
        rows = [together, length - together]
        parted = _parted(looks, rows[0], True, cell) | _parted(looks, rows[1], False, cell)
        sure = _sure(both, together, cell) & parted
        told = [sure, sure]
    else:
        told = [
            _sure(c, r, cell) & _parted(looks, r, up, cell)
            for c, r, up in zip(costs, rows, (True, False), strict=True)
        ]
    height = len(looks.seen)
    found = []
    for up, row, good in zip((True, False), rows, told, strict=True):
        fine, sigma, clear = steps_at(looks, row, up, cell, blur)
        found.append((fine, np.where(clear, sigma, np.inf), good))
    if length is not None:
        found = _one_of_two(found, cell)
        # where both ends say so on their own
        basin = _basin(both, rows[0], cell)
        basin[~(np.abs(alone[0] + alone[1] - length) * cell < _WIDEST_MM)] = np.inf
        found = [
            (
                np.where(np.isfinite(v), v, np.where(basin < _WIDEST_MM / cell, r, np.nan)),
                np.where(np.isfinite(v), s, basin),
                told[0] & (np.isfinite(v) | (basin < _WIDEST_MM / cell)),
            )
            for (v, s, _), r in zip(found, rows, strict=True)
        ]
    ends = []
    for up, (row, sigma, good) in zip((True, False), found, strict=True):
        # an end lies before its row's middle
        at = row - 0.5 if up else height - 0.5 - row
        ends.append(Ends(np.where(good, first_v + at * cell, np.nan), sigma * cell))
    return ends[0], ends[1]


def _one_of_two(
    found: list[tuple[Array, Array, NDArray[np.bool_]]], cell: float
) -> list[tuple[Array, Array, NDArray[np.bool_]]]:
    """Each end as its own step and that of the needle's other end show it, each as well as it is
    seen and needles are as long as each other."""
    (a, sa, good), (b, sb, _) = found
    total = a + b
    seen = np.isfinite(sa) & np.isfinite(sb) & good & np.isfinite(total)
    if seen.sum() < 8:
        return found
    length = float(np.median(total[seen]))
    uneven = 1.4826 * float(np.median(np.abs(total[seen] - length)))
    # what they differ by beyond what each is known to
    own = float(np.median(np.hypot(sa[seen], sb[seen])))
    apart = float(np.sqrt(max(uneven**2 - own**2, 0.0)))
    # one of the two is off where they contradict each other: the less sure one
    out = []
    for (x, sx), (y, sy) in (((a, sa), (b, sb)), ((b, sb), (a, sa))):
        other, so = length - y, np.hypot(sy, apart)
        wx, wo = 1 / np.maximum(sx, 1e-3) ** 2, 1 / np.maximum(so, 1e-3) ** 2
        mean = wx * np.nan_to_num(x) + wo * np.nan_to_num(other)
        whole = wx + wo
        with np.errstate(all="ignore"):
            value = np.where(whole > 0, mean / whole, np.nan)
        sigma = 1 / np.sqrt(np.maximum(whole, 1e-12))
        contrary = np.abs(x - other) > np.maximum(4 * np.hypot(sx, so), 0.25 / cell)
        better = np.where(wx >= wo, x, other)
        value = np.where(contrary & np.isfinite(x) & np.isfinite(other), better, value)
        out.append((value, sigma, good & np.isfinite(value) & (whole > 1e-9)))
    return out


def _cost(looks: Looks, inside: NDArray[np.bool_], up: bool, cell: float) -> Array:
    """(H, K) nats against an end just before each row, outside being up; infinite out of reach."""
    for_mat = looks.for_mat * looks.worth
    if not up:
        for_mat, inside = for_mat[::-1], inside[::-1]
    height, count = for_mat.shape
    last = height - 1 - np.argmax(inside[::-1], axis=0)
    cost = np.full((height, count), np.inf)
    for k in range(count):
        if not inside[:, k].any():
            continue
        low = max(int(last[k]) - round(_INWARD_MM / cell), 2)
        high = min(int(last[k]) + round(_OUTWARD_MM / cell), height - 2)
        summed = np.concatenate([[0.0], np.cumsum(for_mat[low:high, k])])
        cost[low : high + 1, k] = summed - summed.min()
    return cost


def _mirrored(cost: Array, length: float) -> Array:
    """The cost of the other end, at the rows of this one: rows of both add up to the length."""
    height = len(cost)
    rows = length - np.arange(height)
    at = np.rint(rows).astype(np.intp)
    inside = (at >= 0) & (at < height)
    out = np.full_like(cost, np.inf)
    out[inside] = cost[at[inside]]
    # out of that end's reach it says nothing more than its worst
    worst = np.where(np.isfinite(cost), cost, -np.inf).max(axis=0)
    return np.where(np.isfinite(out), out, np.where(np.isfinite(worst), worst, 0.0)[None, :])


def _choice(cost: Array) -> tuple[Array, Array]:
    """Rows where one needle may end, a single NaN where nobody knows; and nats against each."""
    known = np.isfinite(cost)
    if not known.any():
        return np.array([np.nan]), np.array([0.0])
    filled = np.where(known, cost, np.inf)
    before = np.concatenate([[np.inf], filled[:-1]])
    after = np.concatenate([filled[1:], [np.inf]])
    low = np.flatnonzero(known & (filled <= before) & (filled < after))
    low = low[np.argsort(filled[low])][:_MOST]
    against = filled[low] - filled[low].min()
    return low.astype(np.float64), np.minimum(against, _MOST_AGAINST)


def _sure(cost: Array, rows: Array, cell: float) -> NDArray[np.bool_]:
    """(K,) whether no place farther off is about as likely as the one that was chosen."""
    sure = np.isfinite(rows)
    far, blank = round(_ELSEWHERE_MM / cell), round(_BLANK_MM / cell)
    for k in np.flatnonzero(sure):
        at = int(rows[k])
        for side in (cost[at::-1, k], cost[at:, k]):
            against = side - side[0]
            # what has to be climbed over to get there
            against = against[np.isfinite(against)]
            ridge = np.maximum.accumulate(against)
            rivals = (against < _AS_LIKELY) & (ridge - against > _RIDGE)
            if rivals[far:].any() or (against[blank:] < _RIDGE).any():
                sure[k] = False
    return sure


def _parted(looks: Looks, rows: Array, up: bool, cell: float) -> NDArray[np.bool_]:
    """(K,) whether the cells on both sides of an end tell clearly different things.

    Over a long way even looks that are all but the same add up to something; that is no end.
    """
    for_mat = looks.for_mat if up else looks.for_mat[::-1]
    near, far = round(_CLOSE_MM[0] / cell), round(_CLOSE_MM[1] / cell)
    parted = np.zeros(len(rows), dtype=bool)
    for k in np.flatnonzero(np.isfinite(rows)):
        at = int(rows[k])
        inner = for_mat[max(at - far, 0) : max(at - near, 0), k]
        outer = for_mat[at + near : at + far, k]
        if len(inner) and len(outer):
            parted[k] = outer.mean() - inner.mean() > _CLEARLY
    return parted


def _basin(cost: Array, rows: Array, cell: float) -> Array:
    """(K,) half of how many rows round the chosen one are about as likely; infinite for none."""
    half = np.full(len(rows), np.inf)
    for k in np.flatnonzero(np.isfinite(rows)):
        at = int(rows[k])
        against = cost[:, k] - cost[at, k]
        up, down = (np.flatnonzero(~(side < _RIDGE)) for side in (against[at:], against[at::-1]))
        if len(up) and len(down):
            half[k] = max((int(up[0]) + int(down[0])) / 2, 0.1 / cell)
    return half


def _length(costs: list[Array], rows: list[Array], cell: float) -> float | None:
    """Sum of the rows of both ends that goes best with all needles; None where no one does."""
    total = rows[0] + rows[1]
    total = total[np.isfinite(total)]
    if len(total) < 8:
        return None
    near = round(float(np.median(total)))
    one, other = (np.minimum(c, _DENIED) for c in costs)
    height = len(one)
    reach = round(_LENGTHS_MM / cell)
    denials = []
    for length in range(near - reach, near + reach + 1):
        low, high = max(length - height + 1, 0), min(length, height - 1)
        both = one[low : high + 1] + other[length - high : length - low + 1][::-1]
        denials.append(np.minimum(both.min(axis=0), _DENIED))
    against = np.array(denials)
    best = int(np.argmin(against.sum(axis=1)))
    if (against[best] < _AS_LIKELY).mean() < _LEAST_ALIKE:
        return None
    return float(near - reach + best)


def _best_chain(choices: list[tuple[Array, Array]], cell: float) -> Array:
    """(K,) the rows of the chain that costs least: of each needle's choice, and of each bend."""
    total = choices[0][1][:, None] + choices[1][1][None, :]  # of the last two choices
    back: list[Index] = []
    for (a, _), (b, _), (c, cost) in zip(choices, choices[1:], choices[2:], strict=False):
        bend = cell * np.abs(a[:, None, None] - 2 * b[None, :, None] + c[None, None, :])
        price = np.where(np.isnan(bend), _UNKNOWN_BEND, np.log1p((bend / _BEND_MM) ** 2))
        whole = total[:, :, None] + price
        back.append(np.argmin(whole, axis=0))
        total = whole.min(axis=0) + cost[None, :]
    i, j = np.unravel_index(int(np.argmin(total)), total.shape)
    chosen = [int(j), int(i)]
    for step in reversed(back):
        chosen.append(int(step[chosen[-1], chosen[-2]]))
    return np.array([choices[k][0][i] for k, i in enumerate(reversed(chosen))])
