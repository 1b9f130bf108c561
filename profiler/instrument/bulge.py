"""The body's side where it does not go straight up: a round back's bulge, read with a square.

A square stood on the bench and pushed against the body touches it at its widest; how far the side
stands away from the blade at a height is read with calipers or a depth gauge. The highest reading
is of the upper edge, which is what a photo from above shows: all others count from there, below 0
where the side stands out farther.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from profiler.instrument.lofts import HeightLine

Array = NDArray[np.float64]

#: how far down from its top an upper edge may be rounded (common practice, no source), mm
ROUNDED_MM = 4.0
#: levels that a side is cut in, apart, mm
LEVEL_MM = 0.25
#: how much of what was read at one place may differ at another, 95 % (a guess, no source)
ELSEWHERE = 0.3


@dataclass(frozen=True)
class Stand:
    """One place where the square stood.

    Attributes:
        x: from the tail, mm.
        readings: (height above the bench, how far the side stands in from its upper edge), mm,
            heights rising; at least two, the last of them at the edge's top.
    """

    x: float
    readings: tuple[tuple[float, float], ...]

    def away(self, z: Array) -> Array:
        """(N,) mm at heights; level past the ends. A side is smooth: monotone cubic between the
        readings (Fritsch and Carlson, as in SciPy)."""
        heights, inward = np.array(self.readings).T
        curve = PchipInterpolator(heights, inward)
        return np.asarray(curve(np.clip(z, heights[0], heights[-1])), dtype=np.float64)


@dataclass(frozen=True)
class Bulge:
    """The side all round, straight along x between the places read.

    Attributes:
        stands: x rising, at least one.
        u95: of a reading, mm.
    """

    stands: tuple[Stand, ...]
    u95: float = 0.4

    @property
    def low(self) -> HeightLine:
        """Where the readings begin, along x."""
        return HeightLine(tuple((s.x, s.readings[0][0], self.u95) for s in self.stands))

    @property
    def high(self) -> HeightLine:
        """And where they end: the upper edge."""
        return HeightLine(tuple((s.x, s.readings[-1][0], self.u95) for s in self.stands))

    def levels(self, low: float, high: float) -> Array:
        """(K,) heights."""
        return np.linspace(low, high, max(2, int(np.ceil((high - low) / LEVEL_MM)) + 1))

    def away(self, x: Array, z: Array) -> Array:
        """(N, K) mm inside the outline at (N,) x and (K,) z."""
        curves = np.array([s.away(z) for s in self.stands])
        if len(curves) == 1:
            return np.array(np.broadcast_to(curves[0], (len(x), len(z))), dtype=np.float64)
        xs = np.array([s.x for s in self.stands])
        at = np.clip(x, xs[0], xs[-1])
        i = np.clip(np.searchsorted(xs, at) - 1, 0, len(xs) - 2)
        share = ((at - xs[i]) / (xs[i + 1] - xs[i]))[:, None]
        between: Array = curves[i] * (1 - share) + curves[i + 1] * share
        return between

    def distance(self, aside: Array, x: Array, z: Array, low: Array, high: Array) -> Array:
        """(N,) mm from points to the side.

        Args:
            aside: (N,) from the outline seen from above, below 0 within it.
            x, z: (N,) along the instrument and above the bench.
            low, high: (N,) where the side begins and ends there.
        """
        levels = self.levels(float(low.min()), float(high.max()))
        out = np.empty(len(x))
        for first in range(0, len(x), 2000):
            part = slice(first, first + 2000)
            across = np.maximum(aside[part, None] + self.away(x[part], levels), 0.0)
            nearest = np.clip(levels, low[part, None], high[part, None])
            out[part] = np.hypot(across, z[part, None] - nearest).min(axis=1)
        return out

    def stands_out(self, x: Array) -> Array:
        """(N,) mm that the side stands out beyond its upper edge at most."""
        lowest, highest = self.low.at(x), self.high.at(x)
        levels = self.levels(float(lowest.min()), float(highest.max()))
        return np.asarray(np.maximum(-self.away(x, levels).min(axis=1), 0.0))

    def u95_at(self, x: float, z: float) -> float:
        """mm, of the side at one place: more where only another place was read."""
        xs = np.array([s.x for s in self.stands])
        inward = float(np.abs(self.away(np.array([x]), np.array([z]))[0, 0]))
        if len(xs) > 1 and xs[0] <= x <= xs[-1]:
            apart = float(np.abs(xs - x).min()) / float(np.ptp(xs))
        else:
            apart = min(float(np.abs(xs - x).min()) / 100.0, 1.0)
        return float(np.hypot(self.u95, ELSEWHERE * inward * min(2 * apart, 1.0)))


def bulge_of(stands: Sequence[tuple[float, Sequence[tuple[float, float]]]], u95: float) -> Bulge:
    """From places, and readings off the blade in any order."""
    made = []
    for x, readings in sorted(stands):
        top = max(readings)[0]
        # an edge is rounded: a photo shows where it stands out farthest
        edge = min(away for z, away in readings if z >= top - ROUNDED_MM)
        made.append(Stand(x, tuple((z, away - edge) for z, away in sorted(readings))))
    return Bulge(tuple(made), u95)
