"""What a job folder brings along: the measurement as it is, its photos, records and documents."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from profiler.archive.errors import CannotKeep
from profiler.archive.files import digest
from profiler.instrument.record import Measurement
from profiler.jobs.reading import (
    MEASUREMENT_NAME,
    JobNotes,
    Record,
    measurement_from_record,
    notes_from_record,
    read_record,
)
from profiler.jobs.side import side_photos

#: further files of a job folder that are kept: name to role
OVERLAY = "overlay.jpg"
#: documents of other rooms: a JSON file's name begins with, or its "format" names, one of these
DOCUMENTS = ("section", "cradle", "case")
ROLES = ("photo", "mat", "cards", "lens", "overlay", *DOCUMENTS, "other")
#: a document or photo above this is a mistake, bytes
LARGEST = 1 << 30


@dataclass(frozen=True)
class KeptFile:
    """A file to be kept, or only spoken of.

    Attributes:
        role: of `ROLES`.
        name: its own.
        sha256: of its content.
        data: the content, None where only the hash is kept.
        elsewhere: where it lies, '' unless only the hash is kept.
    """

    role: str
    name: str
    sha256: str
    data: bytes | None = None
    elsewhere: str = ""


@dataclass(frozen=True)
class Job:
    """A job, ready to be kept.

    Attributes:
        raw: measurement.json byte for byte.
        record, measurement, notes: what it says.
        files: everything else.
        missing: sentences on what was looked for and not found.
    """

    raw: bytes
    record: Record
    measurement: Measurement
    notes: JobNotes
    files: tuple[KeptFile, ...] = ()
    missing: tuple[str, ...] = field(default_factory=tuple)


def job_from_bytes(raw: bytes, where: Path, files: Sequence[KeptFile] = ()) -> Job:
    """A job from the bytes of a measurement; `where` is for messages.

    Raises:
        MeasurementFileError: it is damaged or something else.
    """
    try:
        record = json.loads(raw.decode("utf-8"))
    except (ValueError, RecursionError):
        raise CannotKeep(f"{where} is damaged: it is not readable as JSON.") from None
    if not isinstance(record, dict):
        raise CannotKeep(f"{where} is not a measurement.")
    measurement = measurement_from_record(record, where)
    return Job(raw, record, measurement, notes_from_record(record), tuple(files))


def job_from_folder(
    folder: Path,
    photo_folders: Sequence[Path] = (),
    *,
    without_photos: bool = False,
    by_reference: bool = False,
    documents: Sequence[tuple[str, Path]] = (),
) -> Job:
    """Read a job folder and what belongs to it.

    Args:
        folder: that 'profiler measure' wrote.
        photo_folders: where the photos and records lie, besides the job folder and the one round
            it.
        without_photos: keep no photos, only what the measurement says of them.
        by_reference: keep the photos' place and hash, not the photos.
        documents: role and file, besides those in the folder.

    Raises:
        MeasurementFileError: there is no measurement, or it is damaged.
        CannotKeep: a photo is not there, or is another one than was measured.
    """
    read_record(folder)  # its sentences fit a folder that was named
    home = folder if folder.is_dir() else folder.parent
    path = home / MEASUREMENT_NAME if folder.is_dir() else folder
    job = job_from_bytes(read_file(path), path)
    places = [*photo_folders, home, home.parent]
    files: list[KeptFile] = []
    if not without_photos:
        for photo in job.record.get("photos", []):
            files.append(_photo(photo, places, by_reference))
    found, missing = _records(job.record, places)
    files += found
    if not without_photos:
        kept, lost = _section_photos(job.record, places, by_reference, {f.name for f in files})
        files += kept
        missing += lost
        kept, lost = _side_photos(job.record, home, by_reference, {f.name for f in files})
        files += kept
        missing += lost
    if (home / OVERLAY).is_file():
        files.append(kept_file("overlay", home / OVERLAY))
    for document in (*sorted(home.glob("*.json")), *sorted(home.glob("*/*.json"))):
        role = _role_of(document, by_name=document.parent == home)
        if document != path and role is not None:
            files.append(kept_file(role, document))
    for role, document in documents:
        files.append(kept_file(role, document))
    return Job(job.raw, job.record, job.measurement, job.notes, tuple(files), tuple(missing))


def kept_file(role: str, path: Path) -> KeptFile:
    """A file read whole.

    Raises:
        CannotKeep: it cannot be read.
    """
    data = read_file(path)
    return KeptFile(role, path.name, digest(data), data)


def read_file(path: Path) -> bytes:
    """All of a file.

    Raises:
        CannotKeep: it cannot be read, or is too large to be meant.
    """
    try:
        if path.stat().st_size > LARGEST:
            raise CannotKeep(f"{path} has more than {LARGEST >> 20} MB and was not taken.")
        return path.read_bytes()
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise CannotKeep(f"{path} cannot be read: {why}.") from None


def _photo(entry: object, places: Sequence[Path], by_reference: bool) -> KeptFile:
    name, wanted = "", ""
    if isinstance(entry, dict):
        name, wanted = str(entry.get("name", "")), str(entry.get("sha256", ""))
    plain = Path(name).name
    others = []
    for place in places:
        path = place / plain if place.is_dir() else place
        if not plain or path.name != plain or not path.is_file():
            continue
        data = read_file(path)
        found = digest(data)
        if found == wanted:
            if by_reference:
                return KeptFile("photo", plain, found, None, str(path.resolve()))
            return KeptFile("photo", plain, found, data)
        others.append(path)
    if others:
        raise CannotKeep(
            f"{others[0]} is not the photo that was measured: its content differs. Name the folder"
            " of the original with --photos, or keep the job --without-photos."
        )
    raise CannotKeep(
        f"The photo {name} was not found. Name its folder with --photos FOLDER, or keep the job"
        " --without-photos: the measurement stays whole, but nobody can measure again."
    )


def _section_photos(
    record: Record, places: Sequence[Path], by_reference: bool, taken: set[str]
) -> tuple[list[KeptFile], list[str]]:
    """Photos that sections were taken from: they may be of another day and another folder."""
    kept: dict[str, KeptFile] = {}
    missing = []
    sections = record.get("sections")
    for section in sections if isinstance(sections, list) else []:
        if not isinstance(section, dict) or not section.get("photo_sha256"):
            continue
        name, wanted = str(section.get("detail", "")), str(section["photo_sha256"])
        if name in kept and kept[name].sha256 == wanted:
            continue
        try:
            found = _photo({"name": name, "sha256": wanted}, places, by_reference)
        except CannotKeep:
            found = None
        if found is None or name in kept or name in taken:
            missing.append(
                f"The photo {name} of the section '{section.get('name')}' was not found beside the"
                " others and is not kept; the section itself is."
            )
        else:
            kept[name] = found
    return list(kept.values()), missing


def _side_photos(
    record: Record, home: Path, by_reference: bool, taken: set[str]
) -> tuple[list[KeptFile], list[str]]:
    """Those from the side. The record has no hash of them: only the job's own folder will do."""
    kept, missing = [], []
    for name in dict.fromkeys(Path(said).name for said in side_photos(record)):
        if not name or name in taken:
            continue
        path = home / name
        if path.is_symlink() or not path.is_file():
            missing.append(
                f"The photo from the side, {name}, is not in the job's folder and is not kept; the"
                " heights that it gave are."
            )
            continue
        found = kept_file("photo", path)
        if by_reference:
            found = KeptFile("photo", name, found.sha256, None, str(path.resolve()))
        kept.append(found)
    return kept, missing


def _records(record: Record, places: Sequence[Path]) -> tuple[list[KeptFile], list[str]]:
    """Mat, cards and lens records that were used."""
    from profiler.jobs.lens_search import packaged_folder, user_folder  # heavy

    used = record.get("records_used")
    names = [str(n) for n in used] if isinstance(used, list) else []
    lenses = [p for p in (user_folder(), packaged_folder()) if p is not None]
    found, missing = [], []
    for name in names:
        plain = Path(name).name
        for place in (*places, *lenses):
            path = place / plain
            if plain and place.is_dir() and path.is_file():
                found.append(kept_file(_record_role(path), path))
                break
        else:
            missing.append(f"The record {name} was not found and is not kept.")
    return found, missing


def _record_role(path: Path) -> str:
    """'mat', 'cards' or 'lens', by what the file says it is."""
    said = _format_of(path)
    return next((role for role in ("mat", "cards", "lens") if role in said), "other")


def _role_of(path: Path, by_name: bool) -> str | None:
    said = _format_of(path)
    for role in DOCUMENTS:
        if role in said or (by_name and path.name.lower().startswith(role)):
            return role
    return None


def _format_of(path: Path) -> str:
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return ""
    return str(content.get("format", "")).lower() if isinstance(content, dict) else ""
