"""Runs of an edge that print hides, carried across between their measured ends; and when not to."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.curves import heading, hermite_at, runs_of
from profiler.optics.camera import Camera
from profiler.optics.light import sample_linear
from profiler.silhouette.inked import PRINT_DARK, Divisor

Array = NDArray[np.float64]

#: points: a longer run without a measured edge is not carried across
_LONGEST_BRIDGE = 65
#: a bridge further from the rough contour cuts off what is there, mm: a binding is narrower
_FARTHEST_BRIDGE_MM = 3.2
#: and one further outside of it fills more than a bite of black print out of black wood, mm: a
#: guess, a tag's frame is 3 to 4 wide
_DEEPEST_BITE_MM = 5.0
#: what a bridge cuts off is looked at if it is as wide as this, mm; and it is no ground if it is
#: unlike the ground beside it by more than this: log light, the print divided out
_CUTS_OFF_MM, _UNLIKE_GROUND = 1.2, 0.35


def carried_across(curve: Array, measured: NDArray[np.bool_]) -> tuple[Array, NDArray[np.bool_]]:
    """A closed curve (N, 2), mm, points about a mm apart, its unmeasured runs redrawn smoothly
    between their measured ends, and (N,) where.

    Longer runs and runs that turn a corner keep their rough shape: there is more in them than
    a straight stretch that crosses a printed line.
    """
    n = len(curve)
    if measured.all() or measured.sum() < 0.3 * n:
        return curve, np.zeros(n, dtype=bool)
    bridged = curve.copy()
    carried = np.zeros(n, dtype=bool)
    at = np.flatnonzero(measured)
    for i, (a, b) in enumerate(zip(at, np.roll(at, -1), strict=True)):
        gap = int((b - a) % n)
        if gap < 2:
            continue
        leave, arrive = heading(curve, at, i, -1), heading(curve, at, (i + 1) % len(at), +1)
        chord = float(np.hypot(*(curve[b] - curve[a])))
        bend = float(leave @ arrive)
        if gap > _LONGEST_BRIDGE or bend <= 0.8 or chord < 0.75 * gap:
            continue
        t = np.arange(1, gap) / gap
        inner = (a + np.arange(1, gap)) % n
        bridge = hermite_at(curve[a], curve[b], leave, arrive, t)
        # on the way anticlockwise outward lies to the right
        ahead = (curve[b] - curve[a]) / chord
        outward = (bridge - curve[inner]) @ np.array([ahead[1], -ahead[0]])
        if outward.min() < -_FARTHEST_BRIDGE_MM or outward.max() > _DEEPEST_BITE_MM:
            continue
        bridged[inner] = bridge
        carried[inner] = True
    return bridged, carried


def cuts_off_more_than_ground(
    photo: NDArray[np.uint8],
    camera: Camera,
    curve: Array,
    normals: Array,
    cut_off: Array,
    divisor: Divisor,
) -> NDArray[np.bool_]:
    """(N,) where a bridge would cut off something that is not the printed ground.

    Args:
        photo: (H, W, 3) 8 bit BGR.
        camera: solved.
        curve: (N, 2) mm, mat plane, closed: the rough contour.
        normals: (N, 2) outward.
        cut_off: (N,) mm: how far inside the contour the bridge lies, nought beside bridges.
        divisor: the light of the print, to divide it out.
    """
    told = np.zeros(len(curve), dtype=bool)
    deep = [run for run in runs_of(cut_off > 0.0) if cut_off[run].max() > _CUTS_OFF_MM]
    if not deep:
        return told
    at = np.concatenate([run[cut_off[run] > _CUTS_OFF_MM / 2] for run in deep])
    inside = -cut_off[at, None] * np.linspace(0.25, 0.75, 5)
    outside = np.broadcast_to(np.linspace(0.8, 2.4, 5), inside.shape)
    seen = []
    for t in (inside, outside):
        places = curve[at, None] + t[..., None] * normals[at, None]
        pixels = camera.project(np.dstack([places, np.zeros(t.shape)]).reshape(-1, 3))
        light = sample_linear(photo, pixels.reshape(*t.shape, 2))
        print_, doubtful = divisor(places)
        left = np.log((light + PRINT_DARK) / (print_ + PRINT_DARK))
        seen.append(np.where(doubtful[..., None], np.nan, left))
    which = np.concatenate(
        [np.full((cut_off[r] > _CUTS_OFF_MM / 2).sum(), k) for k, r in enumerate(deep)]
    )
    for k, run in enumerate(deep):
        mine = which == k
        sides = [s[mine].reshape(-1, 3) for s in seen]
        sides = [side[~np.isnan(side).any(axis=1)] for side in sides]
        if all(len(side) for side in sides):
            apart = np.median(sides[0], axis=0) - np.median(sides[1], axis=0)
            told[run] = bool(np.abs(apart).max() > _UNLIKE_GROUND)
    return told
