"""An archive in a folder of its own, and one on a real PostgreSQL server."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import text

from profiler.archive import tables
from profiler.archive.database import Archive, open_archive
from profiler.archive.place import place_of
from tests.archive.server import empty_database, running


@pytest.fixture(scope="session")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with an empty archive, to be copied."""
    folder = tmp_path_factory.mktemp("empty") / "archive"
    open_archive(place_of(str(folder)), make=True).close()
    return folder


@pytest.fixture
def shelf(tmp_path: Path, empty: Path) -> Iterator[Archive]:
    shutil.copytree(empty, tmp_path / "archive")
    with open_archive(place_of(str(tmp_path / "archive"))) as archive:
        yield archive


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """URL of a PostgreSQL server."""
    with running() as url:
        yield url


@pytest.fixture
def database(server: str) -> str:
    """URL of an empty database on it."""
    return empty_database(server)


@pytest.fixture(scope="session")
def made_on_server(server: str) -> str:
    """URL of a database with an empty archive in it."""
    url = empty_database(server, "made")
    open_archive(place_of(url), make=True).close()
    return url


@pytest.fixture(params=["folder", "server"])
def either(request: pytest.FixtureRequest) -> Iterator[Archive]:
    """Both kinds of archive, in turn, empty."""
    if request.param == "folder":
        yield request.getfixturevalue("shelf")
        return
    with open_archive(place_of(request.getfixturevalue("made_on_server"))) as archive:
        yield archive
        names = ", ".join(table.name for table in tables.metadata.sorted_tables)
        with archive.write() as connection:
            connection.execute(text(f"TRUNCATE {names} RESTART IDENTITY"))
            connection.execute(
                text("UPDATE alembic_version SET version_num = :v"), {"v": tables.VERSION}
            )
