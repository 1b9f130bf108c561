"""Reading an exported file back, into this or another archive."""

from __future__ import annotations

import io
import json
import re
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from profiler.archive.database import Archive
from profiler.archive.entries import Details
from profiler.archive.errors import PortableUnusable
from profiler.archive.files import digest
from profiler.archive.intake import ROLES, KeptFile, job_from_bytes
from profiler.archive.keep import Identity, Kept, add_job
from profiler.archive.portable import FORMAT, INDEX, VERSION
from profiler.errors import ProfilerError

#: what one member may unpack to, bytes; more is a bomb
LARGEST_MEMBER = 1 << 30


@dataclass(frozen=True)
class Brought:
    """What came in."""

    kept: tuple[Kept, ...]

    @property
    def new(self) -> int:
        return sum(not k.known for k in self.kept)


def bring(archive: Archive, data: bytes, name: str) -> Brought:
    """Add everything of an exported file; what is there already stays as it is.

    All of it is read and checked before anything is added. Each measurement is added whole; stopped
    halfway, do it again and the rest comes in.

    Args:
        data: the zip.
        name: of the file, for messages.

    Raises:
        PortableUnusable: it is damaged, or something else, or of a newer program.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as z:
            index = _index(z, name)
            jobs = [
                (_text(i, "uid"), i, r, _job(z, r, name))
                for i in _list(index, "instruments")
                for r in _list(i, "revisions")
            ]
    except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, NotImplementedError, OSError):
        raise PortableUnusable(f"{name} is damaged, or no zip file at all.") from None
    except RuntimeError as error:  # an encrypted member
        raise PortableUnusable(f"{name} cannot be read: {error}.") from None
    kept = []
    for uid, i, r, job in jobs:
        number = r.get("number")
        details = Details(
            customer=_text(i, "customer"),
            name=_text(i, "name"),
            maker=_text(i, "maker"),
            kind=_text(i, "kind"),
            measured=_text(r, "measured"),
            notes=_text(i, "notes"),
            revision_notes=_text(r, "notes"),
            tags=tuple(t for t in i.get("tags", ()) if isinstance(t, str) and t[:1] != "-"),
        )
        identity = Identity(
            instrument_uid=uid,
            revision_uid=_text(r, "uid"),
            added=_text(r, "added"),
            kept_by=_text(r, "kept_by"),
            number=number if isinstance(number, int) and 0 < number < 10**6 else None,
        )
        kept.append(add_job(archive, job, details, identity=identity))
    return Brought(tuple(kept))


def _index(z: zipfile.ZipFile, name: str) -> dict[str, Any]:
    try:
        index = json.loads(_member(z, INDEX, name))
    except (ValueError, RecursionError):
        raise PortableUnusable(f"{name} is damaged: its {INDEX} is not readable.") from None
    if not isinstance(index, dict) or index.get("format") != FORMAT:
        raise PortableUnusable(f"{name} was not written by 'profiler archive export'.")
    version = index.get("version")
    if not isinstance(version, int) or version > VERSION:
        raise PortableUnusable(
            f"{name} has version {version}; this program reads up to {VERSION}. Update the program."
        )
    return index


def _job(z: zipfile.ZipFile, revision: dict[str, Any], name: str) -> Any:
    path = _text(revision, "measurement")
    try:
        job = job_from_bytes(_member(z, path, name), Path(path))
    except PortableUnusable:
        raise
    except ProfilerError as error:
        raise PortableUnusable(f"{name}: {error}") from None
    files = []
    for file in _list(revision, "files"):
        role = _text(file, "role")
        here = file.get("path")
        if here is None:
            sha256, content = _text(file, "original_sha256"), None
        else:
            content = _member(z, str(here), name)
            sha256 = digest(content)
            if sha256 != _text(file, "sha256"):
                raise PortableUnusable(f"{name} is damaged: the hash of {here} differs.")
        if not re.fullmatch("[0-9a-f]{64}", sha256):
            raise PortableUnusable(f"{name} is damaged: {sha256[:80]!r} is no hash.")
        elsewhere = _text(file, "elsewhere") if content is None else ""
        files.append(
            KeptFile(
                role if role in ROLES else "other",
                _text(file, "name"),
                sha256,
                content,
                elsewhere or ("" if content is not None else "not in the exported file"),
            )
        )
    return job_from_bytes(job.raw, Path(path), files)


def _member(z: zipfile.ZipFile, path: str, name: str) -> bytes:
    """A member by its name; names are only ever looked up here, never written to."""
    try:
        info = z.getinfo(path)
    except KeyError:
        raise PortableUnusable(f"{name} is damaged: it lacks {path[:200]}.") from None
    if info.file_size > LARGEST_MEMBER:
        raise PortableUnusable(f"{name}: {path[:200]} is larger than anything this program writes.")
    try:
        return z.read(info)
    except zipfile.BadZipFile:
        raise PortableUnusable(f"{name} is damaged at {path[:200]}.") from None


def _list(value: dict[str, Any], key: str) -> list[dict[str, Any]]:
    found = value.get(key)
    if not isinstance(found, list) or not all(isinstance(v, dict) for v in found):
        raise PortableUnusable(f"The exported file is damaged: its {key} are no list.")
    return found


def _text(value: dict[str, Any], key: str) -> str:
    found = value.get(key)
    if not isinstance(found, str):
        raise PortableUnusable(f"The exported file is damaged: {key} is missing.")
    return found
