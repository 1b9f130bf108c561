"""Lens and pose together: millimetres on the bench to pixels and back."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.optics.lens import Lens

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Pose:
    """A rigid motion: p_a = rotation @ p_b + translation, named `a_from_b` where it is used."""

    #: (3, 3)
    rotation: Array
    #: (3,) mm
    translation: Array

    def apply(self, points: Array) -> Array:
        """(N, 3) in frame b to (N, 3) in frame a."""
        moved: Array = points @ self.rotation.T + self.translation
        return moved

    def inverse(self) -> Pose:
        return Pose(self.rotation.T, -self.rotation.T @ self.translation)

    def after(self, other: Pose) -> Pose:
        """a_from_b.after(b_from_c) is a_from_c."""
        return Pose(
            self.rotation @ other.rotation, self.rotation @ other.translation + self.translation
        )

    def nudged(self, turn: Array, shift: Array) -> Pose:
        """A small extra rotation vector (rad) and shift (mm), both in frame a."""
        step, _ = cv2.Rodrigues(np.asarray(turn, dtype=np.float64))
        return Pose(step @ self.rotation, self.translation + shift)


@dataclass(frozen=True)
class Camera:
    """A photo's lens and place. `camera_from_mat` takes mat millimetres to the camera's frame."""

    lens: Lens
    camera_from_mat: Pose

    @property
    def centre(self) -> Array:
        """(3,) mm, mat frame: where the lens is; its x, y is the nadir point on the mat."""
        return self.camera_from_mat.inverse().translation

    def project(self, points: Array) -> Array:
        """(N, 3) mm, mat frame, to (N, 2) px."""
        return self.lens.project(self.camera_from_mat.apply(points))

    def rays(self, pixels: Array) -> Array:
        """(N, 2) px to (N, 3) directions in the mat frame (not unit length)."""
        return self.turned_to_mat(self.lens.unproject(pixels))

    def turned_to_mat(self, directions: Array) -> Array:
        """(N, 3) directions in the camera's frame to the same in the mat frame."""
        turned: Array = directions @ self.camera_from_mat.rotation
        return turned

    def at_height(self, pixels: Array, height: float | Array) -> Array:
        """Where the ray through each pixel meets the plane z = height.

        Args:
            pixels: (N, 2) px.
            height: mm above the mat, one number or (N,).

        Returns:
            (N, 2) mm, mat frame.
        """
        directions = self.rays(pixels)
        centre = self.centre
        steps = (np.asarray(height) - centre[2]) / directions[:, 2]
        meet: Array = centre[:2] + steps[:, None] * directions[:, :2]
        return meet
