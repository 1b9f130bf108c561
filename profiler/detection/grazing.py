"""Tags on the bench, seen so flatly that no detector finds them as they are.

From the height of the strings a tag on the bench is a sliver a few pixels high. What stands upright
tells where the camera is; so the bench before it can be laid flat as if seen from above, roughly,
and read there. The corners found are taken back into the photo.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.detection.observations import Observations
from profiler.detection.tags import find_tags
from profiler.optics.camera import Pose
from profiler.optics.lens import Lens
from profiler.target.panel import Panel

Array = NDArray[np.float64]

#: mm to a cell of the bench laid flat: three to a tag's module
_CELL_MM = 0.75
#: how far to either side of the upright sheet, and how near to the camera, is looked, mm
_ASIDE_MM, _BEFORE_CAMERA_MM = 600.0, 120.0
#: standard uncertainty of a tag's corner found so, px: blur moves corners, and what is flattened is
#: interpolated
CORNER_PX = 0.6


def find_grazing_tags(
    gray: NDArray[np.uint8], lens: Lens, camera_from_upright: Pose
) -> dict[int, Array]:
    """Tags on the bench before an upright panel that stands on it.

    Args:
        gray: (H, W).
        lens: roughly.
        camera_from_upright: of a panel whose lower edge (y = 0) is at the bench.

    Returns:
        code to (4, 2) px, as `find_tags`.
    """
    camera = camera_from_upright.inverse().translation
    depth = float(camera[2]) - _BEFORE_CAMERA_MM
    if depth < 100.0 or camera[1] < 5.0:
        return {}
    low = float(camera[0]) - _ASIDE_MM
    columns, rows = int(2 * _ASIDE_MM / _CELL_MM), int(min(depth, 1500.0) / _CELL_MM)
    step = 16
    xs, zs = np.arange(0, columns + step, step), np.arange(0, rows + step, step)
    x, z = np.meshgrid(low + xs * _CELL_MM, zs * _CELL_MM)
    points = np.column_stack([x.ravel(), np.zeros(x.size), z.ravel()])
    coarse = lens.project(camera_from_upright.apply(points)).reshape(len(zs), len(xs), 2)
    at = np.meshgrid(
        np.arange(columns, dtype=np.float32) / step, np.arange(rows, dtype=np.float32) / step
    )
    where = cv2.remap(coarse.astype(np.float32), at[0], at[1], cv2.INTER_LINEAR)
    flat = cv2.remap(gray, where[..., 0], where[..., 1], cv2.INTER_CUBIC, borderValue=127)
    found = {}
    for code, corners in find_tags(np.asarray(flat, dtype=np.uint8)).items():
        bench = np.column_stack(
            [low + corners[:, 0] * _CELL_MM, np.zeros(4), corners[:, 1] * _CELL_MM]
        )
        found[code] = lens.project(camera_from_upright.apply(bench))
    return found


def corner_observations(tags: dict[int, Array], panels: list[Panel]) -> Observations:
    """The corners of tags as points that measure, where their saddles are too flat for it."""
    rows = [
        (index, cluster.code, local, pixel)
        for index, panel in enumerate(panels)
        for cluster in panel.clusters
        if cluster.code in tags
        for local, pixel in zip(cluster.tag_corners(), tags[cluster.code], strict=True)
    ]
    return Observations(
        panel=np.array([r[0] for r in rows], dtype=np.intp),
        code=np.array([r[1] for r in rows], dtype=np.intp),
        local=np.array([r[2] for r in rows], dtype=np.float64).reshape(-1, 2),
        pixels=np.array([r[3] for r in rows], dtype=np.float64).reshape(-1, 2),
        sigma=np.full(len(rows), CORNER_PX),
    )
