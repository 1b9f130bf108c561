"""`profiler archive verify`, `backup`, `restore` and `forget`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from profiler.cli.progress import shown_progress
from profiler.cli.shelf.common import ArchiveOption, opened, plural
from profiler.errors import InputError, RequestError

if TYPE_CHECKING:
    from profiler.archive.erase import Forgotten


class ArchiveUnsound(InputError):
    """`verify` found that something is lost or damaged."""


def verify(
    tidy: Annotated[
        bool,
        typer.Option(
            "--tidy", help="First finish what a stopped program left: drafts, files of no record."
        ),
    ] = False,
    archive: ArchiveOption = None,
) -> None:
    """Check every hash and every record, and say what is wrong. Exit code 3 if anything is lost."""
    from profiler.archive.verify import tidy as put_in_order
    from profiler.archive.verify import verify as check

    with opened(archive) as shelf, shown_progress() as progress:
        if tidy:
            typer.echo(f"{plural(put_in_order(shelf), 'file')} removed that belonged to no record.")
        found = check(shelf, progress)
    for problem in found.problems:
        typer.echo(f"{'LOST' if problem.loss else 'note'}  {problem}")
    typer.echo(
        f"{plural(found.instruments, 'instrument')}, {plural(found.revisions, 'measurement')},"
        f" {plural(found.files, 'file')} ({found.bytes / 1e6:.1f} MB) looked at:"
        f" {'all sound' if found.sound else 'NOT SOUND'}."
    )
    if not found.sound:
        raise ArchiveUnsound(
            "Something is lost or damaged, see above. Leave the archive as it is, and bring the"
            " last backup to a new place with 'profiler archive restore'."
        )


def backup(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="A new folder, on another disk.")
    ],
    archive: ArchiveOption = None,
) -> None:
    """A second copy, also while the archive is in use. It is an archive folder like any other."""
    from profiler.archive.backup import backup as copy

    with opened(archive) as shelf, shown_progress() as progress:
        count = copy(shelf, folder, progress)
    typer.echo(f"{folder} holds it all, with {plural(count, 'file')}.")
    typer.echo(f"Check it now and then: profiler archive verify --archive {folder}")


def restore(
    folder: Annotated[Path, typer.Argument(metavar="BACKUP", help="That 'backup' wrote.")],
    archive: ArchiveOption = None,
) -> None:
    """Bring a backup to a place where there is no archive: a folder, or a server."""
    from profiler.archive.backup import restore as bring
    from profiler.archive.database import open_archive
    from profiler.archive.place import place_of
    from profiler.archive.verify import verify as check

    place = place_of(archive)
    with shown_progress() as progress:
        count = bring(folder, place, progress)
        with open_archive(place) as shelf:
            found = check(shelf, progress)
    for problem in found.problems:
        typer.echo(f"{'LOST' if problem.loss else 'note'}  {problem}")
    typer.echo(
        f"{plural(found.revisions, 'measurement')} and {plural(count, 'file')} are at"
        f" {place.shown}: {'all sound' if found.sound else 'NOT SOUND'}."
    )
    if not found.sound:
        raise ArchiveUnsound("The backup is damaged, see above. Try an older one.")


def forget(
    customer: Annotated[
        str | None,
        typer.Argument(metavar="[CUSTOMER]", help="The whole name.", show_default=False),
    ] = None,
    instrument: Annotated[
        int | None,
        typer.Option(metavar="NUMBER", help="Only this instrument.", show_default=False),
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    archive: ArchiveOption = None,
) -> None:
    """Erase a customer: records, photos, everything made from them, and the space; then prove it.

    Backups, exported files and job folders elsewhere are not touched: you know where they are.
    """
    from profiler.archive.erase import customers_named, forget_customer, forget_instrument
    from profiler.archive.words import key_of, shown_line

    if (customer is None) == (instrument is None):
        raise RequestError("Say whom to forget: a CUSTOMER, or --instrument NUMBER.")
    with opened(archive) as shelf:
        if customer is not None:
            found = customers_named(shelf, customer)
            if not found:
                raise RequestError(f"The archive has no customer '{shown_line(customer, 80)}'.")
            if key_of(found[0][1]) != key_of(customer):
                names = "; ".join(shown_line(name, 60) for _, name, _ in found)
                raise RequestError(f"Nobody has exactly this name. Did you mean: {names}?")
            what = f"{shown_line(found[0][1], 80)} with {plural(found[0][2], 'instrument')}"
        else:
            what = f"instrument {instrument}"
        if not yes and not typer.confirm(f"Erase {what} for good?"):
            typer.echo("Nothing was changed.")
            return
        if customer is not None:
            done = forget_customer(shelf, customer)
        else:
            done = forget_instrument(shelf, instrument or 0)
    _tell(done)


def _tell(done: Forgotten) -> None:
    freed = "" if done.freed is None else f", {done.freed / 1e6:.2f} MB given back"
    typer.echo(
        f"Erased: {plural(done.instruments, 'instrument')},"
        f" {plural(done.revisions, 'measurement')}, {plural(done.files, 'file')}{freed}."
    )
    if done.shared:
        typer.echo(
            f"{plural(done.shared, 'file')} of the same content belong to other records too and"
            " stay."
        )
    if done.found:
        typer.echo("Looked for what was erased, and found:")
        for sentence in done.found:
            typer.echo(f"  {sentence}")
    else:
        typer.echo(
            f"Proof: {done.needles} names, marks and hashes of it looked for in"
            f" {done.searched / 1e6:.1f} MB, all that the archive consists of: none occurs."
        )
    typer.echo("Backups and exported files, if you made any, still hold it.")
