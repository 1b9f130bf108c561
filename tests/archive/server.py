"""A real PostgreSQL server for a test session, in a folder of its own; on a socket, not a port.

Debian: `apt install postgresql`. Or name a server in PROFILER_TEST_POSTGRES, a URL of a database
that may be emptied.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

#: PostgreSQL refuses to run as root; Debian's package makes this user
UNPRIVILEGED = ("postgres", "nobody")


def programs() -> Path | None:
    """Folder with initdb and pg_ctl, the newest there is."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: p.parts[-3])
    if found:
        return found[-1].parent
    path = shutil.which("initdb")
    return Path(path).resolve().parent if path else None


@contextmanager
def running() -> Iterator[str]:
    """URL of the server's `postgres` database. Skips the test where no server can be had."""
    if url := os.environ.get("PROFILER_TEST_POSTGRES"):
        yield url
        return
    pytest.importorskip("psycopg", reason="needs the postgres extra")
    where = programs()
    if where is None:
        pytest.skip("no PostgreSQL server here; Debian: apt install postgresql")
    folder = Path(tempfile.mkdtemp(prefix="pg-"))  # short: a socket's path has at most 107 bytes
    user = _user(folder)
    options = f"-k {folder} -c listen_addresses='' -c fsync=off"
    try:
        _run([where / "initdb", "-D", folder / "data", "-U", "bench", "-A", "trust", "-E", "UTF8",
              "--locale=C.UTF-8"], user)  # fmt: skip
        _run([where / "pg_ctl", "-D", folder / "data", "-o", options, "-l", folder / "log", "-w",
              "start"], user)  # fmt: skip
        try:
            yield f"postgresql://bench@/postgres?host={folder}"
        finally:
            _run([where / "pg_ctl", "-D", folder / "data", "-m", "immediate", "stop"], user)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def empty_database(url: str, name: str = "archive") -> str:
    """URL of an empty database on that server: made if it is new, else emptied."""
    import psycopg

    own = url.replace("/postgres", f"/{name}", 1)
    with psycopg.connect(url, autocommit=True) as connection:
        there = connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", (name,))
        if not there.fetchone():
            connection.execute(
                f"CREATE DATABASE \"{name}\" TEMPLATE template0 ENCODING 'UTF8'".encode()
            )
    with psycopg.connect(own, autocommit=True) as connection:
        connection.execute("DROP SCHEMA public CASCADE")
        connection.execute("CREATE SCHEMA public")
    return own


def _user(folder: Path) -> str | None:
    if os.getuid() != 0:
        return None
    import pwd

    for name in UNPRIVILEGED:
        try:
            entry = pwd.getpwnam(name)
        except KeyError:
            continue
        os.chown(folder, entry.pw_uid, entry.pw_gid)
        return name
    pytest.skip("PostgreSQL does not run as root, and there is no other user here")


def _run(command: list[object], user: str | None) -> None:
    # pg_ctl's child keeps the output open: it may not be a pipe
    with tempfile.TemporaryFile() as output:
        done = subprocess.run(
            [str(c) for c in command], user=user, stdout=output, stderr=output, check=False, cwd="/"
        )
        output.seek(0)
        assert done.returncode == 0, output.read().decode("utf-8", "replace")
