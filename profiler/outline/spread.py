"""How far each outline point may be off: the scene's covariance and the heights carried through.

Every source moves the whole outline in its own way. Those ways are kept as displacement fields,
one standard uncertainty each, so that a width knows that both its ends move together and a length
knows that they do not (JCGM 100:2008, 5.2, in its matrix form).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from profiler.geometry.curves import outward_normals
from profiler.optics.camera import Camera
from profiler.outline.heights import PartEdges
from profiler.outline.parts import Parts
from profiler.outline.sight import Sight
from profiler.scene.perturb import moved_scene
from profiler.scene.record import Scene
from profiler.silhouette.edge import ROUNDED_MM

Array = NDArray[np.float64]

#: formal sigmas of a least-squares solution are optimistic; in a published calibration example
#: the spread between data sets was 2 to 3 times the formal one
SCENE_FACTOR = 2.0
#: part of a pixel by which blur moves an edge that is lit on one side; a guess, no source
_BLUR_SHARE = 0.3
#: how far ribs of a round back usually lean out at the rim, rad, and how far at most in 95 of 100;
#: guesses, no source
RIBS_LEAN, RIBS_LEAN_95 = 0.06, 0.2
#: what the scene's doubts come from, in the order in which they are told apart
SCENE_SOURCES = (
    "the print scale",
    "the lens",
    "how the sheets lie",
    "how high the cards are seen",
    "where the camera was",
)


@dataclass(frozen=True)
class Field:
    """One source of doubt: where it would move each outline point, one standard uncertainty.

    Attributes:
        source: in words for the user.
        shift: (M, 2) mm, mat frame.
    """

    source: str
    shift: Array


def rounded_u(cameras: Sequence[Camera]) -> float:
    """mm: how far the outline as a whole may lie inside or outside the true one, standard.

    A rounded edge turns dark before it ends, whatever the photo; and where light falls off on one
    side of an edge only, the lens's blur, about a pixel wide, moves the steepest place by a part of
    itself, all round alike. The sharpest photo counts.
    """
    px_mm = min(float(camera.centre[2]) / camera.lens.f for camera in cameras)
    return float(np.hypot(ROUNDED_MM, _BLUR_SHARE * px_mm))


def hidden_bulge(
    points: Array, parts: Parts, heights: Mapping[str, PartEdges]
) -> tuple[Array, Field]:
    """How far a round back stands out below the rim, where no photo from above looks.

    Ribs leave the rim about square to the face and turn inward; with the body's depth for a radius
    they go out by z (1 - cos a) before they do, where a is how far they lean out. Anything between
    nought and what usual ribs do is as likely: the middle is the estimate, and a twelfth of the
    width's square its variance (JCGM 100:2008, 4.3.7). Now and then a bowl leans out much more;
    that makes the doubt wider, not the outline.

    Args:
        points: (M, 2) mm, mat frame, closed, anticlockwise.
        parts: split of the same points.
        heights: by part.

    Returns:
        (M, 2) mm to add to the points, and the doubt; nought where the back is not round.
    """
    body, mine = heights["body"], parts.members("body")
    most, rarely = np.zeros(len(points)), np.zeros(len(points))
    normals = outward_normals(points, 5.0)
    if body.upper is body.lower and body.upper.slope and len(mine):
        along = parts.frame.turned_back(normals)[mine, 0]
        z = np.maximum(body.upper.at(parts.frame.from_mat(points)[mine, 0]), 0.0)
        lean = np.maximum(body.upper.slope * along, 0.0) + RIBS_LEAN
        most[mine] = z * (1 - np.cos(lean))
        rarely[mine] = z * (1 - np.cos(RIBS_LEAN_95)) / 2
    doubt = np.hypot(most / np.sqrt(12), rarely)
    out: Array = most[:, None] * normals
    return out / 2, Field("what bulges out below the rim", doubt[:, None] * normals)


def rounding_doubt(
    sight: Sight,
    camera: Camera,
    heights: Mapping[str, PartEdges],
    upper_edge: Array,
    directions: Array | None = None,
) -> Array:
    """(N, 2) mm: how a rounding larger by its uncertainty would move one photo's points.

    Args:
        sight: of the photo.
        camera: its own.
        heights: by part.
        upper_edge: (N, 2) mm, mat frame, from `Sight.upper_edge` with these.
        directions: as there.
    """
    moved: Array = sight.upper_edge(camera, heights, directions, rounder=1.0) - upper_edge
    return moved


def displacement_fields(
    scene: Scene,
    lift: Callable[[Scene, Mapping[str, PartEdges] | None], Array],
    heights: Mapping[str, PartEdges],
) -> list[Field]:
    """Every source's displacement field.

    Args:
        scene: solved.
        lift: the plan outline (M, 2) for another scene (heights follow from it when None is
            given) or for other heights.
        heights: the nominal ones.
    """
    fields = _scene_fields(scene, lift)
    nominal = lift(scene, heights)
    for part, edges in heights.items():
        for side in ("upper", "lower"):
            edge = getattr(edges, side)
            if side == "lower" and edges.lower is edges.upper:
                continue
            for wanted in ("u", "u_slope"):
                u = getattr(edge, wanted)
                if u <= 0:
                    continue
                moved = (
                    replace(edge, z0=edge.z0 + u)
                    if wanted == "u"
                    else replace(edge, slope=edge.slope + u)
                )
                if edges.lower is edges.upper:
                    other = replace(edges, upper=moved, lower=moved)
                else:
                    other = replace(edges, **{side: moved})
                shift = lift(scene, {**heights, part: other}) - nominal
                if np.abs(shift).max() > 1e-4:
                    fields.append(Field(_words(part, side), shift))
    return fields


def _words(part: str, side: str) -> str:
    if part == "body" and side == "lower":
        return "the height of the back's edge"
    if side == "lower":
        return f"the thickness of the {part}"
    return f"the height of the {part}"


def scene_steps(scene: Scene) -> list[tuple[str, Array]]:
    """The scene's doubts as independent steps: source in words, (P,) one standard uncertainty.

    The columns of the covariance's Cholesky factor, with what all photos share first. So the
    print's steps hold all that would be known better if the print were known, the lens's what
    would then still be gained by knowing the lens, and so on: nothing is counted twice, although
    lens, camera and cards are tied to each other.
    """
    if not len(scene.parameters):
        return []
    cards = {card.panel.name for card in scene.cards}
    rank = [_source_rank(name, cards) for name in scene.parameters]
    order = np.argsort(rank, kind="stable")
    scale = np.sqrt(np.maximum(np.diag(scene.covariance), 1e-30))
    correlation = scene.covariance / np.outer(scale, scale)
    ordered = correlation[np.ix_(order, order)]
    factor = _cholesky(ordered) * scale[order][:, None]
    steps = []
    for column, parameter in enumerate(order):
        step = np.zeros(len(scene.parameters))
        step[order] = factor[:, column]
        source = SCENE_SOURCES[rank[parameter]]
        steps.append((source, step if rank[parameter] == 0 else SCENE_FACTOR * step))
    return steps


def _source_rank(name: str, cards: set[str]) -> int:
    """Index into `SCENE_SOURCES` of a solved parameter."""
    if " scale " in name:
        return 0
    if "lens " in name or (name.startswith("photo ") and name.split()[2] not in ("turn", "shift")):
        return 1
    if name.startswith("photo "):
        return 4
    return 3 if name.rsplit(" ", 2)[0] in cards else 2


def _cholesky(matrix: Array) -> Array:
    """Lower factor of a correlation matrix that may be all but singular."""
    for jitter in (1e-12, 1e-9, 1e-6, 1e-3):
        try:
            factor = np.linalg.cholesky(matrix + jitter * np.eye(len(matrix)))
        except np.linalg.LinAlgError:
            continue
        return np.asarray(factor, dtype=np.float64)
    # no covariance at all: each parameter's own spread, the ties left out
    return np.eye(len(matrix))


def _scene_fields(
    scene: Scene, lift: Callable[[Scene, Mapping[str, PartEdges] | None], Array]
) -> list[Field]:
    nominal = lift(scene, None)
    return [
        Field(source, lift(moved_scene(scene, step), None) - nominal)
        for source, step in scene_steps(scene)
    ]
