"""Do the photos tell of one instrument that lay still?

Each photo's outline, lifted to the common heights, is held against every other's. Where both were
measured well and can see the same thing, they may be apart by what they themselves are uncertain
by, and by what lens, cameras and heights may move them apart. An instrument that was pushed between
two photos, or a photo that shows another one, is apart nearly all round. Heights, which are fitted
to the photos, hide a good part of a push, but not all of it: edges that belong together agree far
better than each of them is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.curves import outward_normals
from profiler.outline.merge import OwnOutline, signed_distance

Array = NDArray[np.float64]

#: where an edge was found less surely than this it is no witness, mm
_WELL_MEASURED_MM = 0.45
#: sigmas and mm beyond which two outlines contradict each other at a place
_SIGMAS, _FLOOR_MM = 3.0, 0.3
#: the share of the arc on which two photos may do so and still agree: a shadow, a wrong rim
_MOST_APART = 0.25
#: and the middle distance may be this part of what an edge is uncertain by, at least
_MIDDLE = 0.9
#: two photos that contradict each other by this part of what they do all others, or less, may agree
#: without them
_FAR_LESS = 0.5
#: fewer common points than this say nothing
_LEAST_POINTS = 60


@dataclass(frozen=True)
class Agreement:
    """Which photos agree.

    Attributes:
        kept: indices of the largest group that was found to agree with itself.
        apart: (K, K) above 1 where two photos contradict each other.
        distance: (K, K) mm, between the two where they do.
    """

    kept: tuple[int, ...]
    apart: Array
    distance: Array


def agreement(outlines: Sequence[OwnOutline], shifts: Sequence[Sequence[Array]]) -> Agreement:
    """Compare every photo's outline with every other's.

    Args:
        outlines: of the photos.
        shifts: for each source of doubt, one standard uncertainty: each outline's displacement,
            (M, 2) mm.
    """
    count = len(outlines)
    apart, distance = np.zeros((count, count)), np.zeros((count, count))
    for i in range(count):
        for k in range(count):
            if i != k:
                apart[i, k], distance[i, k] = _compared(i, k, outlines, shifts)
    apart, distance = np.maximum(apart, apart.T), np.maximum(distance, distance.T)
    return Agreement(_largest_group(apart <= 1.0, apart), apart, distance)


def _compared(
    i: int, k: int, outlines: Sequence[OwnOutline], shifts: Sequence[Sequence[Array]]
) -> tuple[float, float]:
    mine, other = outlines[i], outlines[k]
    nearest, off = signed_distance(other.points, mine.points)
    normals = outward_normals(mine.points, 3.0)
    own = mine.own**2 + other.own[nearest] ** 2
    shared = np.zeros(len(own))
    for shift in shifts:
        x, y = (shift[i] - shift[k][nearest]).T
        shared += (x * normals[:, 0] + y * normals[:, 1]) ** 2
    fair = (mine.own < _WELL_MEASURED_MM) & (other.own[nearest] < _WELL_MEASURED_MM)
    fair &= ~mine.blind[:, k] & ~other.blind[nearest, i]
    if fair.sum() < _LEAST_POINTS:
        return 0.0, 0.0
    off, own, shared = np.abs(off[fair]), own[fair], shared[fair]
    against = off > _SIGMAS * np.sqrt(own + shared) + _FLOOR_MM
    middle = float(np.median(off))
    allowed = np.hypot(_MIDDLE * np.sqrt(np.median(own) / 2), 2 * np.sqrt(np.median(shared)))
    apart = max(float(against.mean()) / _MOST_APART, middle / float(allowed))
    return apart, float(np.median(off[against])) if against.any() else middle


def _largest_group(agree: NDArray[np.bool_], apart: Array) -> tuple[int, ...]:
    """A group in which everyone agrees with everyone, grown from each photo in turn."""
    best: tuple[int, ...] = ()
    for start in range(len(agree)):
        group = [start]
        for other in np.argsort(apart[start], kind="stable"):
            if other != start and all(agree[other, member] for member in group):
                group.append(int(other))
        if len(group) > len(best):
            best = tuple(sorted(group))
    return best if len(best) > 1 else _least_apart(apart) or best


def _least_apart(apart: Array) -> tuple[int, ...]:
    """Of photos that all contradict each other, two that do so far less than either does the
    others: one that was pushed spoils the heights that all share, and with them the rest. The two
    are measured without it, and compared again."""
    if len(apart) < 3:
        return ()
    pairs = apart + np.diag(np.full(len(apart), np.inf))
    i, k = (int(at) for at in np.unravel_index(int(pairs.argmin()), pairs.shape))
    others = [at for at in range(len(apart)) if at not in (i, k)]
    clearly = pairs[i, k] < _FAR_LESS * pairs[np.ix_([i, k], others)].min()
    return (min(i, k), max(i, k)) if clearly else ()
