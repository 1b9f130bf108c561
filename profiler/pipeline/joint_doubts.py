"""How each photo's outline would move with what is not known: scene and heights."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from profiler.outline.heights import PartEdges
from profiler.outline.rise import UPRIGHT, Rises
from profiler.outline.spread import scene_steps
from profiler.outline.triangulate import Through, Triangulation, curves_of, rises_in
from profiler.pipeline.joint import Joint, curves_alone, moves_alone
from profiler.scene.perturb import moved_scene
from profiler.scene.record import Scene

Array = NDArray[np.float64]
Heights = Mapping[str, PartEdges]


def displacements(
    joint: Joint,
    found: Triangulation,
    lift: Callable[[Scene, Heights], list[Array]],
    through: Sequence[Through],
) -> list[tuple[str, list[Array], bool]]:
    """Source, displacement of each photo's outline, and whether it is a height's."""
    scene, rises = joint.scene, found.rises
    believed = joint.believed(scene)
    raised = rises.on(believed, found.rise, found.doubt)
    nominal = lift(scene, raised)

    def less(curves: Sequence[Array]) -> list[Array]:
        return [a - b for a, b in zip(curves, nominal, strict=True)]

    still = curves_of(joint.sights, scene, raised, through)
    shifts: list[tuple[str, list[Array], bool]] = []
    for source, step in scene_steps(scene):
        moved = moved_scene(scene, step)
        alone = moves_alone(scene, step)
        base = joint.believed(moved) if alone is None else believed
        if alone is None:
            there = rises.on(base, found.rise, found.doubt)
            curves = curves_of(joint.sights, moved, there, through)
        else:
            curves = curves_alone(joint.sights, moved, raised, through, still, alone)
        rise = rises_in(found, curves)
        shifts.append((source, less(lift(moved, rises.on(base, rise, found.doubt))), False))
    values, vectors = np.linalg.eigh(found.covariance)
    for value, vector in zip(values, vectors.T, strict=True):
        if value < 1e-4:
            continue
        higher = rises.on(believed, found.rise + vector * np.sqrt(value), found.doubt)
        shifts.append((_height_words(rises, vector), less(lift(scene, higher)), True))
    return shifts


def _height_words(rises: Rises, vector: Array) -> str:
    """The edge that a pattern of rises is mostly about."""
    size = [float((vector[piece.own] ** 2).sum()) for piece in rises.pieces]
    piece = rises.pieces[int(np.argmax(size))]
    if piece.side == UPRIGHT:
        return f"how upright the sides of the {piece.part} are"
    if piece.part == "body" and piece.side == "lower":
        return "the height of the back's edge"
    if piece.side == "lower":
        return f"the thickness of the {piece.part}"
    return f"the height of the {piece.part}"
