"""A first guess without iteration: where the camera stands, where each card lies."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.optics.camera import Pose
from profiler.optics.lens import Lens

Array = NDArray[np.float64]


def plane_poses(lens: Lens, plane: Array, pixels: Array) -> list[tuple[float, Pose]]:
    """Poses that map a flat set of points to pixels, seen from its front side.

    A small flat target seen from afar fits two tilts about equally well.

    Infinitesimal plane-based pose (Collins and Bartoli, IJCV 109, 2014), as in OpenCV.

    Args:
        lens: a rough lens is enough.
        plane: (N, 2) mm, N >= 4.
        pixels: (N, 2) px.

    Returns:
        (px rms, camera_from_plane), best first; empty where no pose sees the front.
    """
    points = np.column_stack([plane, np.zeros(len(plane))])
    found, turns, shifts, errors = cv2.solvePnPGeneric(
        points.reshape(-1, 1, 3),
        np.ascontiguousarray(pixels, dtype=np.float64).reshape(-1, 1, 2),
        lens.matrix,
        lens.distortion,
        flags=cv2.SOLVEPNP_IPPE,
    )
    if not found:
        return []
    candidates: list[tuple[float, Pose]] = []
    for turn, shift, error in zip(turns, shifts, np.ravel(errors), strict=True):
        rotation, _ = cv2.Rodrigues(turn)
        pose = Pose(np.asarray(rotation, np.float64), np.asarray(shift, np.float64).reshape(3))
        # the panel's z points out of its printed face: the camera must be on that side
        if pose.inverse().translation[2] > 0 and pose.translation[2] > 0:
            candidates.append((float(error), pose))
    return sorted(candidates, key=lambda c: c[0])


def plane_pose(lens: Lens, plane: Array, pixels: Array) -> Pose | None:
    """The best of `plane_poses`, or None."""
    poses = plane_poses(lens, plane, pixels)
    return poses[0][1] if poses else None
