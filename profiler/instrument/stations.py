"""Named widths along the instrument, or the reason why one is missing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from profiler.geometry.curves import extent_at

Array = NDArray[np.float64]

#: where a tuner's stem ends and the headstock's side begins is told to this many points, each
#: about a millimetre from the next
_STEM_POINTS = 5


@dataclass(frozen=True)
class Station:
    """A width across the centreline. `low` and `high` are the y of its two ends, mm."""

    name: str
    x: float
    low: float
    high: float

    @property
    def width(self) -> float:
        return self.high - self.low


def find_stations(
    outline: Array, labels: NDArray[np.str_], join: float, nut: float
) -> dict[str, Station | str]:
    """Every named station, or a sentence saying why it is not there.

    Args:
        outline: (M, 2) mm, instrument frame, closed.
        labels: (M,) part of each point.
        join, nut: mm, ends of the neck; equal to the length where there is none.
    """
    length = float(outline[:, 0].max())
    x = np.arange(1.0, length, 1.0)
    low, high = extent_at(outline, x)
    width = np.nan_to_num(high - low)
    found: dict[str, Station | str] = {}

    def at(index: int) -> tuple[float, float, float]:
        return float(x[index]), float(low[index]), float(high[index])

    body = gaussian_filter1d(width, 2.0)[: max(int(join) - 2, 4)]
    waist = _waist(body)
    if waist is None:
        widest = int(np.argmax(body))
        found["lower_bout"] = Station("lower_bout", *at(widest))
        found["waist"] = "the body has no waist between two bouts"
        found["upper_bout"] = "the body has no waist, so no upper bout stands apart"
    else:
        found["lower_bout"] = Station("lower_bout", *at(int(np.argmax(body[:waist]))))
        found["waist"] = Station("waist", *at(waist))
        found["upper_bout"] = Station("upper_bout", *at(waist + int(np.argmax(body[waist:]))))
    if join >= length - 1:
        for name in ("nut", "headstock", "tuners"):
            found[name] = "no neck stands out from the body"
        return found
    if nut >= length - 1:
        found["nut"] = "no headstock stands out at the end of the neck, so the nut is not seen"
        found["headstock"] = found["tuners"] = "no headstock stands out at the end of the neck"
        return found
    found["nut"] = _nut(x, low, high, join, nut)
    plain = outline[labels == "headstock"]
    beside = maximum_filter1d(labels == "tuners", 2 * _STEM_POINTS + 1, mode="wrap")
    clear = outline[(labels == "headstock") & ~beside]
    head = _head_width(clear, nut, length) or _head_width(plain, nut, length)
    found["headstock"] = (
        Station("headstock", *head) if head else "the headstock's sides are hidden by tuners"
    )
    if (labels == "tuners").any():
        tuners = outline[labels == "tuners"]
        top, bottom = tuners[np.argmax(tuners[:, 1])], tuners[np.argmin(tuners[:, 1])]
        found["tuners"] = Station(
            "tuners",
            float((top[0] + bottom[0]) / 2),
            float(min(bottom[1], plain[:, 1].min() if len(plain) else 0.0)),
            float(max(top[1], plain[:, 1].max() if len(plain) else 0.0)),
        )
    else:
        found["tuners"] = "no tuner stands out beside the headstock"
    return found


def _nut(x: Array, low: Array, high: Array, join: float, nut: float) -> Station | str:
    """The neck's end, from both its sides carried on as straight lines.

    The corner itself is rounded, shadowed by the tuners and often crossed by a target; the sides
    leading to it are long.
    """
    straight = (x > max(join + 12.0, nut - 160.0)) & (x < nut - 8.0) & np.isfinite(high - low)
    if straight.sum() < 20:
        return "the neck is too short to tell its width at the nut"
    ends = []
    for side in (low, high):
        weight = np.ones(int(straight.sum()))
        for _ in range(10):
            line = np.polyfit(x[straight] - nut, side[straight], 1, w=np.sqrt(weight))
            left = side[straight] - np.polyval(line, x[straight] - nut)
            weight = 1 / (1 + (left / max(2 * float(np.median(np.abs(left))), 0.05)) ** 2)
        ends.append(float(line[1]))
    return Station("nut", nut, ends[0], ends[1])


def _waist(body: Array) -> int | None:
    """Index of the narrowest place between two bouts, or None."""
    n = len(body)
    best, depth = None, 3.0
    for i in range(n // 6, n - n // 8):
        hollow = min(body[:i].max(), body[i:].max()) - body[i]
        if hollow > depth:
            best, depth = i, hollow
    return best


def _head_width(plain: Array, nut: float, length: float) -> tuple[float, float, float] | None:
    """x, lowest and highest y of the headstock without its tuners, at its widest."""
    if len(plain) < 10:
        return None
    left, right = plain[plain[:, 1] > 0], plain[plain[:, 1] <= 0]
    if len(left) < 5 or len(right) < 5:
        return None
    best: tuple[float, float, float] | None = None
    for x in np.arange(nut + 4.0, length - 2.0, 1.0):
        a = left[np.abs(left[:, 0] - x) < 1.5]
        b = right[np.abs(right[:, 0] - x) < 1.5]
        if len(a) and len(b):
            high, low = float(np.median(a[:, 1])), float(np.median(b[:, 1]))
            if best is None or high - low > best[2] - best[1]:
                best = (float(x), low, high)
    return best
