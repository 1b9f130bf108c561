"""The exported file is read by a stranger: with the standard library, by its README alone."""

from __future__ import annotations

import hashlib
import io
import json
import struct
import subprocess
import sys
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from PIL import Image
from PIL.ExifTags import GPS, IFD, Base
from svgpathtools import svg2paths

from profiler.archive.bring import bring
from profiler.archive.database import Archive, open_archive
from profiler.archive.entries import Details
from profiler.archive.errors import ArchiveUnusable, PortableUnusable
from profiler.archive.files import digest
from profiler.archive.find import Wanted, find
from profiler.archive.gps import has_gps, without_gps
from profiler.archive.keep import add_job
from profiler.archive.place import place_of
from profiler.archive.portable import export
from profiler.archive.verify import verify
from tests.archive.made import job, photo_bytes

#: what a stranger writes after reading README.txt; no third-party import
STRANGER = """
import csv, hashlib, json, sys, zipfile
import xml.etree.ElementTree as ElementTree
z = zipfile.ZipFile(sys.argv[1])
assert z.testzip() is None
for line in z.read("SHA256SUMS").decode().splitlines():
    digest, path = line.split("  ", 1)
    assert hashlib.sha256(z.read(path)).hexdigest() == digest, path
assert set(z.namelist()) == {l.split("  ", 1)[1] for l in
    z.read("SHA256SUMS").decode().splitlines()} | {"SHA256SUMS"}
index = json.loads(z.read("index.json"))
said = []
for instrument in index["instruments"]:
    for revision in instrument["revisions"]:
        measurement = json.loads(z.read(revision["measurement"]))
        outline = measurement["outline"]
        assert len(outline) == len(measurement["outline_u95"])
        pairs = zip(outline, outline[1:] + outline[:1])
        area = sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs) / 2
        home = revision["measurement"].rsplit("/", 1)[0]
        ElementTree.fromstring(z.read(home + "/outline.svg"))
        files = {f["role"]: hashlib.sha256(z.read(f["path"])).hexdigest()
                 for f in revision["files"] if f["path"]}
        said.append([instrument["customer"], instrument["name"], instrument["tags"],
                     revision["number"], revision["measured"], len(outline), area,
                     measurement["envelope"]["length"], files])
json.dump(said, sys.stdout)
"""


def stocked(archive: Archive) -> list[int]:
    first = add_job(
        archive, job(1, "Wren", "Ada Marsh"), Details(tags=("a",), measured="2030-05-01")
    )
    add_job(archive, job(2), Details(measured="2031-05-01"), revision_of=first.instrument)
    other = add_job(archive, job(3, "Tern", ""), Details(notes="no owner"))
    return [first.instrument, other.instrument]


def test_a_stranger_opens_it_with_the_standard_library(either: Archive, tmp_path: Path) -> None:
    done = export(either, stocked(either))
    path = tmp_path / "export.zip"
    path.write_bytes(done.data)
    # -I -S: no site-packages, no paths of ours; only what Python brings
    run = subprocess.run(
        [sys.executable, "-I", "-S", "-c", STRANGER, str(path)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    said = json.loads(run.stdout)
    assert [row[:5] for row in said] == [
        ["Ada Marsh", "Wren", ["a"], 1, "2030-05-01"],
        ["Ada Marsh", "Wren", ["a"], 2, "2031-05-01"],
        ["", "Tern", [], 1, said[2][4]],
    ]
    for row, seed in zip(said, (1, 2, 3), strict=True):
        made = job(seed)
        assert row[5] == len(made.measurement.outline)
        assert row[6] == pytest.approx(made.measurement.area.value, rel=1e-5)
        assert row[7]["value"] == pytest.approx(made.measurement.length.value, abs=1e-3)
        assert row[8]["photo"] == digest(photo_bytes(seed))  # byte for byte


def test_the_drawings_are_the_outline_at_full_size(shelf: Archive, tmp_path: Path) -> None:
    """Read by two libraries that did not write them."""
    z = zipfile.ZipFile(io.BytesIO(export(shelf, stocked(shelf)[:1]).data))
    home = "instruments/1-wren/revision-1"
    for name in ("outline.svg", "outline.dxf"):
        (tmp_path / name).write_bytes(z.read(f"{home}/{name}"))
    outline = job(1).measurement.outline
    (line,) = ezdxf.readfile(tmp_path / "outline.dxf").modelspace().query("LWPOLYLINE")
    points = np.array([(p[0], p[1]) for p in line.get_points()])
    assert np.ptp(points, axis=0) == pytest.approx(np.ptp(outline, axis=0), abs=1e-3)
    paths, _ = svg2paths(str(tmp_path / "outline.svg"))
    assert max(p.length() for p in paths) == pytest.approx(
        float(np.hypot(*np.diff(np.vstack([outline, outline[:1]]), axis=0).T).sum()), rel=1e-3
    )


def test_into_another_archive_and_again(either: Archive, tmp_path: Path) -> None:
    data = export(either, stocked(either)).data
    with open_archive(place_of(str(tmp_path / "second")), make=True) as second:
        assert bring(second, data, "x.zip").new == 3
        assert bring(second, data, "x.zip").new == 0
        assert verify(second).problems == ()

        def told(archive: Archive) -> list[Any]:
            return sorted(
                (i.uid, i.name, i.customer, i.tags, i.notes, i.added,
                 [replace(r, id=0) for r in i.revisions])
                for i in find(archive, Wanted())[0]
            )  # fmt: skip

        assert told(second) == told(either)
        again = zipfile.ZipFile(io.BytesIO(export(second, [1, 2]).data)).namelist()
        assert len(again) == len(zipfile.ZipFile(io.BytesIO(data)).namelist())


def rezipped(data: bytes, change: dict[str, bytes | None], add: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as a, zipfile.ZipFile(out, "w") as b:
        for name in a.namelist():
            content = change.get(name, a.read(name))
            if content is not None:
                b.writestr(name, content)
        for name, content in add.items():
            b.writestr(name, content)
    return out.getvalue()


def test_damaged_and_hostile_files_add_nothing(shelf: Archive, tmp_path: Path) -> None:
    data = export(shelf, stocked(shelf)[:1]).data
    photo = "instruments/1-wren/revision-1/photo-top-1.jpg"
    index = zipfile.ZipFile(io.BytesIO(data)).read("index.json")
    hostile = [
        b"",
        b"PK not a zip",
        data[: len(data) // 2],
        rezipped(data, {"index.json": None}, {}),
        rezipped(data, {"index.json": b"{"}, {}),
        rezipped(data, {"index.json": b"[" * 100_000}, {}),
        rezipped(data, {"index.json": index.replace(b'"version": 1', b'"version": 9')}, {}),
        rezipped(data, {"index.json": index.replace(photo.encode(), b"../../etc/passwd")}, {}),
        rezipped(data, {"index.json": index.replace(b'"uid"', b'"u"')}, {}),
        rezipped(data, {photo: b"another photo"}, {}),
        rezipped(data, {photo: None}, {}),
    ]
    with open_archive(place_of(str(tmp_path / "second")), make=True) as second:
        for number, bad in enumerate(hostile):
            with pytest.raises(PortableUnusable):
                bring(second, bad, f"{number}.zip")
            assert find(second, Wanted())[1] == 0
        # further members that want to be somewhere else are never unpacked
        extra = rezipped(data, {}, {"../../evil.txt": b"x", "/tmp/evil.txt": b"x"})
        assert bring(second, extra, "x.zip").new == 2
    assert not list(tmp_path.rglob("evil*")) and not Path("/tmp/evil.txt").exists()


def test_damage_in_the_archive_is_not_exported(shelf: Archive) -> None:
    numbers = stocked(shelf)
    with shelf.write() as connection:
        shelf.files.remove(connection, digest(photo_bytes(3)))
    with pytest.raises(ArchiveUnusable, match="missing or damaged"):
        export(shelf, numbers)


# -- where a photo was taken ---------------------------------------------------------------------


def located(kind: str, gps: bool = True) -> bytes:
    """A photo as a phone writes it, with a place in it unless told otherwise (made by Pillow)."""
    exif = Image.Exif()
    exif[Base.Make], exif[Base.Orientation] = "Birchfield", 6
    exif.get_ifd(IFD.Exif)[Base.DateTimeOriginal] = "2031:05:24 10:00:00"
    if gps:
        place = exif.get_ifd(IFD.GPSInfo)
        place[GPS.GPSLatitudeRef], place[GPS.GPSLatitude] = "N", (48.0, 51.0, 29.5)
        place[GPS.GPSLongitudeRef], place[GPS.GPSLongitude] = "E", (2.0, 17.0, 40.2)
    picture = Image.fromarray(np.arange(48 * 64 * 3, dtype=np.uint8).reshape(48, 64, 3))
    out = io.BytesIO()
    if kind == "HEIF":
        import pillow_heif

        pillow_heif.register_heif_opener()
    more = (
        {"xmp": b"<x:xmpmeta><a exif:GPSLatitude='48,51'/></x:xmpmeta>"} if kind == "JPEG" else {}
    )
    picture.save(out, kind, exif=exif, **(more if gps else {}))
    return _placed(out.getvalue()) if kind == "TIFF" and gps else out.getvalue()


def _placed(tiff: bytes) -> bytes:
    """A little-endian TIFF with a GPS block added, which Pillow does not write (TIFF 6.0, 2)."""
    at = struct.unpack_from("<I", tiff, 4)[0]
    count = struct.unpack_from("<H", tiff, at)[0]
    entries = [tiff[at + 2 + 12 * i : at + 14 + 12 * i] for i in range(count)]
    values = len(tiff)
    numbers = struct.pack("<12I", 48, 1, 51, 1, 59, 2, 2, 1, 17, 1, 402, 10)
    gps = values + len(numbers)
    block = struct.pack("<H", 4)
    for tag, kind, n, value in (
        (1, 2, 2, b"N\0\0\0"), (2, 5, 3, struct.pack("<I", values)),
        (3, 2, 2, b"E\0\0\0"), (4, 5, 3, struct.pack("<I", values + 24)),
    ):  # fmt: skip
        block += struct.pack("<HHI", tag, kind, n) + value
    block += bytes(4)
    entries.append(struct.pack("<HHII", 0x8825, 4, 1, gps))
    entries.sort(key=lambda e: struct.unpack_from("<H", e)[0])
    first = struct.pack("<H", len(entries)) + b"".join(entries) + bytes(4)
    whole = bytearray(tiff + numbers + block + first)
    struct.pack_into("<I", whole, 4, gps + len(block))
    return bytes(whole)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "HEIF"])
def test_the_place_goes_and_the_picture_stays(kind: str) -> None:
    data = located(kind)
    assert has_gps(data)
    bare = without_gps(data)
    assert len(bare) == len(data) and not has_gps(bare)
    before, after = Image.open(io.BytesIO(data)), Image.open(io.BytesIO(bare))
    assert len(before.getexif().get_ifd(IFD.GPSInfo)) == 4  # Pillow reads it: the test is one
    assert dict(after.getexif().get_ifd(IFD.GPSInfo)) == {}
    assert after.tobytes() == before.tobytes()
    exif = after.getexif()
    assert exif[Base.Make] == "Birchfield"
    assert exif.get(Base.Orientation) == before.getexif().get(Base.Orientation)
    assert exif.get_ifd(IFD.Exif) == before.getexif().get_ifd(IFD.Exif)
    assert b"GPSLatitude" not in bare
    Image.open(io.BytesIO(bare)).verify()  # checksums


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "HEIF"])
def test_a_photo_without_a_place_is_not_touched(kind: str) -> None:
    data = located(kind, gps=False)
    assert without_gps(data) is data


def test_cut_off_and_random_photos_do_no_harm() -> None:
    rng = np.random.default_rng(0)
    data = located("JPEG")
    for _ in range(200):
        broken = bytearray(data[: rng.integers(1, len(data))])
        for at in rng.integers(0, len(broken), 5):
            broken[at] = rng.integers(0, 256)
        assert len(without_gps(bytes(broken))) == len(broken)


def test_exported_photos_have_no_place_unless_asked_for(shelf: Archive, tmp_path: Path) -> None:
    photo = located("JPEG")
    add_job(shelf, job(1, "Wren", "", photo), Details())
    bare, whole = export(shelf, [1]), export(shelf, [1], with_gps=True)
    assert (bare.places_removed, whole.places_removed) == (1, 0)
    for done, wanted in ((bare, without_gps(photo)), (whole, photo)):
        z = zipfile.ZipFile(io.BytesIO(done.data))
        (file,) = [
            f for f in json.loads(z.read("index.json"))["instruments"][0]["revisions"][0]["files"]
            if f["role"] == "photo"
        ]  # fmt: skip
        assert z.read(file["path"]) == wanted
        assert file["original_sha256"] == digest(photo)
        assert file["gps_removed"] == (wanted != photo)
        assert file["sha256"] == hashlib.sha256(wanted).hexdigest()
    with open_archive(place_of(str(tmp_path / "second")), make=True) as second:
        assert bring(second, bare.data, "x.zip").new == 1
        assert verify(second).problems == ()
