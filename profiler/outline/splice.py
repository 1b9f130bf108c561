"""An edge with what is told of it; points of it told anew, and stretches of it replaced."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from profiler.optics.camera import Camera
from profiler.outline.parts import Parts
from profiler.outline.rims import UPPER
from profiler.silhouette.edge import Edge

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Rimmed:
    """An edge with what is told of it, point by point.

    Attributes:
        edge: N points.
        parts: split of them.
        told, sure, rim: (N,) as in `Sight`.
    """

    edge: Edge
    parts: Parts
    told: Array
    sure: NDArray[np.bool_]
    rim: Array


@dataclass(frozen=True)
class Stretch:
    """A stretch of upper rim that stands in for an edge's own points.

    Attributes:
        first, last: indices of the points before and behind those that it replaces.
        part: of the instrument.
        on_mat: (M, 2) mm, mat plane.
        measured: (M,) False where it was carried over from its neighbours.
        sigma: (M,) mm on the mat plane, standard uncertainty across the edge.
    """

    first: int
    last: int
    part: str
    on_mat: Array
    measured: NDArray[np.bool_]
    sigma: Array


def retold(edge: Edge, camera: Camera, curve: Array, told: NDArray[np.bool_], u: float) -> Edge:
    """The edge, points of it put where something else tells that they are.

    Args:
        edge: N points.
        camera: solved.
        curve: (N, 2) mm, mat plane: their places, of which those that are `told` (N,) count.
        told: which.
        u: mm, standard uncertainty of what tells them.
    """
    pixels = edge.pixels.copy()
    pixels[told] = camera.project(np.column_stack([curve[told], np.zeros(told.sum())]))
    return replace(
        edge,
        pixels=pixels,
        on_mat=np.where(told[:, None], curve, edge.on_mat),
        measured=edge.measured & ~told,
        sigma=np.where(told, np.hypot(edge.sigma, u), edge.sigma),
    )


def spliced(seen: Rimmed, camera: Camera, stretches: Sequence[Stretch]) -> Rimmed:
    """The edge with stretches put in the place of its own points.

    Args:
        seen: the edge.
        camera: solved.
        stretches: none overlaps another.
    """
    n = len(seen.rim)
    replaced = np.zeros(n, dtype=bool)
    for s in stretches:
        replaced[(s.first + np.arange(1, (s.last - s.first) % n)) % n] = True
    kept = np.flatnonzero(~replaced)
    places = np.concatenate([kept, *[np.full(len(s.on_mat), s.first + 0.5) for s in stretches]])
    order = np.argsort(places, kind="stable")

    def joined(old: NDArray[Any], new: Sequence[NDArray[Any]]) -> NDArray[Any]:
        return np.concatenate([old[kept], *new])[order]

    def alike(old: NDArray[Any], value: object) -> NDArray[Any]:
        return joined(old, [np.full(len(s.on_mat), value, dtype=old.dtype) for s in stretches])

    edge = seen.edge
    on_mat = joined(edge.on_mat, [s.on_mat for s in stretches])
    flat = [np.column_stack([s.on_mat, np.zeros(len(s.on_mat))]) for s in stretches]
    labels = joined(
        seen.parts.labels,
        [np.full(len(s.on_mat), s.part, dtype=seen.parts.labels.dtype) for s in stretches],
    )
    made = Edge(
        pixels=joined(edge.pixels, [camera.project(points) for points in flat]),
        on_mat=on_mat,
        measured=joined(edge.measured, [s.measured for s in stretches]),
        sigma=joined(edge.sigma, [s.sigma for s in stretches]),
        drawn=None if edge.drawn is None else alike(edge.drawn, False),
        plain=None if edge.plain is None else alike(edge.plain, True),
    )
    return Rimmed(
        edge=made,
        parts=replace(seen.parts, labels=labels),
        told=alike(seen.told, 0.0),
        sure=alike(seen.sure, True),
        rim=alike(seen.rim, UPPER),
    )
