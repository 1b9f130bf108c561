"""A second copy while the first is in use, and the way back.

A backup is an archive folder like any other: it can be opened, listed, verified.
"""

from __future__ import annotations

import os
import secrets
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from sqlalchemy import Connection, func, insert, select, text

from profiler.archive import tables as t
from profiler.archive.database import Archive, open_archive
from profiler.archive.erase import finish_erasures
from profiler.archive.errors import ArchiveUnusable
from profiler.archive.files import FilesInFolder, digest
from profiler.archive.place import DATABASE_NAME, FILES_NAME, Place, place_of
from profiler.errors import OutputError
from profiler.jobs.writing import settle

Progress = Callable[[str, float], None]

#: how often a backup begins again because somebody forgot a customer meanwhile
_TRIES = 5
_ROWS = 500


def backup(archive: Archive, folder: Path, progress: Progress = lambda _words, _share: None) -> int:
    """Copy all into a new folder, which appears whole or not at all; others may go on writing.

    Returns:
        how many files it holds besides the database.

    Raises:
        OutputError: there is something already, or no room.
        ArchiveUnusable: a file is damaged or missing, so that the copy would be as well.
    """
    target = Path(os.path.abspath(folder.expanduser()))
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise OutputError(f"{folder} is there already. Name a new folder for the backup.")
    if not target.parent.is_dir():
        raise OutputError(f"There is no folder {target.parent}. Make it first.")
    draft = target.parent / f".{target.name[:60]}.{secrets.token_hex(4)}.part"
    try:
        draft.mkdir()
        count = _fill(archive, draft, progress)
        if target.is_dir():
            target.rmdir()
        os.rename(draft, target)
        settle(target.parent)
    except OSError as error:
        raise OutputError(
            f"The backup {folder} cannot be written: {(error.strerror or str(error)).lower()}."
        ) from error
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    return count


def restore(source: Path, place: Place, progress: Progress = lambda _words, _share: None) -> int:
    """Bring a backup to a place where there is no archive yet: a folder, or a server.

    Returns:
        how many files it holds besides the database.

    Raises:
        OutputError: there is something already.
        ArchiveUnusable: the backup is none, or is damaged.
    """
    with open_archive(place_of(str(source))) as backup_:
        if place.folder is not None:
            try:
                place.folder.parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise OutputError(
                    f"The folder {place.folder.parent} cannot be made: {error.strerror}."
                ) from None
            return backup(backup_, place.folder, progress)
        with open_archive(place, make=True) as target:
            with target.read() as connection:
                if connection.execute(select(func.count()).select_from(t.revision)).scalar():
                    raise OutputError(
                        f"There is an archive at {place.shown} already. Name an empty database."
                    )
            return _transfer(backup_, target, progress)


def _fill(archive: Archive, draft: Path, progress: Progress) -> int:
    if not archive.embedded:
        with open_archive(place_of(str(draft)), make=True) as copy:
            return _transfer(archive, copy, progress)
    assert archive.place.folder is not None
    source = archive.place.folder / DATABASE_NAME
    copies = FilesInFolder(draft / FILES_NAME)
    for _ in range(_TRIES):
        progress("database", 0.0)
        (draft / DATABASE_NAME).unlink(missing_ok=True)
        _copy_database(source, draft / DATABASE_NAME)
        with open_archive(place_of(str(draft))) as copy:
            finish_erasures(copy)  # somebody was forgetting just then
        with open_archive(place_of(str(draft))) as copy, copy.read() as connection:
            wanted = list(
                connection.execute(select(t.content.c.sha256).order_by("sha256")).scalars()
            )
        missing = []
        for i, sha256 in enumerate(wanted):
            progress("files", i / len(wanted))
            if not _copy_file(archive, copies, sha256):
                missing.append(sha256)
        if not missing:
            _drop_others(copies, wanted)
            return len(wanted)
        with archive.read() as connection:
            rows = connection.execute(
                select(t.content.c.sha256).where(t.content.c.sha256.in_(missing))
            )
            lost = list(rows.scalars())
        if lost:
            raise ArchiveUnusable(
                f"{len(lost)} files of the archive are missing or damaged, the first is {lost[0]}:"
                " 'profiler archive verify' says whose. No backup was written."
            )
    raise OutputError("The archive changed too fast for a backup. Try again.")


def _copy_database(source: Path, target: Path) -> None:
    """SQLite's own online copy: a state between two transactions, whoever writes meanwhile."""
    with closing(sqlite3.connect(source, timeout=60)) as a, closing(sqlite3.connect(target)) as b:
        a.backup(b, pages=2000, sleep=0.05)
        b.execute("PRAGMA journal_mode=DELETE")
    handle = os.open(target, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _copy_file(archive: Archive, copies: FilesInFolder, sha256: str) -> bool:
    assert isinstance(archive.files, FilesInFolder)
    try:
        data = archive.files.path(sha256).read_bytes()
    except FileNotFoundError:
        return False
    if digest(data) != sha256:
        return False
    path = copies.path(sha256)
    if not path.is_file():
        path.parent.mkdir(parents=True, exist_ok=True)
        with open(path, "xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    return True


def _drop_others(copies: FilesInFolder, wanted: list[str]) -> None:
    """What an earlier try copied and nobody speaks of any more."""
    known = set(wanted)
    for path in copies.folder.glob("*/*"):
        if path.name not in known:
            path.unlink()


def _transfer(source: Archive, target: Archive, progress: Progress) -> int:
    """Row by row, in one view of the source and one transaction of the target."""
    count = 0
    with source.read() as a, target.write() as b:
        b.execute(t.about.delete())
        for table in t.metadata.sorted_tables:
            if table.name in ("chunk", "erasure"):
                continue
            rows = a.execute(select(table).execution_options(yield_per=_ROWS))
            for part in rows.partitions(_ROWS):
                b.execute(insert(table), [dict(row._mapping) for row in part])
        wanted = list(a.execute(select(t.content.c.sha256)).scalars())
        for i, sha256 in enumerate(wanted):
            progress("files", i / len(wanted))
            data = source.files.get(a, sha256)
            if data is None or digest(data) != sha256:
                raise ArchiveUnusable(
                    f"The file {sha256} is missing or damaged: 'profiler archive verify' says"
                    " whose. Nothing was written."
                )
            target.files.put(b, sha256, data)
            count += 1
        if not target.embedded:
            _count_on(b)
    return count


def _count_on(connection: Connection) -> None:
    """New numbers go on after the copied ones."""
    for table in t.metadata.sorted_tables:
        if "id" in table.columns:
            connection.execute(
                text(
                    f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'),"
                    f" COALESCE((SELECT MAX(id) FROM {table.name}), 0) + 1, false)"
                )
            )
