"""Putting jobs in, and changing what is written about them."""

from __future__ import annotations

import re
import uuid
import zlib
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, delete, func, insert, select, update

from profiler import __version__
from profiler.archive import tables as t
from profiler.archive.database import Archive, now
from profiler.archive.entries import Details
from profiler.archive.errors import AmbiguousInArchive, NotInArchive
from profiler.archive.files import digest
from profiler.archive.intake import Job, KeptFile
from profiler.archive.shape import packed, shape_of
from profiler.archive.words import LONGEST_NOTE, LONGEST_TAG, folded, kept, key_of
from profiler.errors import RequestError


@dataclass(frozen=True)
class Kept:
    """Where a job is now; `known` if it was there before and nothing was added."""

    instrument: int
    revision: int
    known: bool = False


@dataclass(frozen=True)
class Identity:
    """For what comes out of another archive: its own names and dates go on."""

    instrument_uid: str
    revision_uid: str
    added: str
    kept_by: str
    number: int | None = None


def add_job(
    archive: Archive,
    job: Job,
    details: Details,
    revision_of: int | None = None,
    another: bool = False,
    identity: Identity | None = None,
) -> Kept:
    """Keep a job: all of it, or nothing.

    The same measurement of the same instrument is kept once; adding it again changes nothing.

    Args:
        details: what the user says; the job's own names where nothing is said.
        revision_of: number of the instrument that this is a new measurement of.
        another: it is another instrument, though the customer has one of that name.

    Raises:
        AmbiguousInArchive: the customer has an instrument of that name.
        NotInArchive: no such instrument.
        RequestError: a name that is too long, a date that is none.
    """
    said = _checked(details, job)
    sha256 = digest(job.raw)
    with archive.write() as connection:
        if revision_of is not None:
            instrument_id = _existing(connection, revision_of, details)
        else:
            found = _same_name(connection, said)
            if found and identity is None:
                again = _revision_with(connection, sha256, found)
                if again is not None and not another:
                    return again
                if not another:
                    raise AmbiguousInArchive(
                        f"{said['customer'] or 'Nobody in particular'} has an instrument"
                        f" '{said['name']}' already, number {found[0]}. Say --revision-of"
                        f" {found[0]} if this is the same one, or --another if it is a second."
                    )
            instrument_id = _new_instrument(connection, said, identity)
        if (again := _revision_with(connection, sha256, [instrument_id])) is not None:
            return again
        number = _new_revision(archive, connection, job, said, sha256, instrument_id, identity)
        _set_tags(connection, instrument_id, said["tags"])
        refresh_words(connection, instrument_id)
    return Kept(instrument_id, number)


def edit(archive: Archive, instrument: int, details: Details, revision: int | None = None) -> None:
    """Change what is written about an instrument; None leaves a field as it is.

    Args:
        revision: number of the measurement whose date and notes are changed; None for the latest.

    Raises:
        NotInArchive: no such instrument or revision.
        RequestError: a name that is too long, a date that is none.
    """
    with archive.write() as connection:
        _existing(connection, instrument, None)
        values: dict[str, Any] = {
            field: kept(value, field, LONGEST_NOTE if field == "notes" else 10_000)
            for field in ("name", "maker", "kind", "notes")
            if (value := getattr(details, field)) is not None
        }
        if values.get("name") == "":
            raise RequestError("An instrument needs a name.")
        if details.customer is not None:
            values["customer_id"] = _customer(connection, kept(details.customer, "customer's name"))
        if values:
            connection.execute(
                update(t.instrument).where(t.instrument.c.id == instrument).values(**values)
            )
        _drop_empty_customers(connection)
        of_revision: dict[str, Any] = {}
        if details.measured is not None:
            of_revision["measured"] = checked_date(details.measured)
        if details.revision_notes is not None:
            of_revision["notes"] = kept(details.revision_notes, "notes", LONGEST_NOTE)
        if of_revision:
            number = revision or _last_number(connection, instrument)
            done = connection.execute(
                update(t.revision)
                .where(t.revision.c.instrument_id == instrument, t.revision.c.number == number)
                .values(**of_revision)
            )
            if done.rowcount == 0:
                raise NotInArchive(f"Instrument {instrument} has no revision {number}.")
        _set_tags(connection, instrument, details.tags)
        refresh_words(connection, instrument)


def checked_date(text: str) -> str:
    """ISO 8601 date.

    Raises:
        RequestError: it is none.
    """
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise RequestError(
            f"'{text[:40]}' is no date. Write year-month-day, as 2031-05-24."
        ) from None


def refresh_words(connection: Connection, instrument: int) -> None:
    """Write anew what an instrument is found by."""
    row = connection.execute(
        select(t.instrument, t.customer.c.name.label("customer"), t.customer.c.notes.label("about"))
        .outerjoin(t.customer)
        .where(t.instrument.c.id == instrument)
    ).one()
    tags = connection.execute(select(t.tag.c.tag).where(t.tag.c.instrument_id == instrument))
    notes = connection.execute(
        select(t.revision.c.notes).where(t.revision.c.instrument_id == instrument)
    )
    parts = [row.name, row.customer or "", row.about or "", row.maker, row.kind, row.notes]
    parts += [r.tag for r in tags] + [r.notes for r in notes]
    words = folded("\n".join(parts))
    connection.execute(
        update(t.instrument)
        .where(t.instrument.c.id == instrument)
        .values(words=words, maker_folded=folded(row.maker), kind_folded=folded(row.kind))
    )


def _checked(details: Details, job: Job) -> dict[str, Any]:
    name = details.name if details.name is not None else job.notes.name
    customer = details.customer if details.customer is not None else job.notes.customer
    return {
        "name": kept(name) or "unnamed",
        "customer": kept(customer, "customer's name"),
        "maker": kept(details.maker or "", "maker's name"),
        "kind": kept(details.kind or "", "kind"),
        "notes": kept(details.notes or "", "notes", LONGEST_NOTE),
        "revision_notes": kept(details.revision_notes or "", "notes", LONGEST_NOTE),
        "measured": checked_date(details.measured or date.today().isoformat()),
        "tags": details.tags,
    }


def _existing(connection: Connection, number: int, details: Details | None) -> int:
    row = connection.execute(
        select(t.instrument.c.id, t.customer.c.name)
        .outerjoin(t.customer)
        .where(t.instrument.c.id == number)
    ).one_or_none()
    if row is None:
        raise NotInArchive(
            f"The archive has no instrument {number}. 'profiler archive list' shows all."
        )
    if details is not None and details.customer is not None:
        other = kept(details.customer, "customer's name")
        if key_of(other) != key_of(row.name or ""):
            raise RequestError(
                f"Instrument {number} belongs to {row.name or 'nobody in particular'}, not to"
                f" {other}. If it changed hands, say 'profiler archive edit {number} --customer …'"
                " first."
            )
    return number


def _same_name(connection: Connection, said: dict[str, Any]) -> list[int]:
    """Numbers of this customer's instruments of this name."""
    rows = connection.execute(
        select(t.instrument.c.id, t.instrument.c.name, t.customer.c.name.label("customer"))
        .outerjoin(t.customer)
        .where(
            t.customer.c.key == key_of(said["customer"])
            if said["customer"]
            else t.instrument.c.customer_id.is_(None)
        )
        .order_by(t.instrument.c.id)
    )
    return [row.id for row in rows if key_of(row.name) == key_of(said["name"])]


def _revision_with(connection: Connection, sha256: str, instruments: list[int]) -> Kept | None:
    row = connection.execute(
        select(t.revision.c.instrument_id, t.revision.c.number).where(
            t.revision.c.sha256 == sha256, t.revision.c.instrument_id.in_(instruments)
        )
    ).first()
    return None if row is None else Kept(row.instrument_id, row.number, known=True)


def _customer(connection: Connection, name: str) -> int | None:
    """The customer's number, made if new; None for ''."""
    if not name:
        return None
    found = connection.execute(
        select(t.customer.c.id).where(t.customer.c.key == key_of(name))
    ).scalar()
    if found is not None:
        return int(found)
    return _inserted(
        connection,
        t.customer,
        uid=str(uuid.uuid4()),
        key=key_of(name),
        name=name,
        name_folded=folded(name),
        added=now(),
    )


def _drop_empty_customers(connection: Connection) -> None:
    used = select(t.instrument.c.customer_id).where(t.instrument.c.customer_id.is_not(None))
    connection.execute(delete(t.customer).where(t.customer.c.id.not_in(used)))


def _new_instrument(connection: Connection, said: dict[str, Any], identity: Identity | None) -> int:
    if identity is not None:
        known = connection.execute(
            select(t.instrument.c.id).where(t.instrument.c.uid == identity.instrument_uid)
        ).scalar()
        if known is not None:
            return int(known)
    return _inserted(
        connection,
        t.instrument,
        uid=identity.instrument_uid if identity else str(uuid.uuid4()),
        customer_id=_customer(connection, said["customer"]),
        name=said["name"],
        maker=said["maker"],
        kind=said["kind"],
        notes=said["notes"],
        added=identity.added if identity else now(),
    )


def _new_revision(
    archive: Archive,
    connection: Connection,
    job: Job,
    said: dict[str, Any],
    sha256: str,
    instrument_id: int,
    identity: Identity | None,
) -> int:
    number = _last_number(connection, instrument_id) + 1
    if identity and identity.number and identity.number >= number:
        number = identity.number
    m = job.measurement
    revision_id = _inserted(
        connection,
        t.revision,
        uid=identity.revision_uid if identity else str(uuid.uuid4()),
        instrument_id=instrument_id,
        number=number,
        measured=said["measured"],
        added=identity.added if identity else now(),
        program=kept(str(job.record.get("program", ""))),
        kept_by=identity.kept_by if identity else f"profiler {__version__}",
        notes=said["revision_notes"],
        length=m.length.value,
        width=m.width.value,
        height=m.height.value,
        sha256=sha256,
    )
    shape = shape_of(m.outline)
    connection.execute(
        insert(t.measurement), {"revision_id": revision_id, "packed": zlib.compress(job.raw, 6)}
    )
    connection.execute(
        insert(t.shape), {"revision_id": revision_id, "signature": packed(shape.signature)}
    )
    connection.execute(
        insert(t.plan),
        {
            "revision_id": revision_id,
            "coarse": packed(shape.coarse),
            "outline": packed(m.outline),
        },
    )
    for file in job.files:
        keep_file(archive, connection, revision_id, file)
    return number


def keep_file(archive: Archive, connection: Connection, revision_id: int, file: KeptFile) -> None:
    """Add a file to a revision; the content is kept once."""
    if file.data is not None:
        known = connection.execute(
            select(t.content.c.sha256).where(t.content.c.sha256 == file.sha256)
        ).first()
        if known is None:
            connection.execute(
                insert(t.content),
                {"sha256": file.sha256, "size": len(file.data), "added": now()},
            )
        # if it was to be erased a moment ago, it no longer is
        connection.execute(delete(t.erasure).where(t.erasure.c.sha256 == file.sha256))
        archive.files.put(connection, file.sha256, file.data)
    connection.execute(
        insert(t.attachment),
        {
            "revision_id": revision_id,
            "role": file.role,
            "name": kept(re.split(r"[/\\]", file.name)[-1], "file's name"),
            "sha256": file.sha256,
            "elsewhere": kept(file.elsewhere, "path"),
            "kept": int(file.data is not None),
        },
    )


def _last_number(connection: Connection, instrument_id: int) -> int:
    last = connection.execute(
        select(func.max(t.revision.c.number)).where(t.revision.c.instrument_id == instrument_id)
    ).scalar()
    return int(last or 0)


def _set_tags(connection: Connection, instrument_id: int, tags: tuple[str, ...]) -> None:
    """Add tags; one with a minus in front is taken away."""
    for text in tags:
        away = text.startswith("-")
        tag = kept(text[1:] if away else text, "tag", LONGEST_TAG)
        same = (t.tag.c.instrument_id == instrument_id) & (t.tag.c.tag == tag)
        if away:
            connection.execute(delete(t.tag).where(same))
        elif tag and connection.execute(select(t.tag.c.tag).where(same)).first() is None:
            connection.execute(insert(t.tag), {"instrument_id": instrument_id, "tag": tag})


def _inserted(connection: Connection, table: Any, **values: Any) -> int:
    key = connection.execute(insert(table).values(**values)).inserted_primary_key
    assert key is not None
    return int(key[0])
