"""A phone's lens: pinhole with radial and tangential distortion.

The model is Brown's (Photogrammetric Engineering 37(8), 1971) in OpenCV's form, terms
k1, k2, p1, p2, k3. Pixel (0, 0) is the centre of the top left pixel, x right, y down, in the
sensor's own orientation (a photo's EXIF orientation turns the picture, not the lens).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: order of the numbers in `Lens.vector`
LENS_TERMS = ("f", "aspect", "cx", "cy", "k1", "k2", "p1", "p2", "k3")
#: OpenCV's default of 5 rounds is not converged for strong lenses
UNDISTORT_CRITERIA = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 100, 1e-12)


@dataclass(frozen=True)
class Lens:
    """A lens for photos of one size.

    Attributes:
        width: photo width, px.
        height: photo height, px.
        f: focal length along x, px.
        aspect: focal length along y over that along x.
        cx, cy: principal point, px.
        k1, k2, p1, p2, k3: distortion.
    """

    width: int
    height: int
    f: float
    cx: float
    cy: float
    aspect: float = 1.0
    k1: float = 0.0
    k2: float = 0.0
    p1: float = 0.0
    p2: float = 0.0
    k3: float = 0.0

    @property
    def vector(self) -> Array:
        """(9,): the terms in the order of `LENS_TERMS`."""
        return np.array([getattr(self, name) for name in LENS_TERMS])

    def with_vector(self, values: Array) -> Lens:
        """The same photo size with other terms, in the order of `LENS_TERMS`."""
        terms: dict[str, Any] = {n: float(v) for n, v in zip(LENS_TERMS, values, strict=True)}
        return replace(self, **terms)

    def scaled(self, width: int, height: int) -> Lens:
        """The lens for the same photo resized to another size of the same shape."""
        sx, sy = width / self.width, height / self.height
        return replace(
            self,
            width=width,
            height=height,
            f=self.f * sx,
            aspect=self.aspect * sy / sx,
            cx=(self.cx + 0.5) * sx - 0.5,
            cy=(self.cy + 0.5) * sy - 0.5,
        )

    @property
    def matrix(self) -> Array:
        """(3, 3): OpenCV's camera matrix."""
        return np.array([[self.f, 0, self.cx], [0, self.f * self.aspect, self.cy], [0, 0, 1.0]])

    @property
    def distortion(self) -> Array:
        """(5,): OpenCV's coefficients."""
        return np.array([self.k1, self.k2, self.p1, self.p2, self.k3])

    def project(self, rays: Array) -> Array:
        """Points in the camera's frame to pixels.

        Args:
            rays: (N, 3), camera frame, x right, y down, z forward; any length unit.

        Returns:
            (N, 2) px.
        """
        x = rays[:, 0] / rays[:, 2]
        y = rays[:, 1] / rays[:, 2]
        xd, yd = self._distort(x, y)
        return np.column_stack([self.f * xd + self.cx, self.f * self.aspect * yd + self.cy])

    def _distort(self, x: Array, y: Array) -> tuple[Array, Array]:
        r2 = x * x + y * y
        radial = 1 + r2 * (self.k1 + r2 * (self.k2 + r2 * self.k3))
        xy2 = 2 * x * y
        return (
            x * radial + self.p1 * xy2 + self.p2 * (r2 + 2 * x * x),
            y * radial + self.p2 * xy2 + self.p1 * (r2 + 2 * y * y),
        )

    def jacobian(self, rays: Array) -> tuple[Array, Array, Array]:
        """`project` with its derivatives.

        Args:
            rays: (N, 3), camera frame.

        Returns:
            (N, 2) px; (N, 2, 3) by the point; (N, 2, 9) by the terms of `LENS_TERMS`.
        """
        inv_z = 1.0 / rays[:, 2]
        x = rays[:, 0] * inv_z
        y = rays[:, 1] * inv_z
        r2 = x * x + y * y
        radial = 1 + r2 * (self.k1 + r2 * (self.k2 + r2 * self.k3))
        slope = self.k1 + r2 * (2 * self.k2 + 3 * r2 * self.k3)  # d radial / d r2
        xd, yd = self._distort(x, y)
        fx, fy = self.f, self.f * self.aspect
        pixels = np.column_stack([fx * xd + self.cx, fy * yd + self.cy])

        dxx = radial + 2 * x * x * slope + 2 * self.p1 * y + 6 * self.p2 * x
        dxy = 2 * x * y * slope + 2 * self.p1 * x + 2 * self.p2 * y
        dyy = radial + 2 * y * y * slope + 2 * self.p2 * x + 6 * self.p1 * y
        by_point = np.empty((len(rays), 2, 3))
        by_point[:, 0, 0] = fx * dxx * inv_z
        by_point[:, 0, 1] = fx * dxy * inv_z
        by_point[:, 0, 2] = -fx * (dxx * x + dxy * y) * inv_z
        by_point[:, 1, 0] = fy * dxy * inv_z
        by_point[:, 1, 1] = fy * dyy * inv_z
        by_point[:, 1, 2] = -fy * (dxy * x + dyy * y) * inv_z

        by_terms = np.zeros((len(rays), 2, len(LENS_TERMS)))
        by_terms[:, 0, 0] = xd
        by_terms[:, 1, 0] = self.aspect * yd
        by_terms[:, 1, 1] = fx * yd
        by_terms[:, 0, 2] = 1.0
        by_terms[:, 1, 3] = 1.0
        xy2 = 2 * x * y
        for column, (gx, gy) in {
            4: (x * r2, y * r2),
            5: (x * r2 * r2, y * r2 * r2),
            6: (xy2, r2 + 2 * y * y),
            7: (r2 + 2 * x * x, xy2),
            8: (x * r2**3, y * r2**3),
        }.items():
            by_terms[:, 0, column] = fx * gx
            by_terms[:, 1, column] = fy * gy
        return pixels, by_point, by_terms

    def unproject(self, pixels: Array) -> Array:
        """Pixels to directions.

        Args:
            pixels: (N, 2) px.

        Returns:
            (N, 3), camera frame, z = 1.
        """
        points = np.ascontiguousarray(pixels, dtype=np.float64).reshape(-1, 1, 2)
        plane = cv2.undistortPoints(
            points, self.matrix, self.distortion, criteria=UNDISTORT_CRITERIA
        ).reshape(-1, 2)
        return np.column_stack([plane, np.ones(len(plane))])
