"""One file that a stranger can open in twenty years: a zip of JSON, SVG, DXF and the photos.

The text README.txt inside says what everything is; FORMAT below is that text.
"""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from profiler import __version__
from profiler.archive.database import Archive, now, uid_of
from profiler.archive.entries import FileEntry, InstrumentEntry, RevisionEntry
from profiler.archive.errors import ArchiveUnusable
from profiler.archive.files import digest
from profiler.archive.find import entries, measurement_bytes
from profiler.archive.gps import without_gps
from profiler.archive.words import file_name, file_stem
from profiler.drawing.dxf import dxf_bytes
from profiler.drawing.model import Drawing, Layer, Line, Stroke
from profiler.drawing.svg import svg_bytes
from profiler.jobs.reading import measurement_from_record
from profiler.plates.offset import as_points

FORMAT = "profiler archive export"
VERSION = 1
INDEX = "index.json"
SUMS = "SHA256SUMS"
ABOUT = """\
What this file is
=================

A zip file (ISO/IEC 21320-1) of measured outlines of musical instruments. Everything in it is plain:
JSON (RFC 8259, UTF-8), SVG 1.1, DXF (millimetres), and photos as the camera wrote them. No program
is needed beyond ones that open these.

index.json   all instruments: customer, name, maker, kind, tags, notes; under "revisions" each
             measurement, oldest first: the day, notes, length, width and height in mm (null: not
             known), the program that measured, and under "files" what belongs to it: "path" in this
             zip (null: the file is not here, only its hash), "role", the "name" it had, "sha256" of
             the file as it is here, and "original_sha256" of the file as it was kept. The two
             differ where the place (GPS) was taken out of a photo: "gps_removed" is then true.
instruments/N-name/revision-M/
  measurement.json   everything that was measured: "outline" is the instrument's outline seen from
             above as [x, y] in mm, anticlockwise, first point not repeated; x runs along the
             centreline from the tail, y to the left. "outline_u95" is the uncertainty (95 %) at
             each of its points, in mm. "envelope" and "widths" hold the numbers, each with its
             "value" and "u95"; null means that the program did not know. "warnings" say what to
             check.
  outline.svg, outline.dxf   the outline at full size, 1 unit = 1 mm.
  photo, mat, cards, lens, overlay, section, cradle, case   files by what they are.
SHA256SUMS   a hash for every other file, as the program sha256sum checks them.
README.txt   this text.

An instrument's outline in Python:

    import json, zipfile
    z = zipfile.ZipFile("this-file.zip")
    index = json.loads(z.read("index.json"))
    path = index["instruments"][0]["revisions"][-1]["measurement"]
    outline = json.loads(z.read(path))["outline"]
"""


@dataclass(frozen=True)
class Exported:
    """The file, and what was done to photos on the way."""

    data: bytes
    instruments: int
    photos: int
    places_removed: int


def export(archive: Archive, numbers: Sequence[int], with_gps: bool = False) -> Exported:
    """Instruments with all their revisions and files, as one zip.

    Args:
        numbers: of the instruments, in the order wanted.
        with_gps: leave the place in the photos.

    Raises:
        ArchiveUnusable: something of them is damaged; nothing is exported.
    """
    out = io.BytesIO()
    sums: list[str] = []
    photos = removed = 0
    with archive.read() as connection, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as z:

        def put(path: str, data: bytes) -> None:
            # a fixed date: the same content gives the same file
            info = zipfile.ZipInfo(path, (1980, 1, 1, 0, 0, 0))
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = 0o644 << 16
            z.writestr(info, data)
            sums.append(f"{digest(data)}  {path}")

        listed = []
        for instrument in entries(connection, numbers):
            revisions = []
            for revision in instrument.revisions:
                home = (
                    f"instruments/{instrument.id}-{file_stem(instrument.name, 'instrument')}"
                    f"/revision-{revision.number}"
                )
                raw = measurement_bytes(connection, revision)
                put(f"{home}/measurement.json", raw)
                for name, data in _drawings(raw, instrument).items():
                    put(f"{home}/{name}", data)
                files = []
                for name, file in _named(revision.files):
                    found = archive.files.get(connection, file.sha256) if file.kept else None
                    if file.kept and (found is None or digest(found) != file.sha256):
                        raise ArchiveUnusable(
                            f"{file.role} {file.name} of {instrument.id}.{revision.number} is"
                            " missing or damaged. 'profiler archive verify' says what else is."
                        )
                    given = found
                    if found is not None and file.role in ("photo", "overlay") and not with_gps:
                        given = without_gps(found)
                    photos += file.role == "photo" and found is not None
                    removed += given != found
                    if given is not None:
                        put(f"{home}/{name}", given)
                    files.append(_file(file, f"{home}/{name}", given))
                revisions.append(_revision(revision, f"{home}/measurement.json", files))
            listed.append(_instrument(instrument, revisions))
        index = {
            "format": FORMAT,
            "version": VERSION,
            "program": f"profiler {__version__}",
            "about": "See README.txt. Lengths in mm.",
            "units": "mm",
            "archive": uid_of(connection),
            "exported": now(),
            "instruments": listed,
        }
        put(INDEX, (json.dumps(index, ensure_ascii=False, indent=1) + "\n").encode())
        put("README.txt", ABOUT.encode())
        z.writestr(zipfile.ZipInfo(SUMS, (1980, 1, 1, 0, 0, 0)), "\n".join(sums) + "\n")
    return Exported(out.getvalue(), len(listed), photos, removed)


def _named(files: Sequence[FileEntry]) -> Iterator[tuple[str, FileEntry]]:
    """A name inside the revision's folder for each file: its role, then its own, made safe."""
    taken: set[str] = {"measurement.json", "outline.svg", "outline.dxf"}
    for file in files:
        safe = file_name(file.name, "file")
        name = f"{file.role}-{safe}"
        count = 2
        while name in taken:
            name = f"{file.role}-{count}-{safe}"
            count += 1
        taken.add(name)
        yield name, file


def _file(file: FileEntry, path: str, given: bytes | None) -> dict[str, Any]:
    sha256 = hashlib.sha256(given).hexdigest() if given is not None else None
    return {
        "role": file.role,
        "name": file.name,
        "path": path if given is not None else None,
        "sha256": sha256,
        "original_sha256": file.sha256,
        "gps_removed": sha256 is not None and sha256 != file.sha256,
        "elsewhere": file.elsewhere,
    }


def _revision(r: RevisionEntry, path: str, files: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "uid": r.uid,
        "number": r.number,
        "measured": r.measured,
        "added": r.added,
        "program": r.program,
        "kept_by": r.kept_by,
        "notes": r.notes,
        "length": r.length,
        "width": r.width,
        "height": r.height,
        "measurement": path,
        "files": files,
    }


def _instrument(i: InstrumentEntry, revisions: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "uid": i.uid,
        "number": i.id,
        "customer": i.customer,
        "name": i.name,
        "maker": i.maker,
        "kind": i.kind,
        "tags": list(i.tags),
        "notes": i.notes,
        "added": i.added,
        "revisions": revisions,
    }


def _drawings(raw: bytes, instrument: InstrumentEntry) -> dict[str, bytes]:
    """The outline alone, at full size."""
    outline = measurement_from_record(json.loads(raw), Path("measurement.json")).outline
    margin = 10.0
    low = outline.min(axis=0) - margin
    width, height = outline.max(axis=0) + margin - low
    line = Line(as_points(outline - low), Stroke(0.2), closed=True)
    drawing = Drawing(
        f"Outline of instrument {instrument.id}",
        float(width),
        float(height),
        (Layer("outline", (line,)),),
    )
    return {"outline.svg": svg_bytes(drawing), "outline.dxf": dxf_bytes(drawing)}
