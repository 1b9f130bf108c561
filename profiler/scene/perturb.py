"""A scene moved along its own uncertainty."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from profiler.optics.camera import Camera
from profiler.optics.lens import LENS_TERMS
from profiler.scene.record import PlacedPanel, Scene

Array = NDArray[np.float64]


def moved_scene(scene: Scene, step: Array) -> Scene:
    """The scene after a step in the space of its parameters.

    Args:
        scene: solved.
        step: (P,) in the order and units of `scene.parameters`.
    """
    by_name = {name: by for name, by in zip(scene.parameters, step.tolist(), strict=True) if by}
    moved = {name.rsplit(" ", 2)[0] for name in by_name}

    def triple(stem: str) -> Array:
        return np.array([by_name.get(f"{stem} {axis}", 0.0) for axis in "xyz"])

    shared = np.array([by_name.get(f"lens {term}", 0.0) for term in LENS_TERMS])
    cameras = []
    for i, camera in enumerate(scene.cameras, start=1):
        own = np.array([by_name.get(f"photo {i} {term}", 0.0) for term in LENS_TERMS])
        cameras.append(
            Camera(
                camera.lens.with_vector(camera.lens.vector + shared + own),
                camera.camera_from_mat.nudged(
                    triple(f"photo {i} turn"), triple(f"photo {i} shift")
                ),
            )
        )

    def placed(panel: PlacedPanel, kind: str) -> PlacedPanel:
        name = panel.panel.name
        longer, higher = (by_name.get(f"{kind} scale {axis}", 0.0) for axis in "xy")
        if not (name in moved or longer or higher):  # most steps move few panels
            return panel
        turn, shift = triple(f"{name} turn"), triple(f"{name} shift")
        return replace(
            panel,
            mat_from_panel=panel.mat_from_panel.nudged(turn, shift),
            scale=replace(panel.scale, x=panel.scale.x + longer, y=panel.scale.y + higher),
        )

    return replace(
        scene,
        cameras=tuple(cameras),
        sheets=tuple(placed(s, "mat") for s in scene.sheets),
        cards=tuple(placed(c, "card") for c in scene.cards),
    )
