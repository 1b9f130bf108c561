"""Sheets whose tags the instrument hides, measured by the checks that it leaves bare."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from profiler.detection.by_place import observed_by_place
from profiler.detection.observations import Observations, joined, nothing_observed
from profiler.optics.camera import Camera
from profiler.scene.presumed import presumed
from profiler.scene.record import PlacedPanel, Scene
from profiler.target.mat import MatDesign

Array = NDArray[np.float64]


def points_of_hidden_tags(
    grays: Sequence[NDArray[np.uint8]], scene: Scene, design: MatDesign
) -> list[Observations]:
    """Points of the sheets that the scene was solved without, by photo.

    Args:
        grays: (H, W) of each photo.
        scene: solved.
        design: of the mat.
    """
    numbers = {sheet.name: k for k, sheet in enumerate(design.sheets)}
    found = [nothing_observed() for _ in grays]
    for sheet in presumed(scene.sheets, design):
        for k, (gray, camera) in enumerate(zip(grays, scene.cameras, strict=True)):
            index = numbers[sheet.panel.name]
            seen = observed_by_place(gray, index, sheet.panel, partial(_seen, camera, sheet))
            if seen is not None:
                found[k] = joined(found[k], seen)
    return found


def _seen(camera: Camera, sheet: PlacedPanel, local: Array) -> Array:
    return camera.project(sheet.to_mat(local))
