"""`profiler archive export` and `import`: one file that needs no program."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from profiler.cli.options import Force
from profiler.cli.shelf.common import ArchiveOption, opened, plural
from profiler.errors import RequestError


def export(
    output: Annotated[
        Path,
        typer.Option("-o", "--output", metavar="FILE.zip", help="Where to.", show_default=False),
    ],
    numbers: Annotated[
        list[str] | None, typer.Argument(metavar="[NUMBER]...", help="Instruments, as 12.")
    ] = None,
    customer: Annotated[
        str,
        typer.Option(help="All instruments of the customer of this very name.", show_default=False),
    ] = "",
    everything: Annotated[bool, typer.Option("--all", help="The whole archive.")] = False,
    with_gps: Annotated[
        bool, typer.Option("--with-gps", help="Leave in the photos where they were taken.")
    ] = False,
    force: Force = False,
    archive: ArchiveOption = None,
) -> None:
    """One zip with JSON, SVG, DXF and the photos, and a text inside that explains it all."""
    if sum((bool(numbers), bool(customer), everything)) != 1:
        raise RequestError("Say what to export: NUMBERs, or --customer NAME, or --all.")
    from profiler.archive.find import Wanted, entry, find, number_of
    from profiler.archive.portable import export as pack
    from profiler.archive.words import key_of
    from profiler.jobs.writing import write_atomically

    with opened(archive) as shelf:
        if numbers:
            wanted = [entry(shelf, number_of(n).instrument).id for n in dict.fromkeys(numbers)]
        else:
            found, _ = find(shelf, Wanted(customer=customer))
            wanted = sorted(
                i.id for i in found if everything or key_of(i.customer) == key_of(customer)
            )
        if not wanted:
            raise RequestError("Nothing there fits. 'profiler archive list' shows what there is.")
        done = pack(shelf, wanted, with_gps)
    write_atomically(output, done.data, force)
    typer.echo(
        f"{output}: {plural(done.instruments, 'instrument')}, {plural(done.photos, 'photo')},"
        f" {len(done.data) / 1e6:.1f} MB."
    )
    if done.places_removed:
        typer.echo(
            f"The place was taken out of {plural(done.places_removed, 'photo')}; --with-gps leaves"
            " it in."
        )


def import_(
    file: Annotated[Path, typer.Argument(metavar="FILE.zip", help="That 'export' wrote.")],
    archive: ArchiveOption = None,
) -> None:
    """Add what an exported file holds. What is there already stays as it is."""
    from profiler.archive.bring import bring
    from profiler.archive.intake import read_file

    data = read_file(file)
    with opened(archive, make=True) as shelf:
        done = bring(shelf, data, file.name)
    known = len(done.kept) - done.new
    typer.echo(
        f"{plural(done.new, 'measurement')} added"
        + (f", {known} {'was' if known == 1 else 'were'} there already." if known else ".")
    )
