"""The line that strings run in, from the bridge to the nut, among what a side view shows."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.lines import robust_line

Array = NDArray[np.float64]
Index = NDArray[np.intp]

#: how even an edge is, is looked at so far headward of the highest place, mm
_BESIDE_BRIDGE_MM = 120.0
#: stations that make a line, how near they lie to it, mm, and how it may fall
_LEAST_ON_LINE, _SLACK_MM, _STEEPEST = 12, 0.5, 0.2
#: the line is drawn again so often, through what strays from it no further than so many times the
#: usual
_ROUNDS, _FAR = 3, 2.5
#: stations of it above the rim, between bridge and neck
_LEAST_OVER = 6
#: the line goes on towards the tail over gaps of the length of a bridge, mm; a slip may lie so far
#: before its first station, mm
_BRIDGE_MM, _SLIP_MM = 40.0, 12.0
#: what stands further than this above its strings, mm, on more stations than these over the length
#: of a bridge, or on more than this part of the line's, is no slip
_STANDS_MM, _MOST_STANDING, _MOST_OF_ALL = 1.5, 6, 0.25
#: from station to station a clear edge strays by less than this, mm; one that strays more lies off
#: by so many times as much, standard (seen on rendered photos)
_SMOOTH_MM, _RAGGED = 0.2, 2.5
#: so many stations along a string share their error
ALIKE_STATIONS = 4.0


def straighten(x: Array, top: Array, u: Array, of: list[str], nut: float) -> None:
    """Where strings run straight on from a bridge, what strays from their line is put on it.

    The thickest place is the highest of many that are each a little off, which is more than the
    truth; the line through all of them is not.

    Args:
        x: (N,) mm, stations from the tail.
        top, u: (N,) mm, the upper edge there and its standard uncertainty; changed in place.
        of: what it is there: 'over' is what stands above the rim.
        nut: mm along x.
    """
    words = np.array(of)
    over = np.flatnonzero((words == "over") & np.isfinite(top))
    if not len(over):
        return
    start = x[over[int(np.argmax(top[over]))]]
    beside = over[(x[over] >= start) & (x[over] <= start + _BESIDE_BRIDGE_MM)]
    if len(beside) >= _LEAST_ON_LINE:
        _mistrust_ragged(top, u, over, beside)
    # the longer the line, the surer how high it is at the bridge; but a fretboard may be no string
    to_nut = np.flatnonzero(np.isin(words, ("over", "neck")) & np.isfinite(top))
    to_nut = to_nut[(x[to_nut] >= start) & (x[to_nut] < nut)]
    for strings in (to_nut, beside):
        if len(strings) >= _LEAST_ON_LINE and _laid(x, top, u, over, strings):
            return


def _mistrust_ragged(top: Array, u: Array, over: Index, strings: Index) -> None:
    """What stands above the rim is smooth over the length of its strings. In a dim photo the edge
    follows noise between and above them, and lies off by more than it is ragged."""
    steps = np.diff(top[strings])
    ragged = float(1.4826 * np.median(np.abs(steps - np.median(steps))))
    if ragged > _SMOOTH_MM:
        u[over] = np.hypot(u[over], _RAGGED * ragged)


def _laid(x: Array, top: Array, u: Array, over: Index, strings: Index) -> bool:
    """Whether these stations are strings in a line, onto which they were put."""
    slope, height, _ = robust_line(x[strings], top[strings], _SLACK_MM)
    for _ in range(_ROUNDS):  # what only just lies within the slack may be something else
        strays = np.abs(top[strings] - height - slope * x[strings])
        near = strays < _SLACK_MM
        even = 1.4826 * float(np.median(strays[near])) if near.any() else 0.0
        well = strays < min(max(_FAR * even, _SMOOTH_MM), _SLACK_MM)
        if well.sum() < _LEAST_ON_LINE:
            break
        fitted = np.polyfit(x[strings[well]], top[strings[well]], 1)
        slope, height = float(fitted[0]), float(fitted[1])
    near = np.abs(top[strings] - height - slope * x[strings]) < _SLACK_MM
    if near.sum() < max(_LEAST_ON_LINE, 0.5 * len(strings)) or not -_STEEPEST < slope <= 0:
        return False
    mine = strings[near]
    above = top - height - slope * x
    mine = np.union1d(_towards_the_tail(x, over[np.abs(above[over]) < _SLACK_MM], mine), mine)
    if np.isin(mine, over).sum() < _LEAST_OVER:
        return False
    first = x[mine].min()
    about = over[(x[over] >= first - _SLIP_MM) & (x[over] <= x[mine].max())]
    stands = about[above[about] > _STANDS_MM]
    if (x[stands] < first - _SLIP_MM + _BRIDGE_MM).sum() > _MOST_STANDING:
        return False
    if len(stands) > _MOST_OF_ALL * len(mine):
        return False
    # the line is as sure as what all of its stations share, and what their scatter leaves of
    # itself; neighbours share theirs
    left = float(np.std(above[mine]))
    shared = np.hypot(u[mine].min(), left / np.sqrt(max(len(mine) / ALIKE_STATIONS, 1.0)))
    along = np.union1d(mine, about[above[about] > _SLACK_MM / 2])
    top[along] = height + slope * x[along]
    u[along] = np.minimum(u[along], shared)
    return True


def _towards_the_tail(x: Array, on_line: Index, mine: Index) -> Index:
    """Those of `on_line` that go on from the line's first station, without too long a gap."""
    before = on_line[x[on_line] < x[mine].min()]
    ends = np.append(x[before], x[mine].min())
    gaps = np.flatnonzero(np.diff(ends) > _BRIDGE_MM)
    first = int(gaps[-1]) + 1 if len(gaps) else 0
    going_on: Index = before[first:]
    return going_on
