"""What the camera noted in the photo. Nothing here is trusted; nonsense reads as 'not noted'."""

from __future__ import annotations

import math
from dataclasses import dataclass

from PIL import Image
from PIL.ExifTags import IFD, Base

#: codes of EXIF orientation, CIPA DC-008
ORIENTATIONS = range(1, 9)


@dataclass(frozen=True)
class CameraNotes:
    """EXIF fields that measuring needs.

    Attributes:
        orientation: 1 to 8, how the stored picture is turned to look upright.
        make, model, datetime: as noted, '' where not.
        focal_mm: focal length, mm.
        focal35_mm: the same for a 36 x 24 mm sensor, mm.
        digital_zoom: 1 means none.
        width, height: of the picture as it left the camera, px.
    """

    orientation: int = 1
    make: str = ""
    model: str = ""
    datetime: str = ""
    focal_mm: float | None = None
    focal35_mm: float | None = None
    digital_zoom: float | None = None
    width: int | None = None
    height: int | None = None


def read_notes(exif: Image.Exif) -> CameraNotes:
    """Pick the fields out; anything missing, zero or not a number becomes None or ''."""
    try:
        detail = exif.get_ifd(IFD.Exif)
    except (ValueError, TypeError, KeyError, SyntaxError, OSError):  # a damaged block
        detail = {}
    orientation = _whole(exif.get(Base.Orientation)) or 1
    return CameraNotes(
        orientation=orientation if orientation in ORIENTATIONS else 1,
        make=_text(exif.get(Base.Make)),
        model=_text(exif.get(Base.Model)),
        datetime=_text(detail.get(Base.DateTimeOriginal) or exif.get(Base.DateTime)),
        focal_mm=_number(detail.get(Base.FocalLength)),
        focal35_mm=_number(detail.get(Base.FocalLengthIn35mmFilm)),
        digital_zoom=_number(detail.get(Base.DigitalZoomRatio)),
        width=_whole(detail.get(Base.ExifImageWidth)),
        height=_whole(detail.get(Base.ExifImageHeight)),
    )


def notes_from_bytes(block: bytes) -> CameraNotes:
    """The same from a bare EXIF block, b'' for none."""
    exif = Image.Exif()
    if block:
        try:
            exif.load(block)
        except (ValueError, TypeError, KeyError, SyntaxError, OSError):
            return CameraNotes()
    return read_notes(exif)


def _text(value: object) -> str:
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    if not isinstance(value, str):
        return ""
    return "".join(c for c in value.split("\0")[0] if c.isprintable()).strip()


def _number(value: object) -> float | None:
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if math.isfinite(number) and number > 0 else None


def _whole(value: object) -> int | None:
    number = _number(value)
    return None if number is None else int(number)
