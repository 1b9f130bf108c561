"""Named rigid frames in the plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Frame2D:
    """Where an inner frame lies in the mat frame: p_mat = turn(angle) @ p_inner + origin."""

    #: rad, from the mat's x to the inner x, anticlockwise seen from above
    angle: float
    #: mm, mat frame
    origin: tuple[float, float]

    def to_mat(self, points: Array) -> Array:
        """(N, 2) inner mm to (N, 2) mat mm."""
        moved: Array = self.turned(points) + np.array(self.origin)
        return moved

    def from_mat(self, points: Array) -> Array:
        """(N, 2) mat mm to (N, 2) inner mm."""
        return self.turned_back(points - np.array(self.origin))

    def turned(self, vectors: Array) -> Array:
        """(N, 2) directions, inner to mat."""
        c, s = np.cos(self.angle), np.sin(self.angle)
        turned: Array = vectors @ np.array([[c, s], [-s, c]])
        return turned

    def turned_back(self, vectors: Array) -> Array:
        """(N, 2) directions, mat to inner."""
        c, s = np.cos(self.angle), np.sin(self.angle)
        turned: Array = vectors @ np.array([[c, -s], [s, c]])
        return turned
