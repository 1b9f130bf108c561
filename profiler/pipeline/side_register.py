"""The mat's print found again where it is seen too flatly for its saddles.

Once the camera is roughly placed, what each target must look like is known. Drawn so, slid over the
photo to where it fits best, a target tells its place as a whole: far better than a check two pixels
high does.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.detection.observations import Observations
from profiler.optics.camera import Camera
from profiler.scene.record import PlacedPanel
from profiler.silhouette.inked import panel_ink
from profiler.target.panel import Cluster

Array = NDArray[np.float64]

#: rows drawn to each row of the photo: modules are lower than a pixel there
_FINER = 4
#: a target lower or narrower than this in the photo is left out, px
_LEAST_PX = (14, 6)
#: a target is found if it fits as well as this (normalised correlation): a guess
_LEAST_LIKE = 0.8
#: standard uncertainty of a found target's place, px
_PLACE_PX = 0.12
#: light of tint, white paper and black ink in the photo's own (gamma-coded) terms: only roughly
_TINT, _WHITE, _BLACK = 0.8, 0.95, 0.2


def registered(
    gray: NDArray[np.uint8], camera: Camera, sheets: Sequence[PlacedPanel], reach: int
) -> Observations:
    """Places of the middles of the mat's targets.

    Args:
        gray: (H, W).
        camera: roughly placed.
        sheets: the mat's, `panel` of what is returned indexes them.
        reach: px, how far off a target may be.
    """
    rows: list[tuple[int, int, Array, Array]] = []
    for k, sheet in enumerate(sheets):
        for cluster in sheet.panel.clusters:
            at = _place(gray, camera, sheet, cluster, reach)
            if at is not None:
                rows.append((k, cluster.code, np.array([cluster.x, cluster.y]), at))
    return Observations(
        panel=np.array([r[0] for r in rows], dtype=np.intp),
        code=np.array([r[1] for r in rows], dtype=np.intp),
        local=np.array([r[2] for r in rows], dtype=np.float64).reshape(-1, 2),
        pixels=np.array([r[3] for r in rows], dtype=np.float64).reshape(-1, 2),
        sigma=np.full(len(rows), _PLACE_PX),
    )


def _place(
    gray: NDArray[np.uint8], camera: Camera, sheet: PlacedPanel, cluster: Cluster, reach: int
) -> Array | None:
    box = cluster.footprint().grown(2.0)
    corners = np.array([(box.x0, box.y0), (box.x1, box.y0), (box.x1, box.y1), (box.x0, box.y1)])
    solid = sheet.to_mat(corners)
    if (camera.camera_from_mat.apply(solid)[:, 2] < 50).any():
        return None
    seen = camera.project(solid)
    low = np.floor(seen.min(axis=0)).astype(int)
    size = np.ceil(seen.max(axis=0)).astype(int) - low + 1
    h, w = gray.shape
    first, last = low - reach, low + size + reach
    if (size < _LEAST_PX).any() or (first < 0).any() or last[0] > w or last[1] > h:
        return None
    drawn = _drawn(camera, sheet, low, size)
    window = gray[first[1] : last[1], first[0] : last[0]].astype(np.float32)
    like = np.asarray(cv2.matchTemplate(window, drawn, cv2.TM_CCOEFF_NORMED), np.float32)
    row, column = np.unravel_index(int(np.argmax(like)), like.shape)
    if like[row, column] < _LEAST_LIKE:
        return None
    if not (0 < row < like.shape[0] - 1 and 0 < column < like.shape[1] - 1):
        return None
    shift = np.array(
        [
            column - reach + _peak(like[row, column - 1 : column + 2]),
            row - reach + _peak(like[row - 1 : row + 2, column]),
        ]
    )
    middle = camera.project(sheet.to_mat(np.array([[cluster.x, cluster.y]])))[0]
    placed: Array = middle + shift
    return placed


def _drawn(
    camera: Camera, sheet: PlacedPanel, low: NDArray[np.intp], size: NDArray[np.intp]
) -> NDArray[np.float32]:
    """What the photo should show of the print in a box of it."""
    x, y = np.meshgrid(
        low[0] + np.arange(size[0]),
        low[1] + (np.arange(size[1] * _FINER) + 0.5) / _FINER - 0.5,
    )
    rays = camera.rays(np.column_stack([x.ravel(), y.ravel()]).astype(np.float64))
    back = sheet.mat_from_panel.inverse()
    start = back.apply(camera.centre[None])[0]
    along = rays @ back.rotation.T
    local = (start - start[2] / along[:, 2:] * along)[:, :2] / [sheet.scale.x, sheet.scale.y]
    white, black = panel_ink(sheet.panel, local, 0.25)
    light = _TINT + (_WHITE - _TINT) * white - (_TINT - _BLACK) * black
    fine = light.reshape(-1, size[0]).astype(np.float32)
    whole = cv2.resize(fine, (int(size[0]), int(size[1])), interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.GaussianBlur(whole, (0, 0), 0.8), dtype=np.float32)


def _peak(three: NDArray[np.float32]) -> float:
    """Where a parabola through three neighbours has its top, from the middle one."""
    a, b, c = (float(v) for v in three)
    bend = a - 2 * b + c
    return 0.5 * (a - c) / bend if bend < -1e-9 else 0.0
