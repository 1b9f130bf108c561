"""An archive in a folder of its own, and one on a real PostgreSQL server."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path

import pytest

from profiler.archive.database import Archive, open_archive
from profiler.archive.place import place_of
from tests.archive.server import empty_database, running

_COUNT = itertools.count()


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Archive]:
    with open_archive(place_of(str(tmp_path / "archive")), make=True) as archive:
        yield archive


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """URL of a PostgreSQL server."""
    with running() as url:
        yield url


@pytest.fixture
def database(server: str) -> str:
    """URL of an empty database on it."""
    return empty_database(server, f"archive{next(_COUNT)}")


@pytest.fixture(params=["folder", "server"])
def either(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Archive]:
    """Both kinds of archive, in turn."""
    if request.param == "folder":
        place = str(tmp_path / "archive")
    else:
        place = request.getfixturevalue("database")
    with open_archive(place_of(place), make=True) as archive:
        yield archive
