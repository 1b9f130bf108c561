"""The line on which a body's two sides are mirrored.

Most bodies are alike on both sides. What is found on one of them and parts it from the other is
more likely a line inside the face, or the foot of the wall, than the rim.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from profiler.geometry.frames import Frame2D

Array = NDArray[np.float64]

#: half of a body that was made alike lies as near as this to its mirror image, mm
_HALF_WITHIN_MM = 1.0


@dataclass(frozen=True)
class Mirror:
    """The line on which a body's two sides are mirrored.

    Attributes:
        frame: x along it from the tail.
    """

    frame: Frame2D

    def alike(self, points: Array) -> bool:
        """Whether half of a body's points (N, 2) mm, mat frame, lie near to their mirror image."""
        return len(points) > 0 and bool(np.median(self.apart(points, points)) < _HALF_WITHIN_MM)

    def apart(self, points: Array, outline: Array) -> Array:
        """(N,) mm from points (N, 2) to the mirror image of an outline (M, 2), mat frame."""
        image = self.frame.from_mat(outline) * (1.0, -1.0)
        away: Array = cKDTree(image).query(self.frame.from_mat(points))[0]
        return away
