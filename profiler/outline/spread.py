"""How far each outline point may be off: the scene's covariance and the heights carried through.

Every source moves the whole outline in its own way. Those ways are kept as displacement fields,
one standard uncertainty each, so that a width knows that both its ends move together and a length
knows that they do not (JCGM 100:2008, 5.2, in its matrix form).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from profiler.outline.heights import PartEdges
from profiler.scene.perturb import moved_scene
from profiler.scene.record import Scene

Array = NDArray[np.float64]

#: formal sigmas of a least-squares solution are optimistic; in a published calibration example
#: the spread between data sets was 2 to 3 times the formal one
SCENE_FACTOR = 2.0
#: eigenvectors of the covariance below this share of its whole are left out
_LEAST_SHARE = 1e-7


@dataclass(frozen=True)
class Field:
    """One source of doubt: where it would move each outline point, one standard uncertainty.

    Attributes:
        source: in words for the user.
        shift: (M, 2) mm, mat frame.
    """

    source: str
    shift: Array


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
                    other = PartEdges(moved, moved)
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


def _scene_fields(
    scene: Scene, lift: Callable[[Scene, Mapping[str, PartEdges] | None], Array]
) -> list[Field]:
    scale = np.sqrt(np.maximum(np.diag(scene.covariance), 1e-30))
    correlation = scene.covariance / np.outer(scale, scale)
    values, vectors = np.linalg.eigh(correlation)
    nominal = lift(scene, None)
    fields = []
    for value, vector in zip(values, vectors.T, strict=True):
        if value < _LEAST_SHARE * values.max():
            continue
        step = vector * np.sqrt(value) * scale
        shift = lift(moved_scene(scene, step), None) - nominal
        print_share = sum(
            v * v for v, n in zip(vector, scene.parameters, strict=True) if "scale" in n
        )
        source = "the print scale" if print_share > 0.3 else "lens, camera place and cards"
        factor = 1.0 if print_share > 0.3 else SCENE_FACTOR
        fields.append(Field(source, shift * factor))
    return fields
