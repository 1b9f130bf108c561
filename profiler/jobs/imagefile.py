"""What kind of image a file holds, and whether all of it is there, without decoding it.

OpenCV fills the missing part of a cut-off JPEG with grey and says nothing, so the end of the
picture is looked for in the file itself.
"""

from __future__ import annotations

import re
from enum import Enum


class Kind(Enum):
    JPEG = "JPEG"
    PNG = "PNG"
    TIFF = "TIFF"
    HEIC = "HEIC"


#: kinds of file that people have and this program does not read; (signature, offset, words)
_FOREIGN: tuple[tuple[bytes, int, str], ...] = (
    (b"IIRO", 0, "a raw photo"),
    (b"IIRS", 0, "a raw photo"),
    (b"IIU\0", 0, "a raw photo"),
    (b"FUJIFILM", 0, "a raw photo"),
    (b"CR", 8, "a raw photo"),
    (b"ftypcrx ", 4, "a raw photo"),
    (b"ftypavif", 4, "an AVIF picture"),
    (b"ftypqt", 4, "a video"),
    (b"ftypmp4", 4, "a video"),
    (b"ftypisom", 4, "a video"),
    (b"WEBP", 8, "a WebP picture"),
    (b"GIF8", 0, "a GIF picture"),
    (b"BM", 0, "a BMP picture"),
    (b"%PDF", 0, "a PDF"),
    (b"\xff\x0a", 0, "a JPEG XL picture"),
    (b"\0\0\0\x0cJXL ", 0, "a JPEG XL picture"),
)
_HEIC_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
#: raw photos that are TIFF files inside
RAW_SUFFIXES = frozenset((".dng", ".nef", ".nrw", ".arw", ".sr2", ".cr2", ".pef", ".srw", ".3fr"))

#: a JPEG marker that is neither a stuffed byte, a restart nor padding
_MARKER = re.compile(rb"\xff[^\x00\xff\xd0-\xd7]")
_SOI, _EOI = 0xD8, 0xD9


def kind_of(data: bytes, suffix: str = "") -> Kind | str | None:
    """Look at the first bytes of a file.

    Args:
        data: the file.
        suffix: of its name, as '.jpg'; only tells raw photos from TIFF pictures.

    Returns:
        the kind; words for a format that is known and not read; None for anything else.
    """
    if data.startswith(b"\xff\xd8\xff"):
        return Kind.JPEG
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return Kind.PNG
    if data[4:8] == b"ftyp" and data[8:12] in _HEIC_BRANDS:
        return Kind.HEIC
    is_tiff = data[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
    for signature, offset, words in _FOREIGN:
        if data.startswith(signature, offset) and (signature != b"CR" or is_tiff):
            return words
    if is_tiff:
        return "a raw photo" if suffix.lower() in RAW_SUFFIXES else Kind.TIFF
    return None


def jpeg_is_whole(data: bytes) -> bool:
    """Whether the picture's closing marker is there; what a phone appends after it is ignored."""
    at = 2
    while (found := _MARKER.search(data, at)) is not None:
        marker = data[found.start() + 1]
        at = found.end()
        if marker == _EOI:
            return True
        if marker == _SOI or marker == 0x01:  # these two stand alone
            continue
        if at + 2 > len(data):
            return False
        at += int.from_bytes(data[at : at + 2], "big")  # over the segment, thumbnails included
    return False


def png_is_whole(data: bytes) -> bool:
    """Whether every chunk up to the closing one is there."""
    at = 8
    while at + 12 <= len(data):
        length, kind = _chunk(data, at)
        at += 12 + length
        if kind == b"IEND":
            return at <= len(data)
    return False


def png_exif(data: bytes) -> bytes:
    """The EXIF chunk of a PNG, wherever it stands; b'' without one."""
    at = 8
    while at + 12 <= len(data):
        length, kind = _chunk(data, at)
        if kind == b"eXIf":
            return data[at + 8 : at + 8 + length]
        at += 12 + length
    return b""


def _chunk(data: bytes, at: int) -> tuple[int, bytes]:
    """Length of a PNG chunk's content and its kind."""
    return int.from_bytes(data[at : at + 4], "big"), data[at + 4 : at + 8]
