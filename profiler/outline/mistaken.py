"""What an edge point would be out by if it is taken for another edge than it is.

Two choices are made at each point of a silhouette: which rim it is, and which part it belongs to.
Each is made by evidence, and evidence may mislead. A choice that is wrong with probability p moves
the point by the whole way d to where the other choice puts it, so its variance is p (1 - p) d² (of
a quantity with two values). So it is where photos contradict each other and one is outvoted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from profiler.geometry.curves import outward_normals
from profiler.optics.camera import Camera
from profiler.outline.heights import PartEdges
from profiler.outline.lift import lift_points
from profiler.outline.merge import Merged, OwnOutline
from profiler.outline.plates import on_side_plates
from profiler.outline.rims import LOWER, UPPER
from profiler.outline.sight import Sight

Array = NDArray[np.float64]

#: a rim told by its look is told wrongly this often at least; guesses, no source
_LEAST_MISTAKEN = 0.05
#: how well two photos' edges agree where both are rightly taken, beyond what each says of itself,
#: mm; and how likely, by mm, one lies anywhere for another reason: guesses, no source
_ALIKE_MM, _ASTRAY = 0.2, 0.02
#: where one rim ends and another begins nothing is told, so many points on either side
_CHANGE_POINTS = 3
#: where parts meet, which is which is known to so many points (about mm), standard
_MEET_POINTS = 3.0
_FARTHEST = 4
#: photos that agree against another are wrong together this often, times what the other's own edge
#: would have weighed; a guess, no source
_WRONG_TOGETHER = 0.3
#: these go over into each other smoothly: it hardly matters where one is said to end
_SMOOTH = {"neck", "headstock"}


def mistaken_edge(sight: Sight, camera: Camera, heights: Mapping[str, PartEdges]) -> Array:
    """(N,) mm, standard uncertainty across the outline from which rim and part each point is.

    Args:
        sight: of one photo.
        camera: its camera.
        heights: by part.
    """
    return np.hypot(rim_taken(sight, camera, heights).u, part_taken(sight, camera, heights))


def outvoted(merged: Merged, outlines: Sequence[OwnOutline]) -> Array:
    """(M,) mm, standard uncertainty across the merged outline: a photo that lost its say to the
    others there may be the one that was right.

    Args:
        merged: M points.
        outlines: that it was made of.
    """
    count = len(outlines)
    weight = np.array([1 / o.own[n] ** 2 for o, n in zip(outlines, merged.source, strict=True)])
    fair = weight / weight.sum(axis=0)
    lost = 1 - np.minimum(merged.share / fair, 1.0)
    hidden = np.zeros(fair.shape, dtype=bool)
    foremost = merged.share.argmax(axis=0)
    for k in range(count):
        cannot = np.array([o.blind[n, k] for o, n in zip(outlines, merged.source, strict=True)])
        # it has no say in what it cannot see: that is no contradiction
        hidden[k] = cannot[foremost, np.arange(len(foremost))] & (merged.apart[k] < 0)
    right = np.where(hidden, 0.0, _WRONG_TOGETHER * lost * fair)
    variance: Array = (right * (1 - right) * merged.apart**2).sum(axis=0)
    return np.sqrt(variance)


@dataclass(frozen=True)
class RimTaken:
    """Which rim one photo's edge was taken for, N points.

    Attributes:
        wrong: (N,) how likely it is the other one.
        way: (N,) mm outwards, from where it was put to where the other rim would put it.
    """

    wrong: Array
    way: Array

    @property
    def u(self) -> Array:
        """(N,) mm, standard uncertainty across the outline."""
        return np.sqrt(self.wrong * (1 - self.wrong)) * np.abs(self.way)

    def at(self, points: NDArray[np.intp]) -> RimTaken:
        return RimTaken(self.wrong[points], self.way[points])


def confirmed(
    taken: Sequence[RimTaken], apart: Array, own: Array, blind: NDArray[np.bool_]
) -> list[RimTaken]:
    """What photos that see the same place leave of each other's doubts.

    Where photos come together as they were taken, and would not if one were taken otherwise, that
    is evidence (Bayes' rule, point by point): the doubt becomes smaller; and larger where they
    would come together only otherwise.

    Args:
        taken: of each of K photos, M points of the merged outline.
        apart: (K, M) mm, how far each photo's edge lies outside the merged outline.
        own: (K, M) mm, what each photo's edge is uncertain by.
        blind: (K, K, M) whether what one shows there is hidden from the other.
    """
    told = []
    for k, mine in enumerate(taken):
        odds = mine.wrong / (1 - mine.wrong)
        for j, other in enumerate(taken):
            if j == k:
                continue
            sigma = np.hypot(np.hypot(own[k], own[j]), _ALIKE_MM)
            step = apart[k] - apart[j]
            ratio = _likely(step + mine.way, other, sigma) / _likely(step, other, sigma)
            odds = odds * np.where(blind[k, j] | blind[j, k], 1.0, ratio)
        # they may agree because both were misled by one thing, a wall that mirrors the mat
        least = _WRONG_TOGETHER * mine.wrong
        told.append(RimTaken(np.maximum(odds / (1 + odds), least), mine.way))
    return told


def _likely(step: Array, other: RimTaken, sigma: Array) -> Array:
    """(M,) how likely another photo's edge is so far away, up to a factor; never impossible."""
    as_taken, otherwise = (
        np.exp(-0.5 * (away / sigma) ** 2) / sigma for away in (step, step - other.way)
    )
    likely: Array = (1 - other.wrong) * as_taken + other.wrong * otherwise + _ASTRAY
    return likely


def rim_taken(sight: Sight, camera: Camera, heights: Mapping[str, PartEdges]) -> RimTaken:
    """Which rim each point of a photo's edge was taken for; arguments as of `mistaken_edge`."""
    count = len(sight.rim)
    upper, lower = (
        lift_points(sight.edge.pixels, camera, np.full(count, level), sight.parts, heights)
        for level in (UPPER, LOWER)
    )
    apart = ((upper - lower) * outward_normals(sight.edge.on_mat, 3.0)).sum(axis=1)
    way = np.where(sight.rim >= 0.5, -apart, apart)
    mistaken = np.where(sight.rim >= 0.5, sight.told, 1 - sight.told)
    labels = sight.parts.labels
    change = (sight.rim != np.roll(sight.rim, 1)) & (labels == np.roll(labels, 1))
    change &= ~(sight.sure & np.roll(sight.sure, 1))
    near = maximum_filter1d(change.astype(np.uint8), 2 * _CHANGE_POINTS + 1, mode="wrap") > 0
    mistaken = np.where(near, 0.5, np.clip(mistaken, _LEAST_MISTAKEN, 0.5))
    return RimTaken(np.where(sight.sure & ~near, 0.0, mistaken), way)


def part_taken(sight: Sight, camera: Camera, heights: Mapping[str, PartEdges]) -> Array:
    """(N,) mm, standard uncertainty across from which part each point belongs to."""
    labels = sight.parts.labels
    count = len(labels)
    starts = np.flatnonzero(labels != np.roll(labels, 1))
    if not len(starts):
        return np.zeros(count)
    other, away = labels.copy(), np.full(count, np.inf)
    reach = int(_FARTHEST * _MEET_POINTS)
    for start in starts.tolist():
        for k in range(reach):
            for at, neighbour in (
                ((start + k) % count, labels[start - 1]),
                (
                    (start - 1 - k) % count,
                    labels[start],
                ),
            ):
                if k < away[at] and not _go_over(str(labels[at]), str(neighbour)):
                    away[at], other[at] = k, neighbour
    own, taken = (
        lift_points(
            sight.edge.pixels, camera, sight.rim, replace(sight.parts, labels=labelled), heights
        )
        for labelled in (labels, other)
    )
    apart = ((taken - own) * outward_normals(sight.edge.on_mat, 3.0)).sum(axis=1)
    mistaken = 0.5 * np.exp(-0.5 * ((away + 0.5) / _MEET_POINTS) ** 2)
    variance: Array = mistaken * (1 - mistaken) * apart**2
    return np.hypot(np.sqrt(variance), _on_plates(sight, camera, heights, own))


def _on_plates(sight: Sight, camera: Camera, heights: Mapping[str, PartEdges], own: Array) -> Array:
    """(N,) mm, standard uncertainty of what hangs below the face at a slotted head's sides: it may
    lie anywhere from the face to twice as far down as a tuner's button usually does."""
    parts = sight.parts
    plates = on_side_plates(parts.frame.from_mat(own), parts.labels)
    if not plates.any():
        return np.zeros(len(own))
    lower = replace(parts, labels=np.where(plates, "tuners", parts.labels))
    apart = lift_points(sight.edge.pixels, camera, sight.rim, lower, heights) - own
    doubt: Array = np.where(plates, np.abs((apart * outward_normals(own, 3.0)).sum(axis=1)), 0.0)
    return doubt


def _go_over(part: str, other: str) -> bool:
    return part == other or {part, other} == _SMOOTH
