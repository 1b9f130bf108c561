"""Where an archive is: a folder of its own, or a PostgreSQL server named by a URL."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import platformdirs

from profiler.errors import RequestError

DATABASE_NAME = "archive.db"
FILES_NAME = "files"
SERVERS = ("postgresql", "postgres")


@dataclass(frozen=True)
class Place:
    """A folder, or a server's URL; the other is None. `shown` never holds a password."""

    folder: Path | None
    url: str | None
    shown: str


def default_folder() -> Path:
    """In the place that the system has for a user's data."""
    return Path(platformdirs.user_data_dir("profiler", appauthor=False)) / "archive"


def place_of(text: str | None) -> Place:
    """What `--archive` names: a folder, postgresql://user@host/name, or None for the default.

    Raises:
        RequestError: a URL that is none, or of something else than PostgreSQL.
    """
    if not text:
        folder = default_folder()
        return Place(folder, None, str(folder))
    scheme, mark, _ = text.partition("://")
    if not mark:
        folder = Path(text).expanduser()
        return Place(folder, None, str(folder))
    if scheme.split("+")[0].lower() not in SERVERS:
        raise RequestError(
            f"An archive cannot be kept at {scheme}://. Give a folder, or a server as"
            " postgresql://user@host/name."
        )
    from sqlalchemy.engine import make_url
    from sqlalchemy.exc import ArgumentError

    try:
        url = make_url(text).set(drivername="postgresql+psycopg")
    except (ArgumentError, ValueError):
        raise RequestError(
            "The archive's URL cannot be read. Write it as postgresql://user@host/name."
        ) from None
    shown = url.set(drivername="postgresql").render_as_string(hide_password=True)
    return Place(None, url.render_as_string(hide_password=False), shown)
