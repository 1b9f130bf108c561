"""Finding by words, and reading entries and measurements back."""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Select, func, select

from profiler.archive import tables as t
from profiler.archive.database import Archive
from profiler.archive.entries import FileEntry, InstrumentEntry, RevisionEntry
from profiler.archive.errors import ArchiveUnusable, NotInArchive
from profiler.archive.files import digest
from profiler.archive.keep import checked_date
from profiler.archive.words import folded, like_pattern
from profiler.errors import RequestError
from profiler.instrument.record import Measurement
from profiler.jobs.reading import Record, measurement_from_record

#: numbers in one question to the database
_AT_ONCE = 500


@dataclass(frozen=True)
class Wanted:
    """What is looked for; '' and None ask for nothing. Words match anywhere, accents aside."""

    words: str = ""
    customer: str = ""
    maker: str = ""
    kind: str = ""
    tag: str = ""
    since: str | None = None
    until: str | None = None


@dataclass(frozen=True)
class Number:
    """An instrument and one of its revisions (None: the latest): 12 or 12.2."""

    instrument: int
    revision: int | None = None

    def __str__(self) -> str:
        return (
            f"{self.instrument}" if self.revision is None else f"{self.instrument}.{self.revision}"
        )


def number_of(text: str) -> Number:
    """From '12' or '12.2'.

    Raises:
        RequestError: it is neither.
    """
    found = re.fullmatch(r"#?([0-9]{1,9})(?:\.([0-9]{1,9}))?", text.strip())
    if found is None:
        raise RequestError(
            f"'{text[:40]}' is no number of the archive. Write 12, or 12.2 for its second revision."
        )
    return Number(int(found[1]), int(found[2]) if found[2] else None)


def find(
    archive: Archive, wanted: Wanted, limit: int | None = None
) -> tuple[list[InstrumentEntry], int]:
    """Instruments that match, newest first, and how many there are without the limit.

    Raises:
        RequestError: a date that is none.
    """
    ids = _matching(wanted)
    with archive.read() as connection:
        count = connection.execute(select(func.count()).select_from(ids.subquery())).scalar()
        ordered = ids.order_by(t.instrument.c.id.desc())
        if limit is not None:
            ordered = ordered.limit(limit)
        numbers = [row.id for row in connection.execute(ordered)]
        return entries(connection, numbers), int(count or 0)


def entry(archive: Archive, number: int) -> InstrumentEntry:
    """One instrument.

    Raises:
        NotInArchive: there is none of that number.
    """
    with archive.read() as connection:
        found = entries(connection, [number])
    if not found:
        raise NotInArchive(
            f"The archive has no instrument {number}. 'profiler archive list' shows all."
        )
    return found[0]


def revision_of(archive: Archive, number: Number) -> tuple[InstrumentEntry, RevisionEntry]:
    """An instrument and the revision that was named, or its latest.

    Raises:
        NotInArchive: there is no such thing.
    """
    instrument = entry(archive, number.instrument)
    revision = instrument.revision(number.revision)
    if revision is None:
        raise NotInArchive(
            f"Instrument {number.instrument} has no revision {number.revision}; its latest is"
            f" {instrument.latest.number}."
        )
    return instrument, revision


def measurement_bytes(connection: Connection, revision: RevisionEntry) -> bytes:
    """measurement.json as it was, byte for byte.

    Raises:
        ArchiveUnusable: it is damaged.
    """
    row = connection.execute(
        select(t.measurement.c.packed).where(t.measurement.c.revision_id == revision.id)
    ).one_or_none()
    try:
        raw = zlib.decompress(bytes(row.packed)) if row is not None else b""
    except zlib.error:
        raw = b""
    if digest(raw) != revision.sha256:
        raise ArchiveUnusable(
            "The measurement is damaged in the archive. 'profiler archive verify' says what else"
            " is; restore a backup."
        )
    return raw


def measurement_of(archive: Archive, revision: RevisionEntry) -> tuple[Record, Measurement]:
    """The measurement of a revision, checked.

    Raises:
        ArchiveUnusable: it is damaged.
    """
    with archive.read() as connection:
        raw = measurement_bytes(connection, revision)
    record: Record = json.loads(raw)
    return record, measurement_from_record(record, Path("measurement.json"))


def entries(connection: Connection, numbers: Sequence[int]) -> list[InstrumentEntry]:
    """Instruments with everything that is written about them, in the order asked for."""
    found: dict[int, InstrumentEntry] = {}
    for at in range(0, len(numbers), _AT_ONCE):
        some = list(numbers[at : at + _AT_ONCE])
        tags: dict[int, list[str]] = {}
        query = select(t.tag).where(t.tag.c.instrument_id.in_(some)).order_by(t.tag.c.tag)
        for row in connection.execute(query):
            tags.setdefault(row.instrument_id, []).append(row.tag)
        revisions = _revisions(connection, some)
        rows = connection.execute(
            select(
                t.instrument,
                t.customer.c.name.label("customer"),
                t.customer.c.uid.label("customer_uid"),
            )
            .outerjoin(t.customer)
            .where(t.instrument.c.id.in_(some))
        )
        for row in rows:
            if row.id in revisions:
                found[row.id] = InstrumentEntry(
                    row.id,
                    row.uid,
                    row.name,
                    row.customer or "",
                    row.customer_uid or "",
                    row.maker,
                    row.kind,
                    row.notes,
                    tuple(tags.get(row.id, ())),
                    row.added,
                    tuple(revisions[row.id]),
                )
    return [found[n] for n in numbers if n in found]


def _revisions(connection: Connection, numbers: list[int]) -> dict[int, list[RevisionEntry]]:
    of = t.revision.c.instrument_id.in_(numbers)
    files: dict[int, list[FileEntry]] = {}
    query = select(t.attachment).join(t.revision).where(of).order_by(t.attachment.c.id)
    for row in connection.execute(query):
        files.setdefault(row.revision_id, []).append(
            FileEntry(row.role, row.name, row.sha256, row.elsewhere, bool(row.kept))
        )
    revisions: dict[int, list[RevisionEntry]] = {}
    for row in connection.execute(select(t.revision).where(of).order_by(t.revision.c.number)):
        revisions.setdefault(row.instrument_id, []).append(
            RevisionEntry(
                row.id,
                row.uid,
                row.number,
                row.measured,
                row.added,
                row.program,
                row.kept_by,
                row.notes,
                row.length,
                row.width,
                row.height,
                row.sha256,
                tuple(files.get(row.id, ())),
            )
        )
    return revisions


def _matching(wanted: Wanted) -> Select[tuple[int]]:
    """Numbers of the instruments that match."""
    query: Select[Any] = select(t.instrument.c.id)
    for word in folded(wanted.words).split():
        query = query.where(t.instrument.c.words.like(like_pattern(word), escape="\\"))
    if wanted.customer:
        query = query.join(t.customer)
    for column, text in (
        (t.customer.c.name_folded, wanted.customer),
        (t.instrument.c.maker_folded, wanted.maker),
        (t.instrument.c.kind_folded, wanted.kind),
    ):
        if text:
            query = query.where(column.like(like_pattern(folded(text)), escape="\\"))
    if wanted.tag:
        tagged = select(t.tag.c.instrument_id).where(
            func.lower(t.tag.c.tag) == wanted.tag.strip().lower()
        )
        query = query.where(t.instrument.c.id.in_(tagged))
    if wanted.since or wanted.until:
        dated = select(t.revision.c.instrument_id)
        if wanted.since:
            dated = dated.where(t.revision.c.measured >= checked_date(wanted.since))
        if wanted.until:
            dated = dated.where(t.revision.c.measured <= checked_date(wanted.until))
        query = query.where(t.instrument.c.id.in_(dated))
    return query
