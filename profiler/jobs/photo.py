"""The one place that opens an image.

Pixels come out as the sensor saw them: EXIF orientation turns the picture, not the lens, so it is
noted and never applied here.
"""

from __future__ import annotations

import hashlib
import io
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, UnidentifiedImageError

from profiler.jobs.exif import CameraNotes, notes_from_bytes, read_notes
from profiler.jobs.imagefile import Kind, jpeg_is_whole, kind_of, png_exif, png_is_whole
from profiler.jobs.photo_errors import (
    MixedPhones,
    NotAPhoto,
    PhotoCropped,
    PhotoEmpty,
    PhotoFormatUnsupported,
    PhotoIsFolder,
    PhotoMissing,
    PhotoTooLarge,
    PhotoTooSmall,
    PhotoTruncated,
    PhotoUnreadable,
    PhotoZoomed,
)
from profiler.jobs.turning import Pixels, sensor_side_up

LEAST_MPX = 1.5
#: JPEG decodes straight to half size; the other kinds need the whole picture in memory first
MOST_MPX = {Kind.JPEG: 250.0, Kind.PNG: 120.0, Kind.TIFF: 120.0, Kind.HEIC: 120.0}
#: above this, sides are halved until the picture is below it
FULL_MPX = 48.5
#: phones write 1, 1.0 or nothing where there was no zoom; some round
MOST_ZOOM = 1.02


@dataclass(frozen=True, eq=False)
class Photo:
    """A photo as the sensor saw it.

    Attributes:
        path: where it came from.
        sha256: of the file, hex.
        pixels: (height, width, 3) uint8, blue green red, contiguous, sensor orientation.
        orientation: EXIF code, 1 to 8, that turns `pixels` upright.
        make, model, datetime: as noted by the camera, '' where not.
        focal_mm, focal35_mm, digital_zoom: as noted, None where not.
        exif_width, exif_height: px, size as noted, None where not.
        reduced_by: 1, 2 or 4: sides of the file's picture over sides of `pixels`.
        cropped: it is known not to be the sensor's whole picture and was accepted so.
    """

    path: Path
    sha256: str
    pixels: Pixels
    orientation: int = 1
    make: str = ""
    model: str = ""
    datetime: str = ""
    focal_mm: float | None = None
    focal35_mm: float | None = None
    digital_zoom: float | None = None
    exif_width: int | None = None
    exif_height: int | None = None
    reduced_by: int = 1
    cropped: bool = False

    @property
    def name(self) -> str:
        return self.path.name

    @property
    def width(self) -> int:
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        return int(self.pixels.shape[0])

    def hollow(self) -> Photo:
        """The same without its picture, whose size stays known: a dozen of them fit in memory."""
        empty = np.broadcast_to(np.zeros((1, 1, 1), np.uint8), self.pixels.shape)
        return replace(self, pixels=empty)

    def filled(self) -> Photo:
        """The same with its picture, read again if need be.

        Raises:
            PhotoError: the file is gone, or is another one now.
        """
        if self.pixels.strides != (0, 0, 0):
            return self
        again = open_photo(self.path, allow_crop=True)
        if again.sha256 != self.sha256:
            raise PhotoUnreadable(self.path, "it is not the file any more that was opened first")
        return replace(self, pixels=again.pixels)

    @property
    def phone(self) -> str:
        """Make and model in one, '' where the camera noted neither."""
        if self.model.lower().startswith(self.make.lower()):
            return self.model
        return f"{self.make} {self.model}".strip()


def open_photo(path: Path, *, allow_crop: bool = False, least_mpx: float = LEAST_MPX) -> Photo:
    """Read and decode one photo.

    Args:
        path: a JPEG, PNG, HEIC or TIFF file; only read, never written.
        allow_crop: take a cropped or zoomed photo too, marked as such.
        least_mpx: refuse smaller photos; a chessboard's squares are larger than a mat's checks.

    Raises:
        PhotoError: one of the kinds in `photo_errors`.
    """
    data = _read(path)
    kind = kind_of(data, path.suffix)
    if kind is None:
        raise NotAPhoto(path)
    if isinstance(kind, str):
        raise PhotoFormatUnsupported(path, kind)
    if (kind is Kind.JPEG and not jpeg_is_whole(data)) or (
        kind is Kind.PNG and not png_is_whole(data)
    ):
        raise PhotoTruncated(path)
    if kind is Kind.HEIC:
        from profiler.jobs.heic import open_heic  # its library is only loaded where it is needed

        with _damage_named(path):
            heic = open_heic(data)
        _check_size(path, kind, heic.width, heic.height, least_mpx)
        size, notes = (heic.width, heic.height), heic.notes
        cropped = _check_whole(path, notes, size, allow_crop)
        by = _reduction(*size)
        with _damage_named(path):
            pixels = _shrunk(heic.decode(), by)
    else:
        with _damage_named(path):
            size, notes = _header(data, kind)
        _check_size(path, kind, *size, least_mpx)
        cropped = _check_whole(path, notes, size, allow_crop)
        by = _reduction(*size)
        with _damage_named(path):
            pixels = _decode(data, kind, notes.orientation, by)
    return Photo(
        path=path,
        sha256=hashlib.sha256(data).hexdigest(),
        pixels=pixels,
        orientation=notes.orientation,
        make=notes.make,
        model=notes.model,
        datetime=notes.datetime,
        focal_mm=notes.focal_mm,
        focal35_mm=notes.focal35_mm,
        digital_zoom=notes.digital_zoom,
        exif_width=notes.width,
        exif_height=notes.height,
        reduced_by=by,
        cropped=cropped,
    )


def check_same_phone(photos: Sequence[Photo]) -> None:
    """Photos of one job must share one lens.

    Raises:
        MixedPhones: another phone, another of its lenses, another zoom or another size.
    """
    for other in photos[1:]:
        first = photos[0]
        for label, a, b in (
            ("phone", first.phone, other.phone),
            ("focal length", first.focal_mm, other.focal_mm),
            ("focal length for 35 mm film", first.focal35_mm, other.focal35_mm),
            ("zoom", first.digital_zoom or 1.0, other.digital_zoom or 1.0),
            (
                "size",
                f"{first.width} x {first.height} px",
                f"{other.width} x {other.height} px",
            ),
        ):
            if a != b:
                raise MixedPhones(
                    first.name, other.name, f"{label} {a or 'not noted'} and {b or 'not noted'}"
                )


def _read(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise PhotoIsFolder(path)
        data = path.read_bytes()
    except FileNotFoundError:
        raise PhotoMissing(path) from None
    except PermissionError:
        raise PhotoUnreadable(path, "reading it is not allowed") from None
    except OSError as error:
        raise PhotoUnreadable(path, (error.strerror or str(error)).lower()) from None
    if not data:
        raise PhotoEmpty(path)
    return data


def _header(data: bytes, kind: Kind) -> tuple[tuple[int, int], CameraNotes]:
    with _no_bomb_alarm(), Image.open(io.BytesIO(data)) as image:
        if kind is Kind.PNG:  # asking Pillow would decode the whole picture first
            return image.size, notes_from_bytes(png_exif(data))
        notes = read_notes(image.getexif())
        width, height = image.size
        if kind is Kind.TIFF and notes.orientation >= 5:  # Pillow gives the size once turned
            width, height = height, width
        return (width, height), notes


@contextmanager
def _no_bomb_alarm() -> Iterator[None]:
    """108 Mpx phones exist, so the size is judged here and not by Pillow."""
    before = Image.MAX_IMAGE_PIXELS
    Image.MAX_IMAGE_PIXELS = None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        Image.MAX_IMAGE_PIXELS = before


@contextmanager
def _damage_named(path: Path) -> Iterator[None]:
    """Decoders complain in many tongues; all of it means that the file is damaged."""
    loudness = cv2.utils.logging.getLogLevel()
    # what OpenCV would print is for developers; the sentence below is for everybody
    cv2.utils.logging.setLogLevel(cv2.utils.logging.LOG_LEVEL_SILENT)
    try:
        yield
    except MemoryError:
        raise PhotoUnreadable(path, "there is not enough memory for a picture this large") from None
    except (
        UnidentifiedImageError,
        cv2.error,
        OSError,
        ValueError,
        SyntaxError,
        RuntimeError,
        EOFError,
        TypeError,
        KeyError,
    ):
        raise PhotoTruncated(path) from None
    finally:
        cv2.utils.logging.setLogLevel(loudness)


def _check_size(path: Path, kind: Kind, width: int, height: int, least_mpx: float) -> None:
    mpx = width * height / 1e6
    if mpx > MOST_MPX[kind]:
        raise PhotoTooLarge(path, width, height, MOST_MPX[kind])
    if mpx < least_mpx:
        raise PhotoTooSmall(path, width, height, least_mpx)


def _check_whole(path: Path, notes: CameraNotes, size: tuple[int, int], allow_crop: bool) -> bool:
    """Whether the photo is known to be cropped or zoomed, where that was allowed."""
    cropped = False
    if notes.width and notes.height:
        # some phones note the size of the upright picture
        cropped = sorted((notes.width, notes.height)) != sorted(size)
        if cropped and not allow_crop:
            raise PhotoCropped(path, size, (notes.width, notes.height))
    zoomed = notes.digital_zoom is not None and notes.digital_zoom > MOST_ZOOM
    if zoomed and not allow_crop:
        raise PhotoZoomed(path, notes.digital_zoom or 1.0)
    return cropped or zoomed


def _reduction(width: int, height: int) -> int:
    mpx = width * height / 1e6
    return 1 if mpx <= FULL_MPX else 2 if mpx <= 4 * FULL_MPX else 4


def _decode(data: bytes, kind: Kind, orientation: int, by: int) -> Pixels:
    flags = cv2.IMREAD_COLOR
    if kind is Kind.JPEG and by > 1:
        flags = cv2.IMREAD_REDUCED_COLOR_2 if by == 2 else cv2.IMREAD_REDUCED_COLOR_4
    decoded = cv2.imdecode(
        np.frombuffer(data, dtype=np.uint8), flags | cv2.IMREAD_IGNORE_ORIENTATION
    )
    if decoded is None:
        raise OSError("not decoded")
    pixels = np.asarray(decoded, dtype=np.uint8)
    if kind is Kind.TIFF:  # OpenCV turns these no matter what it is told
        pixels = sensor_side_up(pixels, orientation)
    if kind is not Kind.JPEG:
        pixels = _shrunk(pixels, by)
    return np.ascontiguousarray(pixels)


def _shrunk(pixels: Pixels, by: int) -> Pixels:
    if by == 1:
        return pixels
    height, width = pixels.shape[:2]
    size = (-(-width // by), -(-height // by))
    return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
