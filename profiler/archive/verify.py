"""Every hash and every record of an archive looked at, and what is wrong said."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from sqlalchemy import Connection, select, text

from profiler.archive import tables as t
from profiler.archive.database import Archive
from profiler.archive.entries import InstrumentEntry, RevisionEntry
from profiler.archive.erase import finish_erasures
from profiler.archive.files import DRAFT, FilesInFolder, digest
from profiler.archive.find import entries
from profiler.archive.intake import job_from_bytes
from profiler.archive.shape import packed, shape_of
from profiler.archive.words import shown_line
from profiler.errors import ProfilerError

Progress = Callable[[str, float], None]

#: instruments looked at in one view; others may write in between
_AT_ONCE = 50


@dataclass(frozen=True)
class Problem:
    """Something wrong: where, what, and whether anything is lost by it."""

    where: str
    what: str
    loss: bool = True

    def __str__(self) -> str:
        return f"{self.where}: {self.what}"


@dataclass(frozen=True)
class Checked:
    """What was looked at, and what was found."""

    instruments: int
    revisions: int
    files: int
    bytes: int
    problems: tuple[Problem, ...]

    @property
    def sound(self) -> bool:
        return not any(p.loss for p in self.problems)


def verify(archive: Archive, progress: Progress = lambda _words, _share: None) -> Checked:
    """Look at everything. Nothing is changed.

    Raises:
        ArchiveUnusable: it cannot be read at all.
    """
    problems: list[Problem] = []
    with archive.read() as connection:
        problems += _database(archive, connection)
        numbers = [r.id for r in connection.execute(select(t.instrument.c.id).order_by("id"))]
        contents = {r.sha256: r.size for r in connection.execute(select(t.content))}
        left = [r.sha256 for r in connection.execute(select(t.erasure))]
    revisions = 0
    used: set[str] = set()
    for at in range(0, len(numbers), _AT_ONCE):
        progress("records", 0.5 * at / len(numbers))
        with archive.read() as connection:
            some = numbers[at : at + _AT_ONCE]
            found = entries(connection, some)
            there = set(
                connection.execute(
                    select(t.instrument.c.id).where(t.instrument.c.id.in_(some))
                ).scalars()
            )
            for missing in there - {i.id for i in found}:
                problems.append(Problem(f"instrument {missing}", "it has no measurement"))
            for instrument in found:
                for revision in instrument.revisions:
                    revisions += 1
                    problems += _revision(connection, instrument, revision)
                    problems += _references(f"{instrument.id}.{revision.number}", revision)
                    used |= {f.sha256 for f in revision.files if f.kept}
    total = 0
    for i, (sha256, size) in enumerate(sorted(contents.items())):
        progress("files", 0.5 + 0.5 * i / len(contents))
        with archive.read() as connection:
            problem = _content(archive, connection, sha256, size)
        total += size
        if problem is not None:
            problems.append(problem)
        elif sha256 not in used and not _still_used(archive, sha256):
            problems.append(Problem(f"file {sha256}", "no record speaks of it", loss=False))
    problems += _leftovers(archive, left)
    return Checked(len(numbers), revisions, len(contents), total, tuple(problems))


def tidy(archive: Archive) -> int:
    """Finish what was broken off: erase what is still to be erased, drafts, files of no record.

    Returns:
        how many files were removed.
    """
    count = finish_erasures(archive)
    with archive.write() as connection:
        kept = select(t.attachment.c.sha256).where(t.attachment.c.kept == 1)
        loose = connection.execute(
            select(t.content.c.sha256).where(t.content.c.sha256.not_in(kept))
        )
        for sha256 in list(loose.scalars()):
            archive.files.remove(connection, sha256)
            connection.execute(t.content.delete().where(t.content.c.sha256 == sha256))
            count += 1
        if isinstance(archive.files, FilesInFolder):
            known = set(connection.execute(select(t.content.c.sha256)).scalars())
            for name in list(archive.files.names(connection)):
                if name not in known:
                    archive.files.sweep(name)
                    count += 1
    return count


def _database(archive: Archive, connection: Connection) -> Iterator[Problem]:
    if not archive.embedded:
        return
    for row in connection.execute(text("PRAGMA integrity_check(20)")):
        if row[0] != "ok":
            yield Problem("database", str(row[0]))
    for row in connection.execute(text("PRAGMA foreign_key_check")):
        yield Problem(f"table {row[0]}", f"row {row[1]} speaks of a row of {row[2]} that is gone")


def _revision(
    connection: Connection, instrument: InstrumentEntry, revision: RevisionEntry
) -> Iterator[Problem]:
    where = f"{instrument.id}.{revision.number}"
    row = connection.execute(
        select(t.measurement.c.packed, t.shape.c.signature, t.plan.c.coarse, t.plan.c.outline)
        .select_from(t.measurement)
        .outerjoin(t.shape, t.shape.c.revision_id == t.measurement.c.revision_id)
        .outerjoin(t.plan, t.plan.c.revision_id == t.measurement.c.revision_id)
        .where(t.measurement.c.revision_id == revision.id)
    ).one_or_none()
    if row is None:
        yield Problem(where, "its measurement is missing")
        return
    try:
        raw = zlib.decompress(bytes(row.packed))
    except zlib.error:
        yield Problem(where, "its measurement is damaged")
        return
    if digest(raw) != revision.sha256:
        yield Problem(where, "its measurement is not the one that was kept (hash differs)")
        return
    try:
        measurement = job_from_bytes(raw, Path("measurement.json")).measurement
    except ProfilerError as error:
        yield Problem(where, f"its measurement cannot be read: {error}")
        return
    sizes = (measurement.length.value, measurement.width.value, measurement.height.value)
    if sizes != (revision.length, revision.width, revision.height):
        yield Problem(where, "length, width or height in the list differ from the measurement")
    shape = shape_of(measurement.outline)
    wanted = (shape.signature, shape.coarse, measurement.outline)
    for name, data, values in zip(
        ("signature", "coarse outline", "outline"),
        (row.signature, row.coarse, row.outline),
        wanted,
        strict=True,
    ):
        if data is None or not _same(bytes(data), packed(values)):
            yield Problem(where, f"the {name} for searching differs from the measurement")


def _references(where: str, revision: RevisionEntry) -> Iterator[Problem]:
    """Files that lie elsewhere, by the user's wish: nothing of ours is lost if they are gone."""
    for file in revision.files:
        if file.kept or not Path(file.elsewhere).is_absolute():
            continue
        what = f"{where} {file.role} {shown_line(file.name, 80)}"
        try:
            same = digest(Path(file.elsewhere).read_bytes()) == file.sha256
        except (OSError, ValueError):
            place = shown_line(file.elsewhere, 200)
            yield Problem(what, f"cannot be read at {place}, where it was left", loss=False)
            continue
        if not same:
            yield Problem(what, "is another file now than was measured", loss=False)


def _same(data: bytes, wanted: bytes) -> bool:
    """Equal up to what another processor may round differently."""
    if len(data) != len(wanted):
        return False
    a, b = (np.frombuffer(d, "<f4").astype(float) for d in (data, wanted))
    return bool(np.allclose(a, b, rtol=1e-5, atol=1e-3))


def _content(archive: Archive, connection: Connection, sha256: str, size: int) -> Problem | None:
    data = archive.files.get(connection, sha256)
    if data is not None and len(data) == size and digest(data) == sha256:
        return None
    found = connection.execute(select(t.content.c.size).where(t.content.c.sha256 == sha256)).first()
    if found is None:  # forgotten while we looked
        return None
    users = connection.execute(
        select(
            t.attachment.c.role,
            t.attachment.c.name,
            t.revision.c.instrument_id,
            t.revision.c.number,
        )
        .join(t.revision)
        .where(t.attachment.c.sha256 == sha256)
        .order_by(t.attachment.c.id)
    ).all()
    where = sha256
    if users:
        first = users[0]
        where = f"{first.instrument_id}.{first.number} {first.role} {shown_line(first.name, 80)}"
    if len(users) > 1:
        where += f" (and {len(users) - 1} more records with the same file)"
    if data is None:
        return Problem(where, "the file is missing")
    if len(data) != size:
        return Problem(where, f"the file has {len(data)} bytes instead of {size}")
    return Problem(where, "the file is damaged (hash differs)")


def _still_used(archive: Archive, sha256: str) -> bool:
    with archive.read() as connection:
        return (
            connection.execute(
                select(t.attachment.c.id).where(
                    t.attachment.c.sha256 == sha256, t.attachment.c.kept == 1
                )
            ).first()
            is not None
        )


def _leftovers(archive: Archive, left: list[str]) -> Iterator[Problem]:
    if left:
        yield Problem(
            "files",
            f"{len(left)} marks of a forgetting that was stopped; 'profiler archive verify --tidy'"
            " finishes it",
            loss=False,
        )
    with archive.read() as connection:
        names = list(archive.files.names(connection))
        known = set(connection.execute(select(t.content.c.sha256)).scalars())
    for name in names:
        if name not in known and name not in left:
            what = "a draft" if name.endswith(DRAFT) else "a file that no record speaks of"
            yield Problem(f"file {name}", f"{what}, left by a program that was stopped", loss=False)
