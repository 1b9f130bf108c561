"""What the orders of `profiler archive` share: where the archive is, how lines are shown."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from profiler.archive.database import Archive

ArchiveOption = Annotated[
    str | None,
    typer.Option(
        "--archive",
        metavar="PLACE",
        envvar="PROFILER_ARCHIVE",
        help="Folder of the archive, or postgresql://user@host/name. Default: a folder in your"
        " user data.",
        show_default=False,
    ),
]
NumberArgument = Annotated[
    str, typer.Argument(metavar="NUMBER", help="As 12, or 12.2 for its second revision.")
]


@contextmanager
def opened(archive: str | None, make: bool = False) -> Iterator[Archive]:
    """The archive, closed again at the end; says so if its tables were brought up to date."""
    from profiler.archive.database import open_archive
    from profiler.archive.erase import finish_erasures
    from profiler.archive.place import place_of
    from profiler.archive.tables import VERSION

    with open_archive(place_of(archive), make) as found:
        if make and found.found is None:
            typer.echo(f"New archive in {found.place.shown}", err=True)
        elif found.found not in (None, VERSION):
            typer.echo(
                f"The archive's tables were brought from version {found.found} to {VERSION}.",
                err=True,
            )
        if finish_erasures(found):
            typer.echo("An order to forget that had been stopped was finished.", err=True)
        yield found


def plural(count: int, one: str, many: str = "") -> str:
    """'1 photo', '2 photos'."""
    return f"{count} {one if count == 1 else many or one + 's'}"
