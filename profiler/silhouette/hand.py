"""Corrections of the seen edge by a person's hand: a point moved, a stretch drawn, a piece cut out.

All places are px of the photo, where the person looked. What a hand drew is told apart from what
was measured, and its uncertainty is that of a hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from profiler.geometry.curves import at_lengths, hermite_at, lengths_along
from profiler.optics.camera import Camera
from profiler.silhouette.edge import SPACING_MM, Edge, across, snap_to_edge
from profiler.silhouette.ground import Plan
from profiler.silhouette.inked import Divisor
from profiler.silhouette.strokes import CannotCorrect, CutOut, Moved, Redrawn, Stroke

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: how well a hand finds an edge on a screen, standard uncertainty: px of the photo, and mm at least
#: (our own judgement, no source)
HAND_PX, HAND_MM = 1.5, 0.35
#: a bridge over what was cut out strays by up to this part of its length (the same)
_BRIDGE_SHARE = 0.04
#: what is carried further than this was no slip of the measuring, mm on the mat
FURTHEST_MM = 60.0
#: a stretch begins and ends on the edge, give or take this, mm
_ON_THE_EDGE_MM = 12.0
#: round a piece that was cut out the edge is torn, mm
_TORN_MM = 2.0
#: a drawn line is smoothed over this, mm, standard deviation
_TREMBLE_MM = 1.5
#: no more of the edge than this may be cut out
_MOST_CUT = 0.5
REACH_LIMITS_MM = (2.0, 80.0)


def cut_areas(strokes: Sequence[Stroke], camera: Camera) -> list[Array]:
    """(K, 2) mm each, mat plane: where nothing counts as the instrument."""
    return [
        camera.at_height(np.array(s.area, dtype=np.float64), 0.0)
        for s in strokes
        if isinstance(s, CutOut)
    ]


def corrected(
    edge: Edge,
    strokes: Sequence[Stroke],
    photo: NDArray[np.uint8],
    camera: Camera,
    plan: Plan,
    divisor: Divisor,
) -> Edge:
    """The edge with all corrections, in the order in which they were made.

    Args:
        edge: as it was traced, with the areas of `cut_areas` left out of the silhouette.
        strokes: the corrections.
        photo: (H, W, 3) 8 bit BGR.
        camera: solved.
        plan: the photo laid flat.

    Raises:
        CannotCorrect: the sentence says which and why.
    """
    if not strokes:
        return edge
    edge = replace(edge, drawn=np.zeros(len(edge.on_mat), dtype=bool))
    # what is cut out was cut out of the silhouette from the first
    for stroke in sorted(strokes, key=lambda s: not isinstance(s, CutOut)):
        if isinstance(stroke, CutOut):
            edge = _cut(edge, stroke, camera)
        elif isinstance(stroke, Moved):
            edge = _moved(edge, stroke, camera)
        else:
            edge = _redrawn(edge, stroke, photo, camera, plan, divisor)
    pixels = camera.project(np.column_stack([edge.on_mat, np.zeros(len(edge.on_mat))]))
    return replace(edge, pixels=pixels)


def _drawn(edge: Edge) -> Mask:
    return np.zeros(len(edge.on_mat), dtype=bool) if edge.drawn is None else edge.drawn


def _hand(camera: Camera, curve: Array) -> float:
    """mm on the mat, standard uncertainty of a hand."""
    sideways = np.tile([1.0, 0.0], (len(curve), 1))
    return max(HAND_MM, HAND_PX / across(camera, curve, sideways)[2])


def _moved(edge: Edge, stroke: Moved, camera: Camera) -> Edge:
    low, high = REACH_LIMITS_MM
    if not low <= stroke.reach <= high:
        raise CannotCorrect(
            f"What follows a moved point is {low:g} to {high:g} mm long, not {stroke.reach:g} mm."
        )
    at, to = camera.at_height(np.array([stroke.at, stroke.to], dtype=np.float64), 0.0)
    curve = edge.on_mat
    away = np.hypot(*(curve - at).T)
    nearest = int(np.argmin(away))
    if away[nearest] > _ON_THE_EDGE_MM:
        raise CannotCorrect("The edge is not where it was taken hold of. Take it by its line.")
    shift = to - curve[nearest]
    if float(np.hypot(*shift)) > FURTHEST_MM:
        raise CannotCorrect(
            f"A point cannot be moved by more than {FURTHEST_MM:.0f} mm. Draw the stretch anew."
        )
    along = _along_from(curve, nearest)
    weight = np.where(
        along < stroke.reach, np.cos(0.5 * np.pi * np.minimum(along / stroke.reach, 1)) ** 2, 0.0
    )
    laid = curve + weight[:, None] * shift
    _check_simple(curve, laid)
    touched = weight > 0.05
    sigma = np.where(touched, np.hypot(edge.sigma, _hand(camera, curve)), edge.sigma)
    return replace(
        edge,
        on_mat=laid,
        measured=edge.measured & ~touched,
        sigma=sigma,
        drawn=_drawn(edge) | touched,
    )


def _redrawn(
    edge: Edge,
    stroke: Redrawn,
    photo: NDArray[np.uint8],
    camera: Camera,
    plan: Plan,
    divisor: Divisor,
) -> Edge:
    path = camera.at_height(np.array(stroke.path, dtype=np.float64), 0.0)
    path = _spaced(path)
    curve = edge.on_mat
    ends = []
    for end, word in ((path[0], "begins"), (path[-1], "ends")):
        away = np.hypot(*(curve - end).T)
        ends.append(int(np.argmin(away)))
        if away[ends[-1]] > _ON_THE_EDGE_MM:
            raise CannotCorrect(
                f"The drawn stretch {word} {away[ends[-1]]:.0f} mm beside the edge. Begin and end"
                " it on the line."
            )
    first, last = ends
    if first == last:
        raise CannotCorrect("The drawn stretch ends where it begins. Draw along the edge.")
    onward, back = _arc(first, last, len(curve)), _arc(last, first, len(curve))
    # the drawn line stands for the arc that it lies nearer to
    if _far(curve[onward], path) <= _far(curve[back], path):
        kept = back
    else:
        path, kept = path[::-1], onward
    new = np.vstack([path, curve[kept]])
    fresh = np.arange(len(new)) < len(path)
    _check_simple(curve, new)
    hand = _hand(camera, curve)
    measured = np.concatenate([np.zeros(len(path), dtype=bool), edge.measured[kept]])
    drawn = np.concatenate([np.ones(len(path), dtype=bool), _drawn(edge)[kept]])
    usual = float(np.median(edge.sigma))
    sigma = np.concatenate([np.full(len(path), hand), edge.sigma[kept]])
    if stroke.snap:
        new, found = snap_to_edge(photo, camera, plan, new, fresh, divisor)
        measured |= found
        drawn &= ~found
        sigma = np.where(found, np.hypot(usual, 0.5 * usual), sigma)
    return Edge(edge.pixels, new, measured, sigma, drawn)


def _cut(edge: Edge, stroke: CutOut, camera: Camera) -> Edge:
    area = shapely.Polygon(camera.at_height(np.array(stroke.area, dtype=np.float64), 0.0))
    area = (area if area.is_valid else area.buffer(0)).buffer(_TORN_MM)
    curve = edge.on_mat
    torn = np.asarray(shapely.contains_xy(area, curve[:, 0], curve[:, 1]))
    if not torn.any():
        return edge
    if torn.mean() > _MOST_CUT:
        raise CannotCorrect("That would cut out most of the instrument. Draw round the piece only.")
    n = len(curve)
    start = int(np.flatnonzero(~torn)[0])
    order = (start + np.arange(n + 1)) % n
    points: list[Array] = []
    fields: list[tuple[bool, float, bool]] = []
    drawn = _drawn(edge)
    i = 0
    while i < n:
        k = order[i]
        if not torn[k]:
            points.append(curve[k])
            fields.append((bool(edge.measured[k]), float(edge.sigma[k]), bool(drawn[k])))
            i += 1
            continue
        j = i
        while torn[order[j]]:
            j += 1
        a, b = order[i - 1], order[j]
        for at, sigma in _bridge(curve, torn, a, b):
            points.append(at)
            fields.append((False, sigma, False))
        i = j
    measured, sigmas, hands = zip(*fields, strict=True)
    return Edge(
        edge.pixels, np.array(points), np.array(measured), np.array(sigmas), np.array(hands)
    )


def _bridge(curve: Array, torn: Mask, a: int, b: int) -> list[tuple[Array, float]]:
    """Points between two ends of a torn edge, with their standard uncertainties."""
    n = len(curve)
    chord = float(np.hypot(*(curve[b] - curve[a])))
    steps = int(chord / SPACING_MM)
    if steps < 1:
        return []
    leave = _heading(curve, torn, [(a - k) % n for k in range(6)], backwards=True)
    arrive = _heading(curve, torn, [(b + k) % n for k in range(6)], backwards=False)
    straight = (curve[b] - curve[a]) / chord
    leave, arrive = (straight if d is None or d @ straight < 0.3 else d for d in (leave, arrive))
    t = np.arange(1, steps + 1) / (steps + 1)
    between = hermite_at(curve[a], curve[b], leave, arrive, t)
    sigma = np.hypot(HAND_MM, _BRIDGE_SHARE * chord * 4 * t * (1 - t))
    return [(p, float(s)) for p, s in zip(between, sigma, strict=True)]


def _heading(curve: Array, torn: Mask, run: list[int], backwards: bool) -> Array | None:
    sound = [k for k in run if not torn[k]]
    if len(sound) < 3:
        return None
    travel = curve[sound[-1]] - curve[sound[0]]
    travel = -travel if backwards else travel
    unit: Array = travel / max(float(np.hypot(*travel)), 1e-9)
    return unit


def _arc(first: int, last: int, count: int) -> NDArray[np.intp]:
    """Indices strictly between two points of a closed curve, onwards from the first."""
    between = (last - first) % count
    return np.asarray((first + np.arange(1, between)) % count, dtype=np.intp)


def _far(points: Array, path: Array) -> float:
    """mm: mean distance of points from a line; 0 for none."""
    if not len(points):
        return 0.0
    line = shapely.LineString(path)
    return float(np.mean(shapely.distance(shapely.points(points), line)))


def _along_from(curve: Array, at: int) -> Array:
    """(N,) mm along a closed curve from one of its points, the shorter way round."""
    step = np.hypot(*(np.roll(curve, -1, axis=0) - curve).T)
    forward = np.concatenate([[0.0], np.cumsum(np.roll(step, -at))[:-1]])
    shortest = np.minimum(forward, step.sum() - forward)
    return np.asarray(np.roll(shortest, at))


def _spaced(path: Array) -> Array:
    """An open line with points `SPACING_MM` apart.

    Raises:
        CannotCorrect: it has no length, or far too much.
    """
    along = lengths_along(path)
    if along[-1] < 2 * SPACING_MM:
        raise CannotCorrect("The drawn stretch is too short. Move the point instead.")
    if along[-1] > 10_000:
        raise CannotCorrect("The drawn stretch is longer than any instrument's edge.")
    at = np.linspace(0.0, along[-1], max(3, round(along[-1] / SPACING_MM) + 1))
    even = at_lengths(path, along, at)
    # a hand trembles; where it began and ended stays
    smooth = gaussian_filter1d(even, _TREMBLE_MM / SPACING_MM, axis=0, mode="nearest")
    smooth[0], smooth[-1] = even[0], even[-1]
    return np.asarray(smooth, dtype=np.float64)


def _check_simple(before: Array, after: Array) -> None:
    if shapely.Polygon(before).is_valid and not shapely.Polygon(after).is_valid:
        raise CannotCorrect("The corrected edge would cross itself. Draw it a little differently.")
