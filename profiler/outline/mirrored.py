"""What one side of a body says about which rim is seen on the other.

Where a wall may be seen, its look alone has to tell whether the silhouette is the upper rim or the
lower one. Most bodies are alike on both sides, and a camera that looks at the wall on one of them
mostly sees the upper rim on the other without doubt: the choice that is its mirror image is right.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from profiler.geometry.curves import outward_normals
from profiler.geometry.frames import Frame2D
from profiler.outline.rims import LOWER, UPPER
from profiler.outline.witness import off_the_rim

Array = NDArray[np.float64]

#: a choice says something if it is as near as this to the mirror image and the other is further
#: from that by so much, mm; how well two sides agree where both are right, mm
_NEAR_MM, _LEAST_APART_MM, _AGREE_MM = 1.2, 1.0, 0.7
#: half of a body that was made alike lies as near as this to its mirror image, mm
_HALF_WITHIN_MM = 1.0
#: the most that is said, as a log of odds: a body may be a little different after all
_MOST = 4.0


@dataclass(frozen=True)
class Mirror:
    """The line on which a body's two sides are mirrored.

    Attributes:
        frame: x along it from the tail.
    """

    frame: Frame2D

    def alike(self, points: Array) -> bool:
        """Whether half of a body's points (N, 2) mm, mat frame, lie near to their mirror image."""
        return bool(np.median(self.apart(points, points)) < _HALF_WITHIN_MM)

    def apart(self, points: Array, outline: Array) -> Array:
        """(N,) mm from points (N, 2) to the mirror image of an outline (M, 2), mat frame."""
        image = self.frame.from_mat(outline) * (1.0, -1.0)
        away: Array = cKDTree(image).query(self.frame.from_mat(points))[0]
        return away


@dataclass(frozen=True)
class TwoSides:
    """A body's edge at the heights of both rims.

    Attributes:
        lower, upper: (N, 2) mm, closed: x from the tail, y to the left of the centreline, where
            each point would be if it were on that rim.
        rim: (N,) share of the way up that was chosen.
        sure: (N,) points of the body that surely show the upper rim, and were measured.
        asked: (N,) those of which it is not sure.
    """

    lower: Array
    upper: Array
    rim: Array
    sure: NDArray[np.bool_]
    asked: NDArray[np.bool_]


def told_by_other_side(sides: TwoSides, told: Array) -> Array:
    """(N,) from 0, surely the upper rim, to 1, surely the lower, knowing the other side.

    Args:
        sides: of the body.
        told: (N,) the same as the look tells it.
    """
    known, asked = np.flatnonzero(sides.sure), np.flatnonzero(sides.asked)
    if len(known) < 5 or len(asked) == 0:
        return told
    mirrored = sides.upper[known] * (1.0, -1.0)
    chosen = sides.lower + sides.rim[:, None] * (sides.upper - sides.lower)
    body = chosen[sides.sure | sides.asked]
    if np.median(cKDTree(body * (1.0, -1.0)).query(body)[0]) > _HALF_WITHIN_MM:
        return told
    known_normals = outward_normals(sides.upper, 3.0)[known] * (1.0, -1.0)
    off = {}
    for level, choice in ((LOWER, sides.lower), (UPPER, sides.upper)):
        normals = outward_normals(choice, 3.0)[asked]
        off[level] = off_the_rim(choice[asked], normals, mirrored, known_normals)
    near, far = np.minimum(off[LOWER], off[UPPER]), np.maximum(off[LOWER], off[UPPER])
    says = (near < _NEAR_MM) & (far - near > _LEAST_APART_MM)
    lean = np.clip((off[UPPER] ** 2 - off[LOWER] ** 2) / (2 * _AGREE_MM**2), -_MOST, _MOST)
    odds = np.log(np.clip(told, 0.02, 0.98) / np.clip(1 - told, 0.02, 0.98))
    again = told.copy()
    again[asked[says]] = 1 / (1 + np.exp(-(odds[asked[says]] + lean[says])))
    return again
