"""Files that are kept, named by their SHA-256: the same content is there once.

In a folder for an embedded archive, in a table for one on a server, where every bench reaches it.
Both are written inside the transaction that records them, by the one who holds the lock.
"""

from __future__ import annotations

import hashlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

from sqlalchemy import Connection, delete, func, insert, select

from profiler.archive import tables as t
from profiler.jobs.writing import settle

#: of a file in the table, bytes
CHUNK = 1 << 20
DRAFT = ".part"


def digest(data: bytes) -> str:
    """SHA-256, 64 hex digits."""
    return hashlib.sha256(data).hexdigest()


class FileStore(Protocol):
    """What keeps files; `connection` is of the transaction that is under way."""

    def put(self, connection: Connection, sha256: str, data: bytes) -> None:
        """Keep a file; nothing happens if it is there already and whole."""

    def get(self, connection: Connection, sha256: str) -> bytes | None:
        """The file, None where it is missing; not checked."""

    def remove(self, connection: Connection, sha256: str) -> None:
        """Take it away; nothing happens if it is not there."""

    def names(self, connection: Connection) -> Iterator[str]:
        """Every file that is there, known or not, drafts too."""


class FilesInFolder:
    """`files/ab/abcdef…`, each written beside its place and moved there."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, sha256: str) -> Path:
        return self.folder / sha256[:2] / sha256

    def put(self, connection: Connection, sha256: str, data: bytes) -> None:
        path = self.path(sha256)
        if path.is_file() and path.stat().st_size == len(data) and path.read_bytes() == data:
            return
        fresh = not path.parent.is_dir()
        path.parent.mkdir(parents=True, exist_ok=True)
        draft = path.parent / f"{sha256[:8]}-{secrets.token_hex(4)}{DRAFT}"
        try:
            with open(draft, "xb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.replace(draft, path)
        finally:
            draft.unlink(missing_ok=True)
        settle(path.parent)
        if fresh:
            settle(self.folder)
            settle(self.folder.parent)

    def get(self, connection: Connection, sha256: str) -> bytes | None:
        try:
            return self.path(sha256).read_bytes()
        except FileNotFoundError:
            return None

    def remove(self, connection: Connection, sha256: str) -> None:
        path = self.path(sha256)
        path.unlink(missing_ok=True)
        if path.parent.is_dir():
            settle(path.parent)

    def names(self, connection: Connection) -> Iterator[str]:
        if self.folder.is_dir():
            for path in sorted(self.folder.glob("*/*")):
                yield path.name

    def sweep(self, name: str) -> None:
        """Remove a file that is in nobody's records, by what `names` calls it."""
        for path in self.folder.glob(f"*/{name}"):
            path.unlink(missing_ok=True)


class FilesInTable:
    """Rows of at most a mebibyte."""

    def put(self, connection: Connection, sha256: str, data: bytes) -> None:
        size = select(func.sum(func.length(t.chunk.c.data))).where(t.chunk.c.sha256 == sha256)
        if (connection.execute(size).scalar() or 0) == len(data) and data:
            return
        self.remove(connection, sha256)
        rows = [
            {"sha256": sha256, "number": i, "data": data[at : at + CHUNK]}
            for i, at in enumerate(range(0, max(len(data), 1), CHUNK))
        ]
        connection.execute(insert(t.chunk), rows)

    def get(self, connection: Connection, sha256: str) -> bytes | None:
        rows = connection.execute(
            select(t.chunk.c.data).where(t.chunk.c.sha256 == sha256).order_by(t.chunk.c.number)
        ).all()
        return b"".join(bytes(row.data) for row in rows) if rows else None

    def remove(self, connection: Connection, sha256: str) -> None:
        connection.execute(delete(t.chunk).where(t.chunk.c.sha256 == sha256))

    def names(self, connection: Connection) -> Iterator[str]:
        for row in connection.execute(select(t.chunk.c.sha256).distinct()):
            yield row.sha256
