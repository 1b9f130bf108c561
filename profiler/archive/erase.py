"""Forgetting a customer, or one instrument: records, photos, derived files and their space.

First the records go and the files are marked, in one transaction; then the files go, then the
space, then the marks. Stopped anywhere, the next order finishes it. At the end what the archive
consists of is searched for what was forgotten: that is the proof, not the deleting.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, delete, func, insert, or_, select, text

from profiler.archive import tables as t
from profiler.archive.database import LOCK, Archive
from profiler.archive.errors import NotInArchive
from profiler.archive.find import entries
from profiler.archive.place import FILES_NAME
from profiler.archive.words import folded, key_of, like_pattern

#: a shorter name occurs by chance in a photo
SHORTEST_NEEDLE = 5
#: stands among the marked files while the space of records has to be given back
SPACE = "space"
_BLOCK = 1 << 22


@dataclass(frozen=True)
class Forgotten:
    """What was erased, and what the search for it found afterwards.

    Attributes:
        who: the customer, or the instrument.
        instruments, revisions, files: how many records and files.
        freed: bytes that the archive is smaller by; None where it cannot be told.
        searched: bytes that were looked through for `needles` texts and hashes.
        found: sentences on anything that still occurs; empty is the proof.
        shared: files that stay, since others' records need the same content.
    """

    who: str
    instruments: int
    revisions: int
    files: int
    freed: int | None
    searched: int
    needles: int
    found: tuple[str, ...]
    shared: int


def customers_named(archive: Archive, name: str) -> list[tuple[int, str, int]]:
    """Number, name and count of instruments of the customer of exactly this name, or those like it.

    Args:
        name: as typed; capitals and blanks do not matter.
    """
    with archive.read() as connection:
        count = func.count(t.instrument.c.id)
        query = (
            select(t.customer.c.id, t.customer.c.name, count)
            .outerjoin(t.instrument)
            .group_by(t.customer.c.id, t.customer.c.name)
        )
        rows = connection.execute(query.where(t.customer.c.key == key_of(name))).all()
        if not rows:
            like = t.customer.c.name_folded.like(like_pattern(folded(name)), escape="\\")
            rows = connection.execute(query.where(like).limit(20)).all()
    return [(int(r[0]), str(r[1]), int(r[2])) for r in rows]


def forget_customer(archive: Archive, name: str) -> Forgotten:
    """Erase a customer with everything that is kept for them.

    Raises:
        NotInArchive: nobody of that name.
    """
    with archive.read() as connection:
        who = connection.execute(
            select(t.customer.c.id, t.customer.c.uid, t.customer.c.name).where(
                t.customer.c.key == key_of(name)
            )
        ).one_or_none()
        if who is None:
            raise NotInArchive(f"The archive has no customer '{name[:80]}'.")
        numbers = list(
            connection.execute(
                select(t.instrument.c.id).where(t.instrument.c.customer_id == who.id)
            ).scalars()
        )
    return _forget(archive, numbers, who.name, who.id, [who.uid, who.name])


def forget_instrument(archive: Archive, number: int) -> Forgotten:
    """Erase one instrument with all its revisions; its customer stays if anything else is theirs.

    Raises:
        NotInArchive: no such instrument.
    """
    with archive.read() as connection:
        found = entries(connection, [number])
    if not found:
        raise NotInArchive(f"The archive has no instrument {number}.")
    return _forget(archive, [number], f"instrument {number}", None, [])


def finish_erasures(archive: Archive) -> int:
    """Finish what a forgetting that was stopped left: files, space, marks.

    Returns:
        how many files were still marked.
    """
    with archive.read() as connection:
        if connection.execute(select(t.erasure.c.sha256)).first() is None:
            return 0
    with archive.write() as connection:
        marked = list(connection.execute(select(t.erasure.c.sha256)).scalars())
        for sha256 in marked:
            if sha256 != SPACE:
                archive.files.remove(connection, sha256)
    give_back_space(archive)
    with archive.write() as connection:
        connection.execute(delete(t.erasure).where(t.erasure.c.sha256.in_(marked)))
    return len(set(marked) - {SPACE})


def _forget(
    archive: Archive, numbers: list[int], who: str, customer: int | None, names: Sequence[str]
) -> Forgotten:
    before = size_of(archive)
    with archive.write() as connection:
        found = entries(connection, numbers)
        needles = set(names) | {i.uid for i in found}
        revisions = [r for i in found for r in i.revisions]
        needles |= {r.uid for r in revisions} | {r.sha256 for r in revisions}
        files = {f.sha256 for r in revisions for f in r.files}
        _delete_records(connection, [r.id for r in revisions], numbers, customer)
        still = set(
            connection.execute(
                select(t.attachment.c.sha256).where(t.attachment.c.sha256.in_(files or {""}))
            ).scalars()
        )
        gone = files - still
        needles |= gone
        if connection.execute(select(t.erasure).where(t.erasure.c.sha256 == SPACE)).first() is None:
            connection.execute(insert(t.erasure), {"sha256": SPACE})
        for sha256 in sorted(gone):
            known = connection.execute(
                select(t.content.c.sha256).where(t.content.c.sha256 == sha256)
            ).first()
            if known is not None:
                connection.execute(insert(t.erasure), {"sha256": sha256})
                connection.execute(delete(t.chunk).where(t.chunk.c.sha256 == sha256))
                connection.execute(delete(t.content).where(t.content.c.sha256 == sha256))
    finish_erasures(archive)
    after = size_of(archive)
    searched, hits = search(archive, sorted(needles), names)
    freed = None if before is None or after is None else before - after
    return Forgotten(
        who,
        len(numbers),
        len(revisions),
        len(gone),
        freed,
        searched,
        len(needles),
        tuple(hits),
        len(files & still),
    )


def _delete_records(
    connection: Connection, revisions: list[int], instruments: list[int], customer: int | None
) -> None:
    for table in (t.attachment, t.plan, t.shape, t.measurement):
        connection.execute(delete(table).where(table.c.revision_id.in_(revisions)))
    connection.execute(delete(t.revision).where(t.revision.c.id.in_(revisions)))
    connection.execute(delete(t.tag).where(t.tag.c.instrument_id.in_(instruments)))
    connection.execute(delete(t.instrument).where(t.instrument.c.id.in_(instruments)))
    if customer is not None:
        connection.execute(delete(t.customer).where(t.customer.c.id == customer))
    else:
        used = select(t.instrument.c.customer_id).where(t.instrument.c.customer_id.is_not(None))
        connection.execute(delete(t.customer).where(t.customer.c.id.not_in(used)))


def give_back_space(archive: Archive) -> None:
    """Write the database anew without its empty pages."""
    with archive.engine.connect() as connection:
        plain = connection.execution_options(isolation_level="AUTOCOMMIT")
        if archive.embedded:
            raw = plain.connection.driver_connection
            assert raw is not None
            raw.execute("VACUUM")
            return
        # our tables only: the server's own are in everybody's use
        plain.execute(text("SELECT pg_advisory_lock(:n)"), {"n": LOCK})
        try:
            for table in t.metadata.sorted_tables:
                plain.execute(text(f'VACUUM FULL "{table.name}"'))
        finally:
            plain.execute(text("SELECT pg_advisory_unlock(:n)"), {"n": LOCK})


def size_of(archive: Archive) -> int | None:
    """Bytes that the archive takes, None where nobody says."""
    folder = archive.place.folder
    if folder is not None:
        return sum(p.stat().st_size for p in folder.rglob("*") if p.is_file())
    with archive.read() as connection:
        size = connection.execute(text("SELECT pg_database_size(current_database())")).scalar()
    return int(size) if size is not None else None


def search(
    archive: Archive, needles: Sequence[str], names: Sequence[str] = ()
) -> tuple[int, list[str]]:
    """Look for texts in everything that the archive consists of.

    Args:
        needles: looked for in the database and in the names of files.
        names: those of them that are looked for inside the kept files as well.

    Returns:
        bytes looked through, and a sentence for each text that occurs.
    """
    wanted = {n: _spellings(n) for n in needles if len(n) >= SHORTEST_NEEDLE}
    if archive.place.folder is not None:
        searched, hits = _search_folder(archive.place.folder, wanted, names)
    else:
        searched, hits = _search_tables(archive, wanted)
    return searched, [
        f"'{needle[:60]}' occurs in {where}{_others(archive, needle)}" for needle, where in hits
    ]


def _others(archive: Archive, needle: str) -> str:
    """Whose records speak of it rightly, in words; '' for none."""
    with archive.read() as connection:
        rows = connection.execute(
            select(t.instrument.c.id)
            .where(t.instrument.c.words.like(like_pattern(folded(needle)), escape="\\"))
            .limit(10)
        ).scalars()
        numbers = ", ".join(map(str, rows))
    return f": it stands in what is written about {numbers}" if numbers else ""


def _spellings(needle: str) -> tuple[bytes, ...]:
    """As it may stand in a database or in JSON."""
    forms = {
        needle,
        folded(needle),
        json.dumps(needle)[1:-1],
        json.dumps(needle, ensure_ascii=False)[1:-1],
    }
    return tuple(sorted({f.encode("utf-8", "replace") for f in forms if f}))


def _search_folder(
    folder: Path, wanted: dict[str, tuple[bytes, ...]], names: Sequence[str]
) -> tuple[int, list[tuple[str, str]]]:
    searched = 0
    hits: list[tuple[str, str]] = []
    kept = folder / FILES_NAME
    for path in sorted(p for p in folder.rglob("*") if p.is_file()):
        own = {n: f for n, f in wanted.items() if n in names} if kept in path.parents else wanted
        found = [n for n in wanted if n in path.name]
        longest = max((len(f) for forms in own.values() for f in forms), default=0)
        tail = b""
        with open(path, "rb") as file:
            while block := file.read(_BLOCK):
                searched += len(block)
                window = tail + block
                found += [n for n, forms in own.items() if any(f in window for f in forms)]
                tail = window[-longest:] if longest else b""
        hits += [(n, str(path.relative_to(folder))) for n in dict.fromkeys(found)]
    return searched, hits


def _search_tables(
    archive: Archive, wanted: dict[str, tuple[bytes, ...]]
) -> tuple[int, list[tuple[str, str]]]:
    """Every text of every table; binary columns hold packed numbers and photos."""
    hits: list[tuple[str, str]] = []
    with archive.read() as connection:
        for table in t.metadata.sorted_tables:
            columns = [c for c in table.columns if str(c.type) == "TEXT"]
            for needle in wanted if columns else ():
                pattern = like_pattern(needle)
                query = select(func.count()).select_from(table)
                query = query.where(or_(*(c.like(pattern, escape="\\") for c in columns)))
                if connection.execute(query).scalar():
                    hits.append((needle, f"table {table.name}"))
        size = connection.execute(text("SELECT pg_database_size(current_database())")).scalar()
    return int(size or 0), hits
