"""What print hides of one half of a tuner button, told by its other half.

Turned as it may be, a button is alike on both sides of its shaft: half a turn about the shaft lays
it on itself. Seen from above, from nowhere far aside, so is its outline. A white button over a
white seam, or chrome that mirrors a tag, loses a bite or all of one half; the other half says how
it goes. Only bites are filled: where a half stands out too far, it is as likely the other one that
lacks something.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from profiler.geometry.curves import at_lengths, lengths_along, runs_of
from profiler.optics.camera import Camera
from profiler.outline.parts import Parts
from profiler.silhouette.edge import Edge

Array = NDArray[np.float64]

# What follows are guesses, tried on rendered photos.
#: a tuner's outline from the head and back is so long, mm
_LEAST_MM, _MOST_MM = 20.0, 110.0
#: its shaft stands so square to the centreline, and leaves the head so near to the middle of where
#: its outline does: degrees and mm, looked through in such steps, halved so many times
_TURN_DEG, _ASIDE_MM = (10.0, 2.0), (2.0, 0.5)
_HALVED = 3
#: halves nearer than this are alike, mm; one further apart than that says only that they are not
_ALIKE_MM, _UNLIKE_MM = 0.3, 0.8
#: what an axis costs by being turned and aside, mm per square of these
_TURNED_DEG, _SHIFTED_MM, _STRAYS_MM = 5.0, 1.0, 0.02
#: so much of the outline must find its like, else there is no axis
_LEAST_ALIKE = 0.28
#: a bite is so deep, mm: less is the edge's own noise, more is no bite; and so much of it lies on
#: print at least
_BITE_MM, _ON_PRINT = (1.0, 5.0), 0.4
#: standard uncertainty of what the other half tells, mm
_TOLD_U_MM = 0.4
#: curves are looked at in steps of so much, mm
_STEP_MM = 0.2


@dataclass(frozen=True)
class _Axis:
    """Of a tuner's shaft: a place on it and its unit direction."""

    place: Array
    along: Array

    def mirrored(self, points: Array) -> Array:
        away = points - self.place
        return self.place + 2 * (away @ self.along)[:, None] * self.along - away

    def side(self, points: Array) -> Array:
        """(N,) mm to the left of it."""
        across: Array = (points - self.place) @ np.array([-self.along[1], self.along[0]])
        return across


def with_whole_buttons(edge: Edge, camera: Camera, parts: Parts) -> Edge:
    """The edge, bites that print takes out of tuner buttons filled as the other half shows.

    Args:
        edge: traced.
        camera: its camera.
        parts: split of its points.
    """
    if edge.plain is None or not len(parts.members("tuners")):
        return edge
    curve, told = edge.on_mat.copy(), np.zeros(len(edge.on_mat), dtype=bool)
    left = parts.frame.turned(np.array([[0.0, 1.0]]))[0]
    for run in runs_of(parts.labels == "tuners"):
        on_print = ~edge.plain[run]
        if not on_print.any() or not _LEAST_MM < lengths_along(edge.on_mat[run])[-1] < _MOST_MM:
            continue
        for at, places in _bites(edge.on_mat[run], on_print, left):
            curve[run[at]], told[run[at]] = places, True
    if edge.drawn is not None:
        told &= ~edge.drawn
    if not told.any():
        return edge
    curve = np.where(told[:, None], curve, edge.on_mat)
    pixels = edge.pixels.copy()
    pixels[told] = camera.project(np.column_stack([curve[told], np.zeros(told.sum())]))
    sigma = np.where(told, np.hypot(edge.sigma, _TOLD_U_MM), edge.sigma)
    return replace(edge, pixels=pixels, on_mat=curve, measured=edge.measured & ~told, sigma=sigma)


def _bites(outline: Array, on_print: NDArray[np.bool_], left: Array) -> list[tuple[slice, Array]]:
    """Stretches of a tuner's open outline (N, 2) mm, and where they lie by the other half."""
    axis, alike = _axis(outline, left)
    if alike < _LEAST_ALIKE:
        return []
    other = axis.mirrored(outline)[::-1]
    lengths = lengths_along(other)
    at = np.arange(0.0, lengths[-1], _STEP_MM)
    away, nearest = cKDTree(at_lengths(other, lengths, at)).query(outline)
    side = axis.side(outline)
    middle = outline.mean(axis=0)
    found = []
    for half in (side > 0, side < 0):
        for run in runs_of(half & (away > _ALIKE_MM)):
            a, b = int(run[0]), int(run[-1]) + 1
            # at the head it is the corner there
            if a == 0 or b == len(outline) or b < a or on_print[a:b].mean() < _ON_PRINT:
                continue
            begins, ends_at = at[nearest[a - 1]], at[nearest[b]]
            if ends_at <= begins:
                continue
            places = at_lengths(other, lengths, np.linspace(begins, ends_at, b - a + 2)[1:-1])
            step = places - outline[a:b]
            outward = float((step * (outline[a:b] - middle)).sum())
            if outward > 0 and _BITE_MM[0] < float(np.hypot(*step.T).max()) < _BITE_MM[1]:
                found.append((slice(a, b), places))
    return found


def _axis(outline: Array, left: Array) -> tuple[_Axis, float]:
    """The line over which most of an open outline (N, 2) mm falls on itself, and what share of it
    does; `left` is square to the instrument's centreline."""
    lengths = lengths_along(outline)
    tree = cKDTree(at_lengths(outline, lengths, np.arange(0.0, lengths[-1], _STEP_MM)))
    foot = (outline[0] + outline[-1]) / 2
    straight = left * np.sign((outline.mean(axis=0) - foot) @ left)
    square = np.array([-straight[1], straight[0]])
    best = np.zeros(2)
    steps = np.array([_TURN_DEG[1], _ASIDE_MM[1]])
    reach = [_TURN_DEG[0] / _TURN_DEG[1], _ASIDE_MM[0] / _ASIDE_MM[1]]
    for _ in range(_HALVED + 1):
        grids = [np.arange(-round(r), round(r) + 1) for r in reach]
        tried = best + np.array([(i, j) for i in grids[0] for j in grids[1]]) * steps
        axes = [_placed(foot, straight, square, turn, aside) for turn, aside in tried]
        flipped = np.array([axis.mirrored(outline) for axis in axes])
        away, _ = tree.query(flipped.reshape(-1, 2))
        away = away.reshape(len(axes), -1)
        cost = np.minimum(away, _UNLIKE_MM).mean(axis=1)
        cost += _STRAYS_MM * ((tried / (_TURNED_DEG, _SHIFTED_MM)) ** 2).sum(axis=1)
        k = int(np.argmin(cost))
        best, steps, reach = tried[k], steps / 2, [1, 1]
    return axes[k], float((away[k] < _ALIKE_MM).mean())


def _placed(foot: Array, straight: Array, square: Array, turn: float, aside: float) -> _Axis:
    """The axis turned by degrees and laid aside by mm."""
    angle = np.radians(turn)
    along = np.cos(angle) * straight + np.sin(angle) * square
    return _Axis(foot + aside * np.array([-along[1], along[0]]), along)
