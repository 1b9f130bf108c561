"""Which needles' ends were misread: they do not go with any back that the others show.

A neck's back is one smooth bow. Seen as the needles stand, it bends one way, and where it does
hollow (a soft V's flanks) it does so over many needles, never from one to the next. And it has no
bump that comes and goes within a few of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline
from scipy.ndimage import median_filter

Array = NDArray[np.float64]
Bad = NDArray[np.bool_]

#: no more needles than this are passed over at once
_MOST_AT_ONCE = 7
#: an end stands above the line between its neighbours by no more than so many times what ends
#: scatter by, and by this at least is nothing, mm
_ABOVE, _ABOVE_MM = 3.5, 0.2
#: an end strays that lies off the smooth bow by so many times what they lie off it usually, and by
#: this at least, mm
_STRAYS, _STRAYS_MM = 4.0, 0.25
#: the outermost ends may lie off it by this part of the step to their neighbour (a guess: a true
#: round back's lie off by a quarter)
_OUTERMOST = 0.4
#: knots of that bow lie so many needles apart; no smaller bump is followed
_NEEDLES_A_KNOT = 3.0
#: a V's ridge is rounded to about this radius (common practice, no source), mm
_RIDGE_MM = 3.0
#: and is sought so many needles to both sides of where it seems to be deepest
_RIDGE_WITHIN = 4
#: third differences of the bow are believed to be of this size, mm (a guess)
_THIRD_MM = 0.3
#: where a needle stands across the row is known to this part of the pitch, standard
_PLACE = 0.06


def misread(at: Array, row: Array, pitch: float, sigma: float) -> tuple[Bad, Array]:
    """(K,) which ends do not go with the others, and (K,) mm the smooth bow through these.

    Args:
        at: (K,) mm across, evenly spaced, from edge to edge of the hollow.
        row: (K,) mm, ends; NaN where none was seen. The hollow opens upwards.
        pitch: of the needles, mm.
        sigma: by which ends scatter, mm, standard.
    """
    bad = np.zeros(len(row), dtype=bool)
    for _ in range(2):
        off, _ = _off_the_bow(at, np.where(bad, np.nan, row), pitch, sigma)
        bad |= off
        bad |= _bent_back(at, np.where(bad, np.nan, row), sigma)
    return bad, _off_the_bow(at, np.where(bad, np.nan, row), pitch, sigma)[1]


def _bent_back(at: Array, row: Array, sigma: float) -> Bad:
    """Ends outside the longest chain that bends one way (by a recursion over its last two)."""
    known = np.flatnonzero(np.isfinite(row))
    u, v = at[known], row[known]
    n = len(known)
    bad = np.zeros(len(row), dtype=bool)
    if n < 6:
        return bad
    allowed = max(_ABOVE * sigma, _ABOVE_MM)
    length = {(i, j): 2.0 for j in range(n) for i in range(max(j - _MOST_AT_ONCE, 0), j)}
    before: dict[tuple[int, int], int] = {}
    for j in range(1, n):
        for i in range(max(j - _MOST_AT_ONCE, 0), j):
            for k in range(j + 1, min(j + _MOST_AT_ONCE + 1, n)):
                share = (u[j] - u[i]) / (u[k] - u[i])
                above = v[j] - (v[i] + share * (v[k] - v[i]))
                # of chains as long the one that wavers least
                found = length[i, j] + 1 - 0.3 * max(above, 0.0) / allowed
                if above <= allowed and found > length.get((j, k), 0.0):
                    length[j, k], before[j, k] = found, i
    pair = max(length, key=lambda p: length[p])
    chain = [pair[1], pair[0]]
    while pair in before:
        pair = (before[pair], pair[0])
        chain.append(pair[0])
    left = np.ones(n, dtype=bool)
    left[chain] = False
    bad[known[left]] = True
    return bad


def _off_the_bow(at: Array, row: Array, pitch: float, sigma: float) -> tuple[Bad, Array]:
    """Ends that lie off the smooth bow through the others, and (K,) mm that bow.

    A V has a ridge near where it is deepest. Where that is no single needle tells, misread as it
    may be: of the places about there the one is taken whose bow goes with the most ends.
    """
    known = np.flatnonzero(np.isfinite(row))
    bad = np.zeros(len(row), dtype=bool)
    if len(known) < 12:
        return bad, np.interp(at, at[known], row[known])
    flexible = _Flexible(at, row, pitch, sigma)
    calm = median_filter(np.interp(at, at[known], row[known]), 5)
    deepest = int(np.argmin(calm[2:-2])) + 2
    about = range(max(deepest - _RIDGE_WITHIN, 0), min(deepest + _RIDGE_WITHIN, len(at) - 1) + 1)
    bows = [flexible.bow(float(at[k])) for k in about]
    best = min(bows, key=lambda bow: bow.against)
    bad[known[best.far]] = True
    return bad, best.curve


@dataclass(frozen=True)
class _Bow:
    """(K,) mm a smooth bow; which known ends lie far off it; what all of them say against it."""

    curve: Array
    far: Bad
    against: float


class _Flexible:
    """Smooth bows through ends (cubic B-splines with a penalty on third differences, Eilers and
    Marx 1996, its residuals weighted after Tukey).

    A bow is laid over the angle under which its middle is seen, for there its ends, as steep as
    may be, are as smooth as its middle.
    """

    def __init__(self, at: Array, row: Array, pitch: float, sigma: float) -> None:
        self.at, self.pitch = at, pitch
        self.known = np.flatnonzero(np.isfinite(row))
        self.v = row[self.known]
        middle, self.half = (at[0] + at[-1]) / 2, (at[-1] - at[0]) / 2 + pitch / 2
        angle = np.arcsin(np.clip((at - middle) / self.half, -1.0, 1.0))
        count = max(round(len(at) / _NEEDLES_A_KNOT), 6)
        inner = np.linspace(angle[0], angle[-1], count)
        step = inner[1] - inner[0]
        knots = np.concatenate(
            [inner[0] + step * np.arange(-3, 0), inner, inner[-1] + step * np.arange(1, 4)]
        )
        within = np.clip(angle, inner[0], inner[-1] - 1e-9)
        self.basis = BSpline.design_matrix(within, knots, 3).toarray()
        self.third = np.diff(np.eye(self.basis.shape[1]), n=3, axis=0)
        self.slope = np.gradient(np.interp(at, at[self.known], self.v), at)[self.known]
        self.usual = max(sigma, 0.05)

    def bow(self, ridge: float) -> _Bow:
        """The bow with a ridge there, as high as the ends say, or none."""
        basis = np.column_stack([self.basis, np.hypot(self.at - ridge, _RIDGE_MM) / self.half])
        third = np.column_stack([self.third, np.zeros(len(self.third))])
        v, b, slope = self.v, basis[self.known], self.slope
        weight = np.ones(len(v))
        for turn in range(12):
            if turn < 3:  # no end is believed more than its neighbours at first
                spread = np.hypot(self.usual, _PLACE * self.pitch * np.abs(slope))
            lhs = b.T @ ((weight / spread**2)[:, None] * b) + third.T @ third / _THIRD_MM**2
            coefficients = np.linalg.solve(lhs, b.T @ (weight / spread**2 * v))
            curve = basis @ coefficients
            slope = np.gradient(curve, self.at)[self.known]
            off = (v - b @ coefficients) / spread
            scale = max(1.4826 * float(np.median(np.abs(off))), 0.5)
            ratio = off / (4.5 * scale)
            weight = np.where(np.abs(ratio) < 1, (1 - ratio**2) ** 2, 0.0) + 1e-6
        far = np.abs(off) > np.maximum(_STRAYS * max(scale, 0.7), _STRAYS_MM / spread)
        # how steep a flank ends nobody knows: to the outermost much is allowed
        steps = np.abs(np.diff(v))[[0, -1]]
        far[[0, -1]] &= np.abs(off * spread)[[0, -1]] > _OUTERMOST * steps
        # of a misread end no more than that it is one
        against = np.minimum(np.abs(off) / _STRAYS, 1.0) ** 2
        bent = third @ coefficients / _THIRD_MM
        return _Bow(curve, far, float(against.sum() + (bent**2).sum() / _STRAYS**2))
