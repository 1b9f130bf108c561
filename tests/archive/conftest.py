"""An archive in a folder of its own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from profiler.archive.database import Archive, open_archive
from profiler.archive.place import place_of


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Archive]:
    with open_archive(place_of(str(tmp_path / "archive")), make=True) as archive:
        yield archive
