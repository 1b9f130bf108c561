"""How far a strap button would stand out, if its tip were at a given height.

From one photo the height of a button's tip is not seen: the lower it is, the further out it must
be. But buttons are alike in length, so the length says more about the height than custom does
about where on the tail they are put.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from profiler.optics.camera import Camera
from profiler.outline.heights import ButtonSeen, PartEdges
from profiler.outline.lift import lift_points
from profiler.outline.parts import Parts
from profiler.outline.turned import end_seen_further

Array = NDArray[np.float64]

#: the wall on either side of the button: from and to so far beside its middle, mm
_WALL_MM = (14.0, 45.0)
_LEAST_WALL_POINTS = 12
#: nearer to the tail end than this, mm
_TAIL_MM = 60.0


def button_seen(
    pixels: Array, camera: Camera, rim: Array, parts: Parts, body: PartEdges
) -> ButtonSeen | None:
    """What a photo says of the strap button's tip; None where it shows none, or no wall beside.

    Args:
        pixels: (N, 2) px, the edge.
        camera: solved.
        rim: (N,) share of the way up from lower to upper rim.
        parts: split of the same points.
        body: heights of the body's edges.
    """
    mine = parts.members("button")
    if not len(mine):
        return None
    on_mat = parts.frame.from_mat(camera.at_height(pixels[mine], 0.0)[:, :2])
    tip = on_mat[np.argmin(on_mat[:, 0])]
    wall = parts.frame.from_mat(lift_points(pixels, camera, rim, parts, {"body": body}))
    beside = np.abs(wall[:, 1] - tip[1])
    tail = (parts.labels == "body") & (wall[:, 0] < _TAIL_MM)
    tail &= (beside > _WALL_MM[0]) & (beside < _WALL_MM[1])
    sides = [int((tail & (np.sign(wall[:, 1] - tip[1]) == side)).sum()) for side in (-1, 1)]
    if min(sides) < _LEAST_WALL_POINTS:
        return None
    fit = np.polyfit(wall[tail, 1] - tip[1], wall[tail, 0], 2)
    nadir = parts.frame.from_mat(camera.centre[None, :2])[0]
    by_height = float((tip[0] - nadir[0]) / camera.centre[2])
    further = float(end_seen_further(np.array([by_height]))[0])
    return ButtonSeen(float(fit[2] - tip[0]) - further, by_height)
