"""A piece of the photo laid flat at some height above the mat, turned so that something runs up."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.optics.camera import Camera
from profiler.optics.light import remap_linear
from profiler.silhouette.ground import TINT, WHITE, Plan

Array = NDArray[np.float64]
Image = NDArray[np.float32]
Mask = NDArray[np.bool_]

#: cells between the places at which the lens is asked; between them the grid is even
_STEP = 8


@dataclass(frozen=True)
class Level:
    """A picture of a plane parallel to the mat: u to the right, v up the rows.

    Attributes:
        light: (H, W, 3) linear light, BGR; row 0 has the lowest v.
        mask: (H, W) where the silhouette is seen.
        ink: (H, W) where the print below changes.
        corner: (2,) mm, u and v of cell (0, 0).
        cell: mm.
        angle: rad, from the mat's x to u.
        height: mm above the mat.
    """

    light: Image
    mask: Mask
    ink: Mask
    corner: Array
    cell: float
    angle: float
    height: float

    def to_mat(self, uv: Array) -> Array:
        """(N, 2) mm u, v to (N, 2) mm, mat frame."""
        return turned(uv, self.angle)

    def u(self) -> Array:
        """(W,) mm."""
        values: Array = self.corner[0] + np.arange(self.light.shape[1]) * self.cell
        return values

    def v(self) -> Array:
        """(H,) mm."""
        values: Array = self.corner[1] + np.arange(self.light.shape[0]) * self.cell
        return values


def turned(points: Array, angle: float) -> Array:
    """(N, 2) turned anticlockwise about the origin."""
    c, s = np.cos(angle), np.sin(angle)
    out: Array = points @ np.array([[c, s], [-s, c]])
    return out


def lay_level(
    photo: NDArray[np.uint8],
    camera: Camera,
    plan: Plan,
    mask: Mask,
    angle: float,
    height: float,
    cell: float,
    margin: float = 6.0,
) -> Level:
    """Lay flat what a mask covers, and a margin round it.

    Args:
        photo: (H, W, 3) 8 bit BGR.
        camera: solved.
        plan: the photo laid flat on the mat, which the mask belongs to.
        mask: (H, W) on the plan.
        angle: rad, from the mat's x to the picture's u.
        height: mm above the mat.
        cell, margin: mm.
    """
    rows, columns = np.nonzero(mask)
    on_mat = plan.to_mat(np.column_stack([columns, rows]).astype(np.float64))
    centre = camera.centre
    # what is seen at a mat point lies nearer to the nadir at a height
    at_height = on_mat + (centre[:2] - on_mat) * (height / centre[2])
    uv = turned(at_height, -angle)
    low, high = uv.min(axis=0) - margin, uv.max(axis=0) + margin
    w, h = (int(np.ceil(v / cell)) + 1 for v in high - low)
    gu, gv = np.meshgrid(np.arange(0, w + _STEP, _STEP), np.arange(0, h + _STEP, _STEP))
    coarse = turned(np.column_stack([gu.ravel(), gv.ravel()]) * cell + low, angle)
    pixels = camera.project(np.column_stack([coarse, np.full(len(coarse), height)]))
    ground = plan.to_cells(camera.at_height(pixels, 0.0))
    x, y = np.meshgrid(
        np.arange(w, dtype=np.float32) / _STEP, np.arange(h, dtype=np.float32) / _STEP
    )

    def grid(points: Array) -> Image:
        return np.asarray(
            cv2.remap(points.reshape((*gu.shape, 2)).astype(np.float32), x, y, cv2.INTER_LINEAR),
            dtype=np.float32,
        )

    at = grid(pixels)
    cells = grid(ground)

    def layer(values: NDArray[np.uint8]) -> Mask:
        return cv2.remap(values, cells[..., 0], cells[..., 1], cv2.INTER_NEAREST, borderValue=0) > 0

    return Level(
        remap_linear(photo, at, cv2.BORDER_REPLICATE),
        layer(mask.astype(np.uint8)),
        layer(_print_changes(plan)),
        low,
        cell,
        angle,
        height,
    )


def _print_changes(plan: Plan) -> NDArray[np.uint8]:
    """(H, W) 1 where the print changes, or within a cell of it."""
    ink = plan.white + 2.0 * plan.black
    paper = ((plan.printed & WHITE) > 0) * 1.0 + ((plan.printed & TINT) > 0) * 3.0
    changes = np.zeros(ink.shape, dtype=np.uint8)
    for values in (ink, paper.astype(np.float32)):
        spread = cv2.dilate(values, np.ones((3, 3))) - cv2.erode(values, np.ones((3, 3)))
        changes |= (spread > 0.4).astype(np.uint8)
    return changes
