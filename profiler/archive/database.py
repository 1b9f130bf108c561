"""One archive, opened: transactions that read, transactions that write, and its files.

SQLite runs with a rollback journal and synchronous=EXTRA: a transaction that was acknowledged
outlives a pulled plug, and at rest the folder holds one database file and the photos, nothing else
(https://sqlite.org/pragma.html#pragma_synchronous). Those who write take turns: they begin with
the lock, so that nobody has to back out halfway.
"""

from __future__ import annotations

import errno
import sqlite3
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, insert, select, text
from sqlalchemy.exc import DBAPIError, NoSuchModuleError, OperationalError

from profiler import __version__
from profiler.archive import tables as t
from profiler.archive.errors import ArchiveBusy, ArchiveNewer, ArchiveUnusable
from profiler.archive.files import FilesInFolder, FilesInTable, FileStore
from profiler.archive.place import DATABASE_NAME, FILES_NAME, Place
from profiler.archive.upgrade import bring_up_to_date, version_of
from profiler.errors import OutputError

#: how long to wait for another program, s
PATIENCE_S = 60
#: any number of our own: who writes holds this lock of a PostgreSQL server
LOCK = 0x70726F66


def now() -> str:
    """Date and time, UTC, to the second."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


class Archive:
    """An open archive. Use `open_archive` to get one, and `close` or a `with` to let it go."""

    def __init__(self, place: Place, engine: Engine, files: FileStore) -> None:
        self.place = place
        self.engine = engine
        self.files = files
        #: version that was found when it was opened, None if it was made then
        self.found: str | None = None

    @property
    def embedded(self) -> bool:
        """Whether it is a folder of its own."""
        return self.place.folder is not None

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """One view of everything: what others write meanwhile is not seen."""
        with _faults_named(self.place), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """All or nothing; when this returns, it is on the disk."""
        with _faults_named(self.place), self.engine.connect() as plain:
            connection = plain.execution_options(writes=True)
            with connection.begin():
                if not self.embedded:
                    connection.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": LOCK})
                yield connection

    def close(self) -> None:
        self.engine.dispose()

    def __enter__(self) -> Archive:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def open_archive(place: Place, make: bool = False) -> Archive:
    """Open it, making it or bringing its tables up to date where that is needed.

    Args:
        make: begin a new one if there is none.

    Raises:
        ArchiveUnusable: there is none, it is no archive, it is damaged, the server is not there.
        ArchiveNewer: a later program wrote it; nothing was touched.
        OutputError: it cannot be made there.
    """
    if place.folder is not None:
        archive = _open_folder(place, place.folder, make)
    else:
        archive = _open_server(place)
    try:
        with archive.read() as connection:
            found = version_of(connection)
        if found is None and not make:
            raise ArchiveUnusable(
                f"There is no archive at {place.shown} yet. 'profiler archive add JOB' begins one."
            )
        archive.found = found
        if found != t.VERSION:
            with archive.write() as connection:
                archive.found = bring_up_to_date(connection, place.shown)
                if archive.found is None:
                    _introduce(connection)
    except BaseException:
        archive.close()
        raise
    return archive


def _introduce(connection: Connection) -> None:
    rows = {"uid": str(uuid.uuid4()), "made": now(), "program": f"profiler {__version__}"}
    connection.execute(insert(t.about), [{"name": n, "value": v} for n, v in rows.items()])


def uid_of(connection: Connection) -> str:
    """The archive's own name, the same in its backups."""
    found = connection.execute(select(t.about.c.value).where(t.about.c.name == "uid")).scalar()
    return str(found or "")


def _open_folder(place: Place, folder: Path, make: bool) -> Archive:
    database = folder / DATABASE_NAME
    if not database.is_file():
        if not make:
            raise ArchiveUnusable(
                f"There is no archive in {folder}. 'profiler archive add JOB' begins one; --archive"
                " names another place."
            )
        if folder.exists() and not folder.is_dir():
            raise ArchiveUnusable(f"{folder} is a file; an archive is a folder.")
        if folder.is_dir() and any(p.name != FILES_NAME for p in folder.iterdir()):
            raise ArchiveUnusable(
                f"{folder} holds other things and no archive. Name a new or an empty folder."
            )
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise OutputError(
                f"The archive's folder {folder} cannot be made: {error.strerror}."
            ) from None
    engine = create_engine(f"sqlite:///{database}", connect_args={"timeout": PATIENCE_S})
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return Archive(place, engine, FilesInFolder(folder / FILES_NAME))


def _prepare_sqlite(raw: Any, _record: object) -> None:
    raw.isolation_level = None  # transactions begin where we say, with the lock we say
    cursor = raw.cursor()
    for pragma in (
        "journal_mode=DELETE",
        "synchronous=EXTRA",
        "foreign_keys=ON",
        "secure_delete=ON",  # what is forgotten is overwritten, not only unlinked
        "trusted_schema=OFF",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _open_server(place: Place) -> Archive:
    try:
        engine = create_engine(
            place.url or "",
            isolation_level="REPEATABLE READ",
            connect_args={"connect_timeout": 10},
        )
    except (ImportError, NoSuchModuleError):
        raise ArchiveUnusable(
            "An archive on a PostgreSQL server needs one more package:"
            " pip install 'profiler[postgres]'."
        ) from None

    @event.listens_for(engine, "begin")
    def _fresh(connection: Connection) -> None:
        # a writer that waited for its turn has to see what the one before it wrote
        if connection.get_execution_options().get("writes", False):
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL READ COMMITTED")

    return Archive(place, engine, FilesInTable())


@contextmanager
def _faults_named(place: Place) -> Iterator[None]:
    """What a database says, as a sentence."""
    try:
        yield
    except (ArchiveNewer, ArchiveUnusable):
        raise
    except DBAPIError as error:
        raise _named(place, error) from error
    except sqlite3.Error as error:
        raise ArchiveUnusable(f"The archive {place.shown} cannot be used: {error}.") from error
    except OSError as error:
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            raise OutputError(
                f"The disk of the archive {place.shown} is full. Nothing was changed. Make room"
                " and try again."
            ) from error
        raise OutputError(
            f"The archive {place.shown} cannot be written:"
            f" {(error.strerror or str(error)).lower()} ({error.filename or place.shown})."
        ) from error


def _named(place: Place, error: DBAPIError) -> Exception:
    said = " ".join(str(error.orig).split())
    if any(word in said for word in ("locked", "busy", "deadlock", "could not serialize")):
        return ArchiveBusy(
            f"Another program has been writing to the archive {place.shown} for more than"
            f" {PATIENCE_S} s. Nothing was changed; try again."
        )
    if "full" in said or "disk I/O" in said:
        return OutputError(
            f"The disk of the archive {place.shown} is full or failing ({said}). Nothing was"
            " changed. Make room and try again."
        )
    if "readonly" in said or "read-only" in said:
        return OutputError(f"The archive {place.shown} may only be read: {said}.")
    if "malformed" in said or "not a database" in said:
        return ArchiveUnusable(
            f"The archive {place.shown} is damaged ({said}). Leave it as it is and restore the"
            " last backup with 'profiler archive restore'."
        )
    if isinstance(error, OperationalError) and place.url is not None:
        return ArchiveUnusable(f"The server of the archive {place.shown} cannot be used: {said}")
    return ArchiveUnusable(f"The archive {place.shown} cannot be used: {said}")
