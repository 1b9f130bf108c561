"""Where things of a measured scene fall in the overlay: undistorted, upright, of a handy size."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from profiler.geometry.curves import extent_at
from profiler.instrument.record import Measurement
from profiler.jobs.turning import Pixels, upright
from profiler.optics.camera import Camera
from profiler.optics.lens import Lens
from profiler.scene.record import Scene

Array = NDArray[np.float64]

LONG_SIDE_PX = 2400
#: below this scale remapping alone would skip pixels, so the photo is shrunk by areas first
SHRINK_FIRST = 0.7
#: floor shown round the mat and the instrument, as a part of their spread
RIM = 0.02


@dataclass(frozen=True)
class View:
    """A picture of the scene as a pinhole camera would have taken it, turned upright.

    Attributes:
        camera: of the photo, with its own lens.
        pinhole: without distortion, of the overlay's size before turning.
        orientation: EXIF code that turns it upright.
    """

    camera: Camera
    pinhole: Lens
    orientation: int

    @property
    def size(self) -> tuple[int, int]:
        """px, width and height of the overlay's picture."""
        width, height = self.pinhole.width, self.pinhole.height
        return (height, width) if self.orientation >= 5 else (width, height)

    def picture(self, pixels: Pixels) -> Pixels:
        """The photo, undistorted and upright: (height, width, 3) BGR."""
        lens, scale = self.camera.lens, self.pinhole.f / self.camera.lens.f
        if scale < SHRINK_FIRST:
            lens = lens.scaled(round(lens.width * scale), round(lens.height * scale))
            pixels = np.asarray(
                cv2.resize(pixels, (lens.width, lens.height), interpolation=cv2.INTER_AREA),
                dtype=np.uint8,
            )
        maps = cv2.initUndistortRectifyMap(
            lens.matrix,
            lens.distortion,
            np.eye(3),
            self.pinhole.matrix,
            (self.pinhole.width, self.pinhole.height),
            cv2.CV_16SC2,
        )
        flat = cv2.remap(pixels, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return upright(np.asarray(flat, dtype=np.uint8), self.orientation)

    def from_photo(self, points: Array) -> Array:
        """(N, 2) px of the photo to (N, 2) px of the overlay."""
        return self.turned(self.pinhole.project(self.camera.lens.unproject(points)))

    def from_mat(self, points: Array) -> Array:
        """(N, 3) mm, mat frame, to (N, 2) px of the overlay."""
        return self.turned(self.pinhole.project(self.camera.camera_from_mat.apply(points)))

    def turned(self, points: Array) -> Array:
        """(N, 2) px before turning upright to (N, 2) px after."""
        x, y = points[:, 0], points[:, 1]
        right, bottom = self.pinhole.width - 1.0, self.pinhole.height - 1.0
        turned = {
            1: (x, y),
            2: (right - x, y),
            3: (right - x, bottom - y),
            4: (x, bottom - y),
            5: (y, x),
            6: (bottom - y, x),
            7: (bottom - y, right - x),
            8: (y, right - x),
        }[self.orientation]
        return np.column_stack(turned)


def view_of(scene: Scene, orientation: int, outline_pixels: Array, photo: int = 0) -> View:
    """The overlay's view of one of the scene's photos: the mat and the instrument, no more floor.

    Args:
        scene: solved.
        orientation: EXIF code of the photo.
        outline_pixels: (N, 2) px of the photo, where the instrument's outline was seen.
        photo: which of the scene's photos.
    """
    camera = scene.cameras[photo]
    full = replace(camera.lens, k1=0.0, k2=0.0, p1=0.0, p2=0.0, k3=0.0)
    corners = np.vstack([placed.corners for placed in scene.sheets])
    on_mat = full.project(camera.camera_from_mat.apply(corners))
    on_instrument = full.project(camera.lens.unproject(outline_pixels))
    shown = np.vstack([on_mat, on_instrument])
    last = np.array([full.width, full.height]) - 1.0
    low = np.clip(shown.min(axis=0) - RIM * np.ptp(shown), 0, last)
    high = np.clip(shown.max(axis=0) + RIM * np.ptp(shown), 0, last)
    scale = min(1.0, LONG_SIDE_PX / float((high - low).max()))
    width, height = (max(16, round(float(side) * scale)) for side in high - low)
    pinhole = replace(
        full,
        width=width,
        height=height,
        f=full.f * scale,
        cx=(full.cx - low[0] + 0.5) * scale - 0.5,
        cy=(full.cy - low[1] + 0.5) * scale - 0.5,
    )
    return View(camera, pinhole, orientation)


@dataclass(frozen=True)
class Seen:
    """The measured instrument on the overlay; all points px.

    Attributes:
        outline: (N, 2), where the edge was seen, closed.
        doubtful: (N,) whether the outline is in doubt there.
        centreline: (2, 2), tail and head, at the body's height.
        stations: name to (2, 2), the ends of the width, and the width in mm.
        px_per_mm: at the body's height, in the middle of the instrument.
    """

    outline: Array
    doubtful: NDArray[np.bool_]
    centreline: Array
    stations: dict[str, tuple[Array, float]]
    px_per_mm: float


def instrument_on(view: View, measurement: Measurement, outline_pixels: Array) -> Seen:
    """Where the instrument falls.

    Args:
        view: of the photo that the outline was taken from.
        measurement: of the instrument.
        outline_pixels: (N, 2) px of the photo, where the outline was seen.
    """
    heights = {h.part: h.height.value or 0.0 for h in measurement.heights}
    body = heights.get("body", 0.0)
    z = np.array([heights.get(part, body) for part in measurement.outline_part])
    lifted = np.column_stack([measurement.frame.to_mat(measurement.outline), z])
    outline = view.from_photo(outline_pixels)
    _, nearest = cKDTree(view.from_mat(lifted)).query(outline)

    def on_body(points: list[tuple[float, float]], height: float = body) -> Array:
        flat = measurement.frame.to_mat(np.array(points))
        return view.from_mat(np.column_stack([flat, np.full(len(flat), height)]))

    length = float(measurement.outline[:, 0].max())
    stations = {}
    for name, width in measurement.widths.items():
        if width.value is None or width.x is None:
            continue
        low, high = extent_at(measurement.outline, np.array([width.x]))
        ends = [(width.x, float(low[0])), (width.x, float(high[0]))]
        if not np.isfinite(ends).all():
            continue
        at = int(np.argmin(np.hypot(*(measurement.outline - np.array(ends[1])).T)))
        stations[name] = (on_body(ends, float(z[at])), width.value)
    middle_mm = on_body([(length / 2 - 50, 0.0), (length / 2 + 50, 0.0)])
    return Seen(
        outline=outline,
        doubtful=_flags(measurement)[nearest],
        centreline=on_body([(0.0, 0.0), (length, 0.0)]),
        stations=stations,
        px_per_mm=float(np.hypot(*(middle_mm[1] - middle_mm[0]))) / 100.0,
    )


def _flags(measurement: Measurement) -> NDArray[np.bool_]:
    """(N,) which points of the outline lie in a doubtful stretch."""
    count = len(measurement.outline)
    flags = np.zeros(count, dtype=bool)
    for stretch in measurement.doubtful:
        flags[stretch.indices(count)] = True
    return flags


@dataclass(frozen=True)
class Marks:
    """The printed points that the scene was solved from; px of the overlay.

    Attributes:
        points: (M, 2), where they were seen.
        residuals: (M, 2), seen minus predicted, in px of the photo, turned like the overlay.
        used: (M,) False where they were set aside.
    """

    points: Array
    residuals: Array
    used: NDArray[np.bool_]


def marks_on(view: View, scene: Scene, photo: int = 0) -> Marks:
    """Where the measuring points of one photo fall, with what the solution leaves over."""
    start = sum(len(o) for o in scene.observations[:photo])
    seen = scene.observations[photo]
    part = slice(start, start + len(seen))
    # a residual is a difference, so only the turning matters, not the scale
    turned = view.turned(scene.residuals[part]) - view.turned(np.zeros((len(seen), 2)))
    return Marks(view.from_photo(seen.pixels), turned, scene.used[part])
