"""`profiler printer`: a printer measured once, so that every template it prints comes out true."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from profiler.cli.options import Force, Units, UnitsOption, optional_length

printer = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode="rich",
    help="A printer measured once, so that every template it prints comes out true: print 'page',"
    " lay a steel rule on its bars, type what it reads with 'record'.",
)

Paper = Annotated[str, typer.Option(help="A4, Letter, A3 and so on.")]
Name = Annotated[str, typer.Argument(metavar="NAME", help="What you call the printer.")]


@printer.command("page")
def page(
    paper: Paper = "A4",
    output: Annotated[
        Path, typer.Option("-o", "--output", help="Folder, or name of the PDF.")
    ] = Path("."),
    force: Force = False,
) -> None:
    """Make bars.pdf: two long bars to lay a steel rule on. Print it at 100 %."""
    from profiler.cli.files import put_named
    from profiler.paper import paper_named
    from profiler.pipeline.sheets import bar_page_files

    for path in put_named(output, bar_page_files(paper_named(paper)), force):
        typer.echo(str(path))


@printer.command("record")
def record(
    name: Name,
    bar_x: Annotated[
        str, typer.Option(metavar="LENGTH", help="What your steel rule reads on bar X.")
    ],
    bar_y: Annotated[str, typer.Option(metavar="LENGTH", help="The same on bar Y.")],
    paper: Paper = "A4",
    units: UnitsOption = Units.MM,
    force: Force = False,
) -> None:
    """Keep what the rule read; 'profiler template --printer NAME' makes up for it."""
    read = (
        optional_length(bar_x, units, "--bar-x") or 0.0,
        optional_length(bar_y, units, "--bar-y") or 0.0,
    )
    from profiler.jobs.printers import Printer, keep_printer
    from profiler.paper import paper_named
    from profiler.plates.barpage import bar_lengths

    sheet = paper_named(paper)
    made = Printer(name.strip(), sheet.name, bar_lengths(sheet), read)
    keep_printer(made, replace=force)
    typer.echo(f"{made.name} {made.words}.")


@printer.command("list")
def list_() -> None:
    """The printers that were measured."""
    from profiler.jobs.printers import read_printers

    found = read_printers()
    for one in found:
        typer.echo(f"{one.name:<30} {one.paper:<8} {one.words}")
    if not found:
        typer.echo("None yet. 'profiler printer page' makes the page to measure one with.")


@printer.command("forget")
def forget(name: Name) -> None:
    """Forget a printer."""
    from profiler.jobs.printers import forget_printer

    forget_printer(name)
    typer.echo(f"Forgot {name}.")
