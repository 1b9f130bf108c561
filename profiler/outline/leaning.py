"""How far a body's sides lean, from photos that see the same wall from both sides.

On a body that gets thinner towards the neck the face slopes. Sides built square to it lean by as
much, and their lower edge stands a little along the instrument from the upper; sides that were
trimmed, or built otherwise, may stand upright. Where one photo sees the lower edge of a wall and
another the upper one above it, the two tell how much of the lean is there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.curves import outward_normals
from profiler.outline.heights import PartEdges
from profiler.outline.rims import LOWER, UPPER, lean_at
from profiler.outline.sight import Sight
from profiler.outline.spread import Field
from profiler.outline.triangulate import partners

Array = NDArray[np.float64]

#: an upper edge is looked for as far from a lower one, mm, and no lean leads further; what both of
#: them are edges of
_ACROSS_MM, _WALL = 6.0, "wall"
#: how well lower and upper edge lie above each other on walls that do not lean, mm: at each place,
#: shared by so many neighbouring points, and all along: what heights and rounding leave open moves
#: one edge as a whole
_STRAIGHT_MM, _ALIKE_POINTS, _STEP_MM = 0.5, 30.0, 0.3
#: a wall is one and the same within such a place, mm, in which a pair of photos has a point for
#: each mm
_PLACE_MM = 10.0
#: distances in sigmas from which a point loses its say (Cauchy weights)
_CAUCHY, _ROUNDS = 2.5, 5
#: what sides are likely to be: square to the face, or upright on the bench, or anything between;
#: how likely, the share of the lean, and its spread: a guess, no source
_LIKELY = ((0.45, 1.0, 0.05), (0.35, 0.0, 0.05), (0.2, 0.5, 0.5))
#: what tells less well than this is not asked: what was believed of one photo stands then, for it
#: is what most are built like; and no side leans further than this, either way
_TELLS, _LEAST, _MOST = 0.4, -0.2, 1.2


def lean_seen(
    sights: Sequence[Sight], curves: Sequence[Array], heights: Mapping[str, PartEdges]
) -> tuple[float, float]:
    """The share of the lean that is there, where 1 is square to the face, and its standard
    uncertainty; what was believed, where nothing tells.

    Args:
        sights: in one rough frame.
        curves: their edges at their heights, (N, 2) mm, mat frame, carried to the upper edge along
            sides that lean as in `heights`.
        heights: by part.
    """
    body = heights["body"]
    if body.lower is body.upper:
        return body.square, body.square_u
    whole = {"body": replace(body, square=1.0)}
    normals = [outward_normals(curve, 5.0) for curve in curves]
    seen = [_of_the_body(sight) for sight in sights]
    off, lever, sigma, walls = [], [], [], []
    for i, (mine, points) in enumerate(zip(sights, curves, strict=True)):
        below = np.flatnonzero(seen[i] & (mine.rim == LOWER))
        lean = (lean_at(points, mine.parts, whole) * normals[i]).sum(axis=1)
        for k, other in enumerate(sights):
            if k == i:
                continue
            above = seen[k] & (other.rim == UPPER)
            partner = partners(
                (points[below], normals[i][below], np.full(len(below), _WALL)),
                (curves[k], normals[k], np.where(above, _WALL, "")),
                _ACROSS_MM,
            )
            at, partner = below[partner >= 0], partner[partner >= 0]
            off.append(((curves[k][partner] - points[at]) * normals[i][at]).sum(axis=1))
            lever.append(-lean[at])
            both = np.hypot(mine.edge.sigma[at], other.edge.sigma[partner])
            sigma.append(np.hypot(both, _STRAIGHT_MM))
            # other pairs of photos that look at one place of a wall see the same wall
            walls.append(np.round(points[at] / _PLACE_MM).astype(int))
    if not sum(len(d) for d in off):
        return body.square, body.square_u
    _, place, points_there = np.unique(
        np.concatenate(walls), axis=0, return_inverse=True, return_counts=True
    )
    again = np.maximum(points_there[place.ravel()] / _PLACE_MM, 1.0)
    both_sigma = np.concatenate(sigma) * np.sqrt(again)
    return _share(np.concatenate(off), np.concatenate(lever), both_sigma, body)


def _of_the_body(sight: Sight) -> NDArray[np.bool_]:
    return np.asarray((sight.parts.labels == "body") & sight.edge.measured)


def _share(off: Array, lever: Array, sigma: Array, body: PartEdges) -> tuple[float, float]:
    """What points tell that lie `off` mm outside where a lean of `body.square` has them, and would
    move by `lever` mm for a whole one; what moves all of them outward alike is unknown too."""
    design = np.stack([lever, np.ones(len(off))])
    belief = np.diag([1e-9, 1 / _STEP_MM**2])
    base = 1 / (sigma**2 * _ALIKE_POINTS)
    weight = base
    for _ in range(_ROUNDS):
        normal = (design * weight) @ design.T + belief
        solution = np.linalg.solve(normal, design @ (weight * off))
        weight = base / (1 + ((off - solution @ design) / (_CAUCHY * sigma)) ** 2)
    u = float(np.sqrt(np.linalg.inv(normal)[0, 0]))
    if u > _TELLS:
        return body.square, body.square_u
    return _weighed(float(np.clip(body.square + solution[0], _LEAST, _MOST)), u)


def _weighed(seen: float, u: float) -> tuple[float, float]:
    """Mean and spread of the share of the lean, seen with a standard uncertainty, when what is
    likely is weighed by how well it explains that (Bayes)."""
    chance, middle, spread = np.array(_LIKELY).T
    wide = np.hypot(u, spread)
    chance = chance * np.exp(-0.5 * ((seen - middle) / wide) ** 2) / wide
    chance /= chance.sum()
    pull = spread**2 / wide**2
    means, variances = middle + pull * (seen - middle), pull * u**2
    mean = float(chance @ means)
    return mean, float(np.sqrt(chance @ (variances + (means - mean) ** 2)))


def lean_doubt(
    upper_edge: Array, sight: Sight, heights: Mapping[str, PartEdges], outer: NDArray[np.bool_]
) -> Field:
    """How far the outline of one photo moves with what is not known of how sides lean.

    What was seen on the lower edge and is the outer one stays where it is; an upper edge moves
    where the lower one is reckoned to stand out of it, and a lower one where it does not.

    Args:
        upper_edge: (N, 2) mm, mat frame, from `lift_points`.
        sight: of the photo.
        heights: by part.
        outer: (N,) where the lower edge is the outer one, from `leans_out`.
    """
    doubted = {part: replace(edges, square=edges.square_u) for part, edges in heights.items()}
    lean = lean_at(upper_edge, sight.parts, doubted)
    carried = outer.astype(np.float64) - (1 - sight.rim)
    return Field("how the sides lean", carried[:, None] * lean)
