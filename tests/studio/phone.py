"""An invented phone: where it is held, its lens, and what it does to light before a JPEG exists."""

from __future__ import annotations

import io
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Phone:
    """Make, model, and the habits of the picture it makes.

    Attributes:
        lens: in the sensor's own orientation, full size.
        focal_mm: real focal length, as EXIF states it.
        focal_35: as EXIF states it: a rounded integer.
        full_well: electrons at white; sets the shot noise.
        read_noise: electrons.
        blur_px: lens blur (sigma) in the middle and in the corner, at full size.
        sharpen: amount of the unsharp mask.
        quality: JPEG.
        corner: brightness left in the corner by vignetting.
        bend: how the lens departs from what Brown's model describes, see `kernels.undistort`;
            empty for not at all.
    """

    make: str
    model: str
    lens: Lens
    focal_mm: float
    focal_35: int
    full_well: float = 5000.0
    read_noise: float = 4.0
    blur_px: tuple[float, float] = (0.65, 0.95)
    sharpen: float = 0.45
    quality: int = 91
    corner: float = 0.72
    bend: tuple[float, ...] = ()


def held(
    lens: Lens, nadir: tuple[float, float], height: float, look: tuple[float, float], spin: float
) -> Camera:
    """A camera above the bench.

    Args:
        nadir: mat point straight below it, mm.
        height: mm above the mat.
        look: mat point in the middle of the picture, mm; how far it is from `nadir` is the tilt.
        spin: degrees, how far the picture's x is turned from the mat's x.
    """
    centre = np.array([*nadir, height])
    forward = np.array([*look, 0.0]) - centre
    forward /= np.linalg.norm(forward)
    a = np.radians(spin)
    right = np.array([np.cos(a), np.sin(a), 0.0])
    right -= forward * (right @ forward)
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    rotation = np.stack([right, down, forward])
    return Camera(lens, Pose(rotation, -rotation @ centre))


def aimed(lens: Lens, centre: Array, target: Array, roll: float) -> Camera:
    """A camera anywhere, level but for `roll` degrees; centre, target (3,) mm, mat frame."""
    forward = (target - centre) / np.linalg.norm(target - centre)
    right = np.cross(forward, np.array([0.0, 0.0, 1.0]))
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    a = np.radians(roll)
    turned = np.cos(a) * right + np.sin(a) * down
    rotation = np.stack([turned, np.cross(forward, turned), forward])
    return Camera(lens, Pose(rotation, -rotation @ centre))


def _to_srgb(v: NDArray[np.float32]) -> NDArray[np.float32]:
    """Linear to sRGB, IEC 61966-2-1."""
    v = np.clip(v, 0, 1)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.power(v, 1 / 2.4) - 0.055)


def develop(
    radiance: NDArray[np.float32], phone: Phone, exposure: float, seed: int
) -> NDArray[np.uint8]:
    """Linear radiance to the picture's bytes, RGB.

    Args:
        radiance: (H, W, 3).
        exposure: radiance that becomes white.
    """
    rng = np.random.default_rng(seed)
    h, w, _ = radiance.shape
    size = w / phone.lens.width
    image = radiance / exposure
    centre = ((w - 1) / 2, (h - 1) / 2)
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    r2 = ((x - centre[0]) ** 2 + (y - centre[1]) ** 2) / (centre[0] ** 2 + centre[1] ** 2)
    image *= (1 - (1 - phone.corner) * (0.75 * r2 + 0.25 * r2 * r2))[..., None]
    # the lens is softer towards the corners
    inner = cv2.GaussianBlur(image, (0, 0), max(phone.blur_px[0] * size, 0.35))
    outer = cv2.GaussianBlur(image, (0, 0), max(phone.blur_px[1] * size, 0.35))
    image = inner * (1 - r2[..., None]) + outer * r2[..., None]
    del inner, outer
    electrons = np.clip(image, 0, None) * phone.full_well
    noise = rng.standard_normal(image.shape, dtype=np.float32)
    image = image + noise * np.sqrt(electrons + phone.read_noise**2) / phone.full_well
    del noise, electrons
    # demosaicing leaves colour softer than brightness
    weights = np.array([0.25, 0.5, 0.25], dtype=np.float32)
    luma = (image * weights).sum(axis=2, keepdims=True)
    chroma = cv2.GaussianBlur(image - luma, (0, 0), 1.3)
    image = luma + chroma
    coded = _to_srgb(np.clip(image, 0, None)).astype(np.float32)
    bright = (coded * weights).sum(axis=2, keepdims=True)
    soft = cv2.GaussianBlur(bright, (0, 0), 1.2)[..., None]
    coded = coded + phone.sharpen * np.clip(bright - soft, -0.12, 0.12)
    return np.round(np.clip(coded, 0, 1) * 255).astype(np.uint8)


def jpeg(picture: NDArray[np.uint8], phone: Phone, orientation: int, taken: str) -> bytes:
    """JPEG 4:2:0 with the EXIF that phones write; the picture is as the sensor sees it."""
    exif = Image.Exif()
    exif[0x010F] = phone.make
    exif[0x0110] = phone.model
    exif[0x0112] = orientation
    exif[0x0132] = taken
    exif[0x0131] = f"{phone.model} 3.1"
    sub = exif.get_ifd(0x8769)
    sub[0x829A] = 1 / 60
    sub[0x829D] = 1.8
    sub[0x8827] = 160
    sub[0x9003] = taken
    sub[0x9004] = taken
    sub[0x920A] = phone.focal_mm
    sub[0xA405] = phone.focal_35
    sub[0xA002] = picture.shape[1]
    sub[0xA003] = picture.shape[0]
    sub[0xA001] = 1
    out = io.BytesIO()
    Image.fromarray(picture).save(
        out, "JPEG", quality=phone.quality, subsampling="4:2:0", exif=exif.tobytes()
    )
    return out.getvalue()
