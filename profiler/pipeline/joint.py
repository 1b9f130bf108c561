"""What several photos of one scene know together, and the heights that it gives the edges."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from profiler.outline.heights import (
    SQUARE_U,
    CardPlace,
    Given,
    PartEdges,
    edge_heights,
    place_cards,
)
from profiler.outline.rise import extents_of, rises_for
from profiler.outline.sight import Sight
from profiler.outline.spread import scene_steps
from profiler.outline.triangulate import (
    REACH_MM,
    Responses,
    Through,
    Triangulation,
    curves_of,
    find_matches,
    seen_through,
    triangulate,
)
from profiler.scene.perturb import moved_scene
from profiler.scene.record import Scene

Array = NDArray[np.float64]
Heights = Mapping[str, PartEdges]

#: what a step moves by less than this part of its standard uncertainty stays where it is
_STAYS = 1e-5


@dataclass(frozen=True)
class Joint:
    """What the photos know together.

    Attributes:
        scene: solved.
        sights: in one rough frame.
        lying: the cards.
        typed: part to height and standard uncertainty, mm.
        thickness: mm, of the cards.
        reference: which sight's split stands for all.
        square: how much of the lean there is that sides of a body square to its face have, and
            the standard uncertainty of that.
    """

    scene: Scene
    sights: Sequence[Sight]
    lying: Sequence[CardPlace]
    typed: Given
    thickness: float
    reference: int
    square: tuple[float, float] = (1.0, SQUARE_U)

    def believed(self, scene: Scene) -> dict[str, PartEdges]:
        """Heights from cards, typed numbers and custom, in a scene that may be moved."""
        parts = self.sights[self.reference].parts
        lying = place_cards(scene, parts.frame, self.thickness, self.lying)
        button = next((s.button for s in self.sights if s.button is not None), None)
        heights = edge_heights(parts, lying, self.typed, button)
        share, doubt = self.square
        return heights | {"body": replace(heights["body"], square=share, square_u=doubt)}


def moves_alone(scene: Scene, step: Array) -> int | None:
    """The camera that a step moves, if all else stays; its place among the scene's.

    Given sheets, cards and lens, no photo's place says anything of another's.
    """
    size = np.sqrt(np.maximum(np.diag(scene.covariance), 0.0))
    moved = np.flatnonzero(np.abs(step) > _STAYS * size)
    names = {" ".join(scene.parameters[at].split()[:2]) for at in moved}
    if len(names) != 1 or not (name := names.pop()).startswith("photo "):
        return None
    return int(name.split()[1]) - 1


def curves_alone(
    sights: Sequence[Sight],
    moved: Scene,
    heights: Heights,
    through: Sequence[Through],
    level: Sequence[Array],
    alone: int,
) -> list[Array]:
    """`curves_of` in a scene of which one camera was moved; `level` is what it was before."""
    return [
        curves_of([s], moved, heights, [t])[0] if s.index == alone else still
        for s, t, still in zip(sights, through, level, strict=True)
    ]


def solved_heights(joint: Joint) -> Triangulation:
    """The heights at which the photos' edges come together."""
    scene, sights = joint.scene, joint.sights
    believed = joint.believed(scene)
    through = seen_through(sights, scene)
    level = curves_of(sights, scene, believed, through)
    rises = rises_for(
        believed,
        extents_of(
            [s.parts.frame.from_mat(c)[:, 0] for s, c in zip(sights, level, strict=True)],
            [s.parts.labels for s in sights],
        ),
    )

    def curves_at(rise: Array) -> list[Array]:
        return curves_of(sights, scene, rises.on(believed, rise, np.zeros(rises.count)), through)

    def less(curves: Sequence[Array]) -> list[Array]:
        return [a - b for a, b in zip(curves, level, strict=True)]

    def stepped(step: Array) -> list[Array]:
        moved, alone = moved_scene(scene, step), moves_alone(scene, step)
        if alone is None:
            return curves_of(sights, moved, joint.believed(moved), through)
        return curves_alone(sights, moved, believed, through, level, alone)

    responses = Responses(
        [less(curves_at(one)) for one in np.eye(rises.count)],
        [less(stepped(step)) for _, step in scene_steps(scene)]
        + [less(curves_of(sights, scene, believed, through, rounder=1.0))],
    )
    rise = np.zeros(rises.count)
    for reach in REACH_MM:
        matches = find_matches(sights, curves_at(rise), believed, reach, scene)
        found = triangulate(rises, matches, curves_at, responses, rise)
        rise = found.rise
    return found
