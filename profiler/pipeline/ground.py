"""A solved photo laid flat: its light, and how its sheets lie on one another."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.errors import OutlineError
from profiler.scene.record import Scene
from profiler.silhouette.ground import Lighting, Plan, lay_flat, light_of
from profiler.silhouette.stacking import as_stacked


class TooLittleGround(OutlineError):
    """What lies on the mat cannot be told from a ground that is hardly seen."""

    def __init__(self, photo: str, what: str) -> None:
        self.photo = photo
        super().__init__(
            f"{photo}: too little bare mat is seen round the targets to know its colour. Show"
            f" more of the mat round the {what}."
        )


def ground_of(
    pixels: NDArray[np.uint8], photo: str, scene: Scene, what: str = "instrument"
) -> tuple[Plan, Lighting]:
    """The ground of a photo, by the first camera of its scene; `what` lies on it.

    Raises:
        TooLittleGround: it is hardly seen.
    """
    plan = lay_flat(pixels, scene.cameras[0], scene.lying)
    lighting = light_of(plan, scene)
    if lighting is None:
        raise TooLittleGround(photo, what)
    return as_stacked(plan, lighting), lighting
