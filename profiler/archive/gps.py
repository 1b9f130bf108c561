"""Taking the place where a photo was made out of it; nothing else in the file changes.

The GPS block of every EXIF block (CIPA DC-008: IFD pointer 0x8825) is overwritten with zeros and
left without entries; XMP packets that speak of GPS are blanked. The file keeps its length, so
pictures, thumbnails and all other notes stay where they are.
"""

from __future__ import annotations

import re
import struct
import zlib

GPS_POINTER = 0x8825
#: bytes of one value by TIFF type (TIFF 6.0, page 15)
_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8}
_MOST_ENTRIES = 1000
_XMP = re.compile(rb"<x:xmpmeta.*?</x:xmpmeta>|<rdf:RDF.*?</rdf:RDF>", re.S)
_PNG = b"\x89PNG\r\n\x1a\n"


def without_gps(data: bytes) -> bytes:
    """The same photo without its place; `data` itself where there is none in it.

    JPEG, TIFF, PNG and HEIC: EXIF blocks are looked for wherever they may stand, also in the
    pictures that phones put behind the first one.
    """
    out = bytearray(data)
    for start in _tiff_blocks(data):
        _blank_gps(out, start)
    for found in _XMP.finditer(data):
        if b"GPS" in found[0]:
            out[found.start() : found.end()] = b" " * len(found[0])
    if bytes(out) == data:
        return data
    if data.startswith(_PNG):
        _seal_png(out)
    return bytes(out)


def has_gps(data: bytes) -> bool:
    """Whether a place is noted anywhere in it."""
    return without_gps(data) != data


def _tiff_blocks(data: bytes) -> list[int]:
    """Where blocks in TIFF's form begin: the file itself, after 'Exif', in PNG's eXIf."""
    starts = {0} if data[:4] in (b"II*\0", b"MM\0*") else set()
    for mark, skip in ((b"Exif\0\0", 6), (b"eXIf", 4)):
        at = data.find(mark)
        while at >= 0:
            if data[at + skip : at + skip + 4] in (b"II*\0", b"MM\0*"):
                starts.add(at + skip)
            at = data.find(mark, at + 1)
    return sorted(starts)


def _blank_gps(out: bytearray, start: int) -> None:
    order = "<" if out[start : start + 2] == b"II" else ">"
    seen: set[int] = set()
    try:
        at = _read(out, order + "I", start + 4)
        while at and at not in seen:  # IFD 0, 1 …: the thumbnail has one of its own
            seen.add(at)
            count = min(_read(out, order + "H", start + at), _MOST_ENTRIES)
            for i in range(count):
                entry = start + at + 2 + 12 * i
                if _read(out, order + "H", entry) == GPS_POINTER:
                    _blank_block(out, order, start, _read(out, order + "I", entry + 8))
            at = _read(out, order + "I", start + at + 2 + 12 * count)
    except struct.error:  # a block that breaks off: what could be read has been blanked
        return


def _blank_block(out: bytearray, order: str, start: int, at: int) -> None:
    """Zero the entries of an IFD and the values that they point to; it then has no entries."""
    count = min(_read(out, order + "H", start + at), _MOST_ENTRIES)
    for i in range(count):
        entry = start + at + 2 + 12 * i
        kind, number = struct.unpack_from(order + "HI", out, entry + 2)
        size = _SIZES.get(kind, 1) * number
        if size > 4:
            value = start + _read(out, order + "I", entry + 8)
            end = min(value + size, len(out))
            if size < 65536 and value < end:
                out[value:end] = bytes(end - value)
        struct.pack_into("12x", out, entry)
    struct.pack_into(order + "H", out, start + at, 0)


def _read(out: bytearray, form: str, at: int) -> int:
    return int(struct.unpack_from(form, out, at)[0])


def _seal_png(out: bytearray) -> None:
    """Write the checksum of every chunk anew (PNG, 5.3)."""
    at = len(_PNG)
    while at + 12 <= len(out):
        size = struct.unpack_from(">I", out, at)[0]
        end = at + 8 + size
        if end + 4 > len(out):
            return
        struct.pack_into(">I", out, end, zlib.crc32(bytes(out[at + 4 : end])))
        at = end + 4
