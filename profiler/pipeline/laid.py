"""A solved photo with one thing lying on its mat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.outline.heights import ON_THE_MAT_MM
from profiler.outline.spread import SCENE_FACTOR
from profiler.scene.perturb import moved_scene
from profiler.scene.record import Scene
from profiler.silhouette.ground import Lighting, Plan
from profiler.silhouette.mask import Silhouette

Array = NDArray[np.float64]

#: parts of the covariance below this share of its whole are left out
_LEAST_SHARE = 1e-7


@dataclass(frozen=True)
class Laid:
    """Attributes:
    name: of the photo.
    pixels: (H, W, 3) 8 bit BGR.
    scene: solved.
    plan, lighting, silhouette: of what lies there.
    card_thickness: mm.
    parted: white seams part it: where it crosses them its own edge is not seen.
    """

    name: str
    pixels: NDArray[np.uint8]
    scene: Scene
    plan: Plan
    lighting: Lighting
    silhouette: Silhouette
    card_thickness: float
    parted: bool = False


def hidden_by_cards(scene: Scene) -> list[Array]:
    """(4, 2) mm each: where cards are seen on the mat plane, without their outermost millimetre."""
    camera = scene.cameras[0]
    hidden = []
    for card in scene.cards:
        w, h = card.panel.width, card.panel.height
        corners = card.to_mat(np.array([(1.0, 1.0), (w - 1, 1.0), (w - 1, h - 1), (1.0, h - 1)]))
        if corners[:, 2].mean() > ON_THE_MAT_MM:
            hidden.append(camera.at_height(camera.project(corners), 0.0))
    return hidden


def scale_uncertainty(scene: Scene, pixels: Array, height: float, u_height: float) -> float:
    """Relative standard uncertainty of lengths between places in the photo: height, lens, print.

    Args:
        scene: solved.
        pixels: (N, 2) px, of what is measured.
        height, u_height: mm above the mat.
    """
    ends = pixels[[int(np.argmin(pixels[:, 0])), int(np.argmax(pixels[:, 0]))]]

    def length(moved: Scene, z: float) -> float:
        a, b = moved.cameras[0].at_height(ends, z)
        return float(np.hypot(*(b - a)))

    nominal = length(scene, height)
    by_height = length(scene, height + u_height) / nominal - 1
    scale = np.sqrt(np.maximum(np.diag(scene.covariance), 1e-30))
    values, vectors = np.linalg.eigh(scene.covariance / np.outer(scale, scale))
    square = by_height**2
    for value, vector in zip(values, vectors.T, strict=True):
        if value < _LEAST_SHARE * values.max():
            continue
        step = vector * np.sqrt(value) * scale
        square += (SCENE_FACTOR * (length(moved_scene(scene, step), height) / nominal - 1)) ** 2
    return float(np.sqrt(square))
