"""What print hides of a tuner button, told by its other half and by its sisters.

Turned as it may be, a button is alike on both sides of its shaft: half a turn about the shaft lays
it on itself. Seen from above, from nowhere far aside, so is its outline. A white button over a
white seam, or chrome that mirrors a tag, loses a bite or all of one half; the other half says how
it goes. What both halves have lost another tuner of the instrument may show, if it is turned as
this one is: then what is left of the one lies on the other. Only bites are filled: where a half
stands out too far, it is as likely the other one that lacks something.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from profiler.geometry.curves import at_lengths, lengths_along, runs_of
from profiler.optics.camera import Camera
from profiler.outline.parts import Parts
from profiler.outline.splice import retold
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
#: with less a tuner that has lost half of itself is laid on its sisters square to the centreline
_SURE_AXIS = 0.45
#: a sister's outline is looked for so far from where their feet would lay it, mm along and across
#: the shaft, in such steps, halved so many times; and so much of a tuner must lie on it
_ALONG_MM, _ACROSS_MM, _SISTER_STEP_MM, _SISTER_HALVED = (-2.0, 5.0), (-1.0, 1.0), 1.0, 3
_SISTERLY_MM, _LEAST_SISTERLY, _PRINT_SAYS = 0.5, 0.6, 0.3
#: a bite is so deep, mm: less is the edge's own noise, more is no bite; and so much of it lies on
#: print at least
_BITE_MM, _ON_PRINT = 1.0, 0.4
_DEEPEST_MM, _DEEPEST_BY_SISTERS_MM = 5.0, 12.0
#: points that are more than the corner between shaft and head
_LONGER_THAN_A_CORNER = 12
#: a tuner is compared with its sisters if so much of it lies on print, and a sister shows what it
#: has lost if no more of her does
_LEAST_ON_PRINT, _MOST_ON_PRINT = 0.1, 0.4
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

    def local(self, points: Array) -> Array:
        """(N, 2) mm along it and to the left of it."""
        return np.column_stack([(points - self.place) @ self.along, self.side(points)])

    def placed(self, local: Array) -> Array:
        """(N, 2) mm, what `local` undoes."""
        left = np.array([-self.along[1], self.along[0]])
        places: Array = self.place + local[:, :1] * self.along + local[:, 1:] * left
        return places


@dataclass(frozen=True)
class _Tuner:
    """Attributes:
    run: (N,) indices of its points, from the head and back.
    outline: (N, 2) mm, open.
    on_print: (N,) where it was not seen beside bare tint.
    axis: of its shaft.
    """

    run: NDArray[np.intp]
    outline: Array
    on_print: NDArray[np.bool_]
    axis: _Axis


def with_whole_buttons(edge: Edge, camera: Camera, parts: Parts) -> Edge:
    """The edge, bites that print takes out of tuner buttons filled as the other half shows, or a
    sister.

    Args:
        edge: traced.
        camera: its camera.
        parts: split of its points.
    """
    if edge.plain is None or edge.plain[parts.members("tuners")].all():
        return edge
    curve, told = edge.on_mat.copy(), np.zeros(len(edge.on_mat), dtype=bool)
    left = parts.frame.turned(np.array([[0.0, 1.0]]))[0]
    tuners = []
    for run in runs_of(parts.labels == "tuners"):
        if not _LEAST_MM < lengths_along(edge.on_mat[run])[-1] < _MOST_MM:
            continue
        axis, alike = _axis(edge.on_mat[run], left)
        tuner = _Tuner(run, edge.on_mat[run], ~edge.plain[run], axis)
        if alike >= _LEAST_ALIKE and tuner.on_print.any():
            for at, places in _bites_by_halves(tuner):
                curve[run[at]], told[run[at]] = places, True
        if alike < _SURE_AXIS:
            tuner = replace(tuner, axis=_square_axis(tuner.outline, left))
        tuners.append(replace(tuner, outline=curve[run]))
    for tuner in tuners:
        if tuner.on_print.mean() > _LEAST_ON_PRINT:
            for at, places in _bites_by_sisters(tuner, [t for t in tuners if t is not tuner]):
                curve[tuner.run[at]], told[tuner.run[at]] = places, True
    if edge.drawn is not None:
        told &= ~edge.drawn
    if not told.any():
        return edge
    return retold(edge, camera, curve, told, _TOLD_U_MM)


def _bites_by_halves(tuner: _Tuner) -> list[tuple[slice, Array]]:
    """Stretches of a tuner's outline, and where they lie by the other half."""
    other = tuner.axis.mirrored(tuner.outline)[::-1]
    side = tuner.axis.side(tuner.outline)
    return [
        bite for half in (side > 0, side < 0) for bite in _bites(tuner, other, half, _DEEPEST_MM)
    ]


def _bites_by_sisters(tuner: _Tuner, others: Sequence[_Tuner]) -> list[tuple[slice, Array]]:
    """Stretches of a tuner's outline, and where they lie by the sister that is most like it of
    those that print has not bitten as well."""
    best, most = None, _LEAST_SISTERLY
    for other in others:
        if other.on_print.mean() > _MOST_ON_PRINT:
            continue
        laid, alike = _laid_on(tuner, other)
        if alike > most:
            best, most = laid, alike
    if best is None:
        return []
    return _bites(tuner, best, np.ones(len(tuner.run), dtype=bool), _DEEPEST_BY_SISTERS_MM)


def _laid_on(tuner: _Tuner, other: _Tuner) -> tuple[Array, float]:
    """Another tuner's outline laid on a tuner so that most of this lies on it, and what share
    does."""
    mine, hers = tuner.axis.local(tuner.outline), other.axis.local(other.outline)
    lengths = lengths_along(hers)
    tree = cKDTree(at_lengths(hers, lengths, np.arange(0.0, lengths[-1], _STEP_MM)))
    weight = np.where(tuner.on_print, _PRINT_SAYS, 1.0)
    weight /= weight.sum()
    begin = np.array([mine[:, 0].max() - hers[:, 0].max(), 0.0])
    step = _SISTER_STEP_MM
    along, across = (np.arange(*reach, step) for reach in (_ALONG_MM, _ACROSS_MM))
    tried = begin + np.array([(i, j) for i in along for j in across])
    for _ in range(_SISTER_HALVED + 1):
        away, _ = tree.query((mine[None] - tried[:, None]).reshape(-1, 2))
        away = away.reshape(len(tried), -1)
        k = int(np.argmin(np.minimum(away, _UNLIKE_MM) @ weight))
        best, alike = tried[k], float((away[k] < _SISTERLY_MM) @ weight)
        step /= 2
        tried = best + step * np.array([(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)])
    return tuner.axis.placed(hers + best), alike


def _bites(
    tuner: _Tuner, other: Array, asked: NDArray[np.bool_], deepest: float
) -> list[tuple[slice, Array]]:
    """Stretches of what is asked for (N,) of a tuner that lie within another outline (M, 2) mm in
    the same order, and where they lie on it."""
    outline = tuner.outline
    lengths = lengths_along(other)
    at = np.arange(0.0, lengths[-1], _STEP_MM)
    away, nearest = cKDTree(at_lengths(other, lengths, at)).query(outline)
    middle = outline.mean(axis=0)
    found = []
    for run in runs_of(asked & (away > _ALIKE_MM)):
        a, b = int(run[0]), int(run[-1]) + 1
        if a == 0 or b == len(outline):
            # at the head it is the corner there, if it is short
            if len(run) < _LONGER_THAN_A_CORNER:
                continue
            a, b = max(a, 1), min(b, len(outline) - 1)
        if b < a or tuner.on_print[a:b].mean() < _ON_PRINT:
            continue
        begins, ends_at = at[nearest[a - 1]], at[nearest[b]]
        if ends_at <= begins:
            continue
        places = at_lengths(other, lengths, np.linspace(begins, ends_at, b - a + 2)[1:-1])
        step = places - outline[a:b]
        outward = float((step * (outline[a:b] - middle)).sum())
        if outward > 0 and _BITE_MM < float(np.hypot(*step.T).max()) < deepest:
            found.append((slice(a, b), places))
    return found


def _axis(outline: Array, left: Array) -> tuple[_Axis, float]:
    """The line over which most of an open outline (N, 2) mm falls on itself, and what share of it
    does; `left` is square to the instrument's centreline."""
    lengths = lengths_along(outline)
    tree = cKDTree(at_lengths(outline, lengths, np.arange(0.0, lengths[-1], _STEP_MM)))
    start = _square_axis(outline, left)
    foot, straight = start.place, start.along
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


def _square_axis(outline: Array, left: Array) -> _Axis:
    """From the middle of where a tuner's outline leaves the head, square to the centreline."""
    foot = (outline[0] + outline[-1]) / 2
    return _Axis(foot, left * np.sign((outline.mean(axis=0) - foot) @ left))


def _placed(foot: Array, straight: Array, square: Array, turn: float, aside: float) -> _Axis:
    """The axis turned by degrees and laid aside by mm."""
    angle = np.radians(turn)
    along = np.cos(angle) * straight + np.sin(angle) * square
    return _Axis(foot + aside * np.array([-along[1], along[0]]), along)
