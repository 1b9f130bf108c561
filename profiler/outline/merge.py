"""Several photos' outlines laid into one, each with the say that it has earned at each place.

Every outline becomes its signed distance on a fine grid near the edge; the merged outline is where
the weighted mean of the distances is nought. For edges that run alongside that is their weighted
mean, and where they part (a tuner's foot, a horn) nothing has to be matched. Weights fall with the
square of the uncertainty along the arc. An outline that strays from the others by more than its
uncertainty loses its say there; where one photo cannot see what another shows (a strap button
below the rim) it has none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, gaussian_filter1d, median_filter
from scipy.ndimage import label as ndlabel
from scipy.spatial import cKDTree
from skimage.measure import find_contours

from profiler.geometry.curves import evenly_spaced, signed_area

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

#: the grid, and how far from the outlines it reaches, mm
_CELL_MM, _BAND_MM = 0.4, 4.0
#: points of the merged outline are this far apart, mm
_SPACING_MM = 1.0
#: weights go from one photo's to another's over this length of arc, mm
_SMOOTH_MM = 4.0
#: sigmas from the others' mean beyond which a photo loses its say
_STRAYS = 2.0
_ROUNDS = 3
#: a sigma grows by this factor more where all others see bare mat in an outline's place
_DENIED = 6.0
#: the longest shaft, and the least that is worth joining on, mm and mm²
_SHAFT_MM, _PIECE_MM2 = 14.0, 25.0
#: the least an edge is taken to be out by, mm
_LEAST_SIGMA = 0.08


@dataclass(frozen=True)
class OwnOutline:
    """One photo's outline before it is merged.

    Attributes:
        points: (M, 2) mm, mat frame, closed, anticlockwise.
        sigma: (M,) mm, what makes it uncertain across, this photo's own and its heights.
        own: (M,) mm, this photo's own part of that: where its edge was found.
        blind: (M, K) whether each of the K photos cannot see what lies here: it would be inside
            that photo's silhouette.
        denied: (M, K) whether each of the K photos sees bare mat where this would have to be.
        least_out: (M,) mm by which a point that another photo cannot see has to lie outside that
            one's outline before it counts as standing out of it.
    """

    points: Array
    sigma: Array
    own: Array
    blind: NDArray[np.bool_]
    denied: NDArray[np.bool_]
    least_out: Array


@dataclass(frozen=True)
class Merged:
    """The merged outline.

    Attributes:
        points: (M, 2) mm, mat frame, closed, anticlockwise.
        share: (K, M) each photo's weight; they sum to 1.
        source: (K, M) the nearest point of each photo's own outline.
        apart: (K, M) mm, how far each photo's outline lies outside the merged one.
    """

    points: Array
    share: Array
    source: Indices
    apart: Array


def merge_outlines(outlines: Sequence[OwnOutline]) -> Merged:
    """Lay outlines of the same thing into one.

    Args:
        outlines: two at least, in one frame.
    """
    low = np.min([o.points.min(axis=0) for o in outlines], axis=0) - 2 * _BAND_MM
    high = np.max([o.points.max(axis=0) for o in outlines], axis=0) + 2 * _BAND_MM
    columns, rows = np.ceil((high - low) / _CELL_MM).astype(int) + 1
    cells = _near_cells(outlines, low, (rows, columns))
    at = low + cells[:, ::-1] * _CELL_MM
    nearest, distance = (
        np.array(values)
        for values in zip(*(signed_distance(o.points, at) for o in outlines), strict=True)
    )
    distance = np.clip(distance, -_BAND_MM, _BAND_MM)
    sigmas = [np.maximum(o.sigma, _LEAST_SIGMA) for o in outlines]
    passed_over = _passed_over(outlines, nearest, distance)
    sigmas = _trusted(outlines, sigmas)
    far = _far(outlines[0].points, low, (rows, columns))
    values = _mean(sigmas, nearest, distance, passed_over)
    # as most of them show it, and if that will not do as any one does
    ordered = np.sort(distance, axis=0)
    for shown in (ordered[(len(outlines) - 1) // 2], ordered[0]):
        values = _joined(cells, values, shown, far)
    merged = _zero(cells, values, low, far)
    return _described(merged, outlines, sigmas)


def _near_cells(outlines: Sequence[OwnOutline], low: Array, shape: tuple[int, int]) -> Indices:
    """(C, 2) row, column of the grid's cells near any outline."""
    near = np.zeros(shape, dtype=bool)
    reach = int(np.ceil(_BAND_MM / _CELL_MM))
    for o in outlines:
        for column, row in np.unique(np.rint((o.points - low) / _CELL_MM).astype(int), axis=0):
            near[row - reach : row + reach + 1, column - reach : column + reach + 1] = True
    return np.argwhere(near)


def signed_distance(curve: Array, at: Array) -> tuple[Indices, Array]:
    """(C,) nearest vertex of a closed curve, and the distance to the curve, inside negative."""
    _, nearest = cKDTree(curve).query(at)
    squared = np.full(len(at), np.inf)
    for step in (-1, 0):
        a, b = curve[(nearest + step) % len(curve)], curve[(nearest + step + 1) % len(curve)]
        along = b - a
        length = np.maximum((along**2).sum(axis=1), 1e-18)
        t = np.clip(((at - a) * along).sum(axis=1) / length, 0.0, 1.0)
        squared = np.minimum(squared, ((at - a - t[:, None] * along) ** 2).sum(axis=1))
    polygon = shapely.make_valid(shapely.Polygon(curve))
    shapely.prepare(polygon)
    inside = shapely.contains_xy(polygon, at[:, 0], at[:, 1])
    return np.asarray(nearest), np.where(inside, -1.0, 1.0) * np.sqrt(squared)


def _passed_over(
    outlines: Sequence[OwnOutline], nearest: Indices, distance: Array
) -> NDArray[np.bool_]:
    """(K, C) where a photo has no say: another shows what it cannot see."""
    count = len(outlines)
    over = np.zeros(distance.shape, dtype=bool)
    for i in range(count):
        for k in range(count):
            if k != i:
                hidden, least = outlines[i].blind[nearest[i], k], outlines[i].least_out[nearest[i]]
                over[k] |= hidden & (distance[k] - distance[i] > least)
    over[:, over.all(axis=0)] = False
    return over


def _mean(
    sigmas: Sequence[Array], nearest: Indices, distance: Array, passed_over: NDArray[np.bool_]
) -> Array:
    """(C,) weighted mean distance."""
    weight = np.array([1 / s[n] ** 2 for s, n in zip(sigmas, nearest, strict=True)])
    weight[passed_over] = 0.0
    mean: Array = (weight * distance).sum(axis=0) / weight.sum(axis=0)
    return mean


def _joined(cells: Indices, values: Array, shown: Array, far: Array) -> Array:
    """(C,) the mean distances, where what was cut off is joined on as `shown` (C,) has it.

    Shafts are thin: where photos place one a little differently, their mean may have none.
    """
    grid, widest = far.copy(), far.copy()
    grid[cells[:, 0], cells[:, 1]] = values
    widest[cells[:, 0], cells[:, 1]] = shown
    pieces, count = ndlabel(grid < 0)
    if count < 2:
        return values
    sizes = np.bincount(pieces.ravel())
    sizes[0] = 0
    main = int(sizes.argmax())
    reach = int(_SHAFT_MM / _CELL_MM)
    near_main = distance_transform_edt(pieces != main) < reach
    for piece in range(1, count + 1):
        if piece == main or sizes[piece] * _CELL_MM**2 < _PIECE_MM2:
            continue
        between = near_main & (distance_transform_edt(pieces != piece) < reach)
        grid[between] = np.minimum(grid[between], widest[between])
    joined: Array = grid[cells[:, 0], cells[:, 1]]
    return joined


def _zero(cells: Indices, values: Array, low: Array, far: Array) -> Array:
    """(M, 2) mm: the largest closed curve on which the distance is nought."""
    grid = far.copy()
    grid[cells[:, 0], cells[:, 1]] = values
    curve = max(find_contours(grid, 0.0), key=lambda c: abs(signed_area(c)))[:-1, ::-1]
    points = low + curve * _CELL_MM
    if signed_area(points) < 0:
        points = points[::-1]
    return evenly_spaced(np.ascontiguousarray(points), _SPACING_MM)


def _far(outline: Array, low: Array, shape: tuple[int, int]) -> Array:
    """(H, W) mm: outside or inside, for cells that are near no outline."""
    inside = np.zeros(shape, dtype=np.uint8)
    cv2.fillPoly(inside, [np.rint((outline - low) / _CELL_MM).astype(np.int32)], 1)
    far: Array = np.where(inside > 0, -_BAND_MM, _BAND_MM)
    return far


def _trusted(outlines: Sequence[OwnOutline], sigmas: Sequence[Array]) -> list[Array]:
    """The sigmas, grown where an outline strays from the others or is denied by them."""
    count = len(outlines)
    if count < 2:
        return list(sigmas)
    to_other = [
        [
            signed_distance(other.points, mine.points) if other is not mine else None
            for other in outlines
        ]
        for mine in outlines
    ]
    denied = [_denied(o) for o in outlines]
    trusted = [s * d for s, d in zip(sigmas, denied, strict=True)]
    for _ in range(_ROUNDS):
        growth = [
            _strays(k, outlines, [t / s for t, s in zip(trusted, sigmas, strict=True)], to_other)
            for k in range(count)
        ]
        trusted = [s * d * g for s, d, g in zip(sigmas, denied, growth, strict=True)]
    return trusted


def _smooth(growth: Array) -> Array:
    """Gently along the arc: a say that ends at once leaves a step."""
    smooth: Array = np.exp(gaussian_filter1d(np.log(growth), _SMOOTH_MM, mode="wrap"))
    return smooth


def _denied(outline: OwnOutline) -> Array:
    """(M,) at least 1: by how much a sigma grows where most others see bare mat instead."""
    others = outline.denied.shape[1] - 1
    share = median_filter(outline.denied.sum(axis=1) / others, size=5, mode="wrap")
    return _smooth(1 + _DENIED * np.maximum(2 * share - 1, 0.0))


def _strays(
    own: int,
    outlines: Sequence[OwnOutline],
    growth: Sequence[Array],
    to_other: Sequence[Sequence[tuple[Indices, Array] | None]],
) -> Array:
    """(M,) at least 1: by how much an outline's sigma grows where it strays from the others."""
    mine = outlines[own]
    sigma = np.maximum(mine.own, _LEAST_SIGMA)
    away, plain, grown = [np.zeros(len(sigma))], [1 / sigma**2], [np.zeros(len(sigma))]
    for k, found in enumerate(to_other[own]):
        back = to_other[k][own]
        if found is None or back is None:
            continue
        nearest, distance = found
        # what stands out where the other cannot see it is not denied by that one
        hidden = mine.blind[:, k] & (distance > mine.least_out)
        hidden |= (outlines[k].blind[:, own] & (back[1] > outlines[k].least_out))[nearest]
        theirs = np.maximum(outlines[k].own, _LEAST_SIGMA)[nearest]
        away.append(distance)
        plain.append(np.where(hidden, 1e-6, 1 / theirs**2))
        grown.append(np.where(hidden, 1e-6, 1 / (theirs * growth[k][nearest]) ** 2))
    values, weights, doubted = np.array(away), np.array(plain), np.array(grown)
    mean = (doubted * values).sum(axis=0) / doubted.sum(axis=0)
    # with three voices or more the middle one counts: two that agree are never outvoted
    voices = (weights > 1e-3).sum(axis=0)
    # how well an edge was found far away says nothing about this place: no more than mine
    say = np.where(np.abs(values) > _BAND_MM, np.minimum(weights, weights[0]), weights)
    off = np.where(voices > 2, _middle(values, say), mean)
    others = weights[1:].sum(axis=0)
    # held against what edges usually are out by: against the grown doubts of those that were
    # outvoted themselves nobody would stray any more, and the rounds would not settle
    ratio = np.where(others < 1e-3, 0.0, np.abs(off) / np.hypot(sigma, 1 / np.sqrt(others)))
    return _smooth(1 + (median_filter(ratio, size=9, mode="wrap") / _STRAYS) ** 2)


def _middle(values: Array, weights: Array) -> Array:
    """(M,) weighted median of values (K, M)."""
    order = np.argsort(values, axis=0)
    heavy = np.cumsum(np.take_along_axis(weights, order, axis=0), axis=0)
    at = (heavy >= 0.5 * heavy[-1]).argmax(axis=0)
    middle: Array = np.take_along_axis(values, order, axis=0)[at, np.arange(values.shape[1])]
    return middle


def _described(points: Array, outlines: Sequence[OwnOutline], sigmas: Sequence[Array]) -> Merged:
    found = [signed_distance(o.points, points) for o in outlines]
    source = np.array([f[0] for f in found])
    apart = np.array([-f[1] for f in found])
    weight = np.array([1 / s[n] ** 2 for s, n in zip(sigmas, source, strict=True)])
    weight[_passed_over(outlines, source, -apart)] = 1e-12
    # far from the merged outline nothing of a photo's own is in it
    weight[np.abs(apart) >= _BAND_MM] *= 1e-6
    return Merged(points, weight / weight.sum(axis=0), source, apart)
