"""The photo as the page shows it: undistorted and upright, with the map between its px and mm."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.jobs.turning import Pixels
from profiler.optics.camera import Camera
from profiler.optics.lens import Lens
from profiler.pipeline.overlay_view import View
from profiler.scene.record import Scene

Array = NDArray[np.float64]

#: an undistorted photo may grow by this share of its size on each side
_GROWN = 0.08
JPEG_QUALITY = 90
SMALL_PX = 1600
#: points along each border of the photo
_ROUND = 60


def whole_view(scene: Scene, orientation: int) -> View:
    """All of the scene's first photo, as large as it is in its middle.

    It follows from the scene alone, so that it stays the same whatever becomes of the outline.
    """
    camera = scene.cameras[0]
    lens = camera.lens
    pinhole = replace(lens, k1=0.0, k2=0.0, p1=0.0, p2=0.0, k3=0.0)
    x = np.linspace(0, lens.width - 1.0, _ROUND)
    y = np.linspace(0, lens.height - 1.0, _ROUND)
    border = np.vstack(
        [np.column_stack([x, np.full(_ROUND, v)]) for v in (0.0, lens.height - 1.0)]
        + [np.column_stack([np.full(_ROUND, v), y]) for v in (0.0, lens.width - 1.0)]
    )
    flat = pinhole.project(lens.unproject(border))
    size = np.array([lens.width, lens.height], dtype=np.float64)
    low = np.floor(np.clip(flat.min(axis=0), -_GROWN * size, 0.0))
    high = np.ceil(np.clip(flat.max(axis=0), size - 1, (1 + _GROWN) * size))
    width, height = (int(v) + 1 for v in high - low)
    return View(
        camera,
        replace(pinhole, width=width, height=height, cx=lens.cx - low[0], cy=lens.cy - low[1]),
        orientation,
    )


def view_jpegs(view: View, pixels: Pixels) -> tuple[bytes, bytes]:
    """The picture as JPEG files, in full and small."""
    picture = view.picture(pixels)
    long_side = max(picture.shape[:2])
    scale = min(1.0, SMALL_PX / long_side)
    small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    return _jpeg(picture), _jpeg(np.asarray(small, dtype=np.uint8))


def _jpeg(picture: Pixels) -> bytes:
    done, coded = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    assert done
    return coded.tobytes()


def camera_map(view: View) -> dict[str, Any]:
    """How px of the picture and mm belong together, as the contract says."""
    corners = view.turned(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    turn = np.eye(3)
    turn[:2, 0] = corners[1] - corners[0]
    turn[:2, 1] = corners[2] - corners[0]
    turn[:2, 2] = corners[0]
    px = turn @ view.pinhole.matrix @ view.camera.camera_from_mat.rotation
    return {
        "centre": view.camera.centre.tolist(),
        "px": px.tolist(),
        "rays": np.linalg.inv(px).tolist(),
    }


def view_record(view: View) -> dict[str, Any]:
    """What is needed to bring places of the picture back into the photo."""
    return {
        "lens": asdict(view.camera.lens),
        "pinhole": asdict(view.pinhole),
        "orientation": view.orientation,
    }


class PhotoMap:
    """Places of the picture to places of the photo, and back, without the scene."""

    def __init__(self, record: Any) -> None:
        """From a `view_record`.

        Raises:
            KeyError, TypeError: it is none.
        """
        self._lens = Lens(**record["lens"])
        self._pinhole = Lens(**record["pinhole"])
        self._orientation = int(record["orientation"])

    def to_photo(self, points: Array) -> Array:
        """(N, 2) px of the picture to (N, 2) px of the photo."""
        return self._lens.project(self._pinhole.unproject(self._turned_back(points)))

    def from_photo(self, points: Array) -> Array:
        """(N, 2) px of the photo to (N, 2) px of the picture."""
        return self._view.turned(self._pinhole.project(self._lens.unproject(points)))

    @property
    def _view(self) -> View:
        nowhere: Camera = Camera(self._lens, None)  # type: ignore[arg-type]
        return View(nowhere, self._pinhole, self._orientation)

    def _turned_back(self, points: Array) -> Array:
        x, y = points[:, 0], points[:, 1]
        right, bottom = self._pinhole.width - 1.0, self._pinhole.height - 1.0
        back = {
            1: (x, y),
            2: (right - x, y),
            3: (right - x, bottom - y),
            4: (x, bottom - y),
            5: (y, x),
            6: (y, bottom - x),
            7: (right - y, bottom - x),
            8: (right - y, x),
        }[self._orientation]
        return np.column_stack(back)
