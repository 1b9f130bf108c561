"""The version of an archive's tables: told, refused where it is newer, brought up to date."""

from __future__ import annotations

from importlib import resources

from sqlalchemy import Connection, inspect, text

from profiler.archive.errors import ArchiveNewer, ArchiveUnusable
from profiler.archive.tables import VERSION


def version_of(connection: Connection) -> str | None:
    """Version of the tables, None where there are none at all."""
    names = set(inspect(connection).get_table_names())
    if not names:
        return None
    if "alembic_version" not in names or "revision" not in names:
        return ""
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return str(found or "")


def bring_up_to_date(connection: Connection, where: str) -> str | None:
    """Make the tables, or take them to this program's version, inside the caller's transaction.

    Returns:
        the version that was found, None for an archive that was made just now.

    Raises:
        ArchiveNewer: a later program wrote it.
        ArchiveUnusable: it holds other tables.
    """
    found = version_of(connection)
    if found == VERSION:
        return found
    if found == "":
        raise ArchiveUnusable(
            f"{where} holds a database, but not an archive of this program. Name another place."
        )
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    folder = resources.files("profiler.archive") / "migrations"
    config.set_main_option("script_location", str(folder).replace("%", "%%"))
    if found is not None:
        known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
        if found not in known:
            raise ArchiveNewer(where, found, VERSION)
    config.attributes["connection"] = connection
    command.upgrade(config, VERSION)
    return found
