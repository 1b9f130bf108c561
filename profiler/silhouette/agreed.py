"""Which of the edge's points, each found by itself, go along with their neighbours."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from profiler.geometry.curves import runs_of

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

#: points looked at together; off their middle by so many times the usual and by so much at least,
#: mm, a point does not agree
_TOGETHER, _TIMES, _LEAST_OFF_MM, _USUAL_MM = 9, 6.0, 0.25, 0.03
# What follows are guesses, tried on rendered photos.
#: three points make a line if they are so near to it and reach so far, mm; a fourth goes on along
#: it if it is so near to it and so far on, mm
_STRAIGHT_MM, _REACH_MM = 0.15, (0.8, 4.0)
_GOES_ON_MM, _ON_MM = 0.3, (0.2, 2.2)
#: so many points one after another at most
_MOST_GOING_ON = 12
#: a corner has no more points than this between two lines of so many that agree, which meet no
#: further on than this, mm, at an angle of this sine at least; its points are so near to them, mm
_CORNER_POINTS, _LINE_POINTS, _MEET_MM, _LEAST_SINE, _ON_THE_CORNER_MM = 4, 4, 4.0, 0.5, 1.0


def agrees(offsets: Array) -> Flags:
    """(N,) points of a closed curve that moved as their neighbours did; `offsets` (N,) mm."""
    middle = median_filter(offsets, size=_TOGETHER, mode="wrap")
    away = np.abs(offsets - middle)
    usual = max(1.4826 * float(np.median(away)), _USUAL_MM)
    good: Flags = away < max(_TIMES * usual, _LEAST_OFF_MM)
    return good


def going_on(points: Array, agreed: Flags, found: Flags) -> Flags:
    """(N,) `agreed`, and the points that go on along the line of three of these, one by one.

    Where a rough border cuts a corner off, neighbours move by unlike amounts, and all the same to
    one smooth edge. A highlight within it is smooth too, but goes on from nothing.

    Args:
        points: (N, 2) mm, closed: where each was found.
        agreed: (N,) which go along with their neighbours.
        found: (N,) which may go on.
    """
    told = agreed.copy()
    ways = [_ahead(points, way) for way in (1, -1)]
    for _ in range(_MOST_GOING_ON):
        more = np.zeros(len(points), dtype=bool)
        for way, ahead in zip((1, -1), ways, strict=True):
            before = [np.roll(told, way * k) for k in (1, 2, 3)]
            more |= ahead & before[0] & before[1] & before[2]
        more &= found & ~told
        if not more.any():
            break
        told |= more
    return told


def _ahead(points: Array, way: int) -> Flags:
    """(N,) points that lie ahead on the straight line of the three before them, one way round."""
    last, middle, first = (np.roll(points, way * k, axis=0) for k in (1, 2, 3))
    ahead = last - first
    length = np.hypot(*ahead.T)
    ahead = ahead / np.maximum(length, 1e-9)[:, None]
    across = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    strays, off = (np.abs(((p - first) * across).sum(axis=1)) for p in (middle, points))
    on = ((points - last) * ahead).sum(axis=1)
    straight = (length > _REACH_MM[0]) & (length < _REACH_MM[1]) & (strays < _STRAIGHT_MM)
    return np.asarray(
        straight & (on > _ON_MM[0]) & (on < _ON_MM[1]) & (off < _GOES_ON_MM), dtype=bool
    )


def at_corners(points: Array, agreed: Flags, found: Flags) -> Flags:
    """(N,) a few points between two lines of agreed ones that lie where the lines meet.

    Args:
        points: (N, 2) mm, closed: where each was found.
        agreed: (N,) which go along with their neighbours.
        found: (N,) which were found at all.
    """
    n = len(points)
    told = np.zeros(n, dtype=bool)
    for run in runs_of(~agreed):
        if len(run) > _CORNER_POINTS:
            continue
        back = (run[0] - 1 - np.arange(_LINE_POINTS)) % n
        ahead = (run[-1] + 1 + np.arange(_LINE_POINTS)) % n
        if not (agreed[back].all() and agreed[ahead].all()):
            continue
        a, b = points[back[0]], points[ahead[0]]
        corner = _meeting(a, a - points[back[-1]], b, b - points[ahead[-1]])
        if corner is not None:
            off = np.minimum(_from_leg(points[run], a, corner), _from_leg(points[run], corner, b))
            told[run] = found[run] & (off < _ON_THE_CORNER_MM)
    return told


def _meeting(a: Array, u: Array, b: Array, v: Array) -> Array | None:
    """(2,) where the lines from a along u and from b along v meet, ahead and not far; or None."""
    lengths = np.hypot(*u), np.hypot(*v)
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < _LEAST_SINE * lengths[0] * lengths[1] or not min(lengths) > 0:
        return None
    way = b - a
    legs = (
        (way[0] * v[1] - way[1] * v[0]) / cross * lengths[0],
        (way[0] * u[1] - way[1] * u[0]) / cross * lengths[1],
    )
    if min(legs) < -_GOES_ON_MM or max(legs) > _MEET_MM:
        return None
    meeting: Array = a + legs[0] / lengths[0] * u
    return meeting


def _from_leg(points: Array, a: Array, b: Array) -> Array:
    """(N,) mm from points (N, 2) to the straight way from a to b."""
    way = b - a
    share = np.clip((points - a) @ way / max(float(way @ way), 1e-12), 0.0, 1.0)
    away: Array = np.hypot(*(points - a - share[:, None] * way).T)
    return away
