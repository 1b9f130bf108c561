"""`profiler cards`: the printed height cards, and what a steel rule reads on their page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from profiler.cli.options import Force, Units, UnitsOption, optional_length
from profiler.errors import RequestError


def cards(
    paper: Annotated[
        str | None, typer.Option(help="A4 or Letter. Default A4.", show_default=False)
    ] = None,
    bar_x: Annotated[
        str | None,
        typer.Option(help="What your steel rule reads on bar X.", metavar="LENGTH"),
    ] = None,
    bar_y: Annotated[
        str | None,
        typer.Option(help="What your steel rule reads on bar Y.", metavar="LENGTH"),
    ] = None,
    thickness: Annotated[
        str | None,
        typer.Option(
            help="From the wood to the printed face of a finished card. Default 0.2 mm.",
            metavar="LENGTH",
            show_default=False,
        ),
    ] = None,
    record: Annotated[
        Path | None,
        typer.Option(
            help="Write readings and thickness into this record of cards that are printed already;"
            " no PDF is made.",
            metavar="cards.json",
        ),
    ] = None,
    output: Annotated[
        Path,
        typer.Option("-o", "--output", help="Folder, or name of the PDF.", show_default="."),
    ] = Path("."),
    units: UnitsOption = Units.MM,
    force: Force = False,
) -> None:
    """Make the height cards: cards.pdf to print at 100 % and cut, and cards.json, their record.

    Put no card on a soft or fresh finish: shellac, nitrocellulose lacquer and fresh varnish can
    take a print from paper.
    """
    read_x = optional_length(bar_x, units, "--bar-x")
    read_y = optional_length(bar_y, units, "--bar-y")
    thick = optional_length(thickness, units, "--thickness")
    if record is not None:
        if paper is not None:
            raise RequestError("--record goes with readings only; leave --paper out.")
        _add_readings(record, read_x, read_y, thick)
        return

    from profiler.cli.files import put_named
    from profiler.paper import paper_named
    from profiler.pipeline.sheets import cards_files

    files = cards_files(paper_named(paper or "A4"), read_x, read_y, thick)
    pdf, json = put_named(output, files, force)
    typer.echo(f"{pdf}: seven height cards on one page. Print at 100 % ('actual size').")
    typer.echo(f"{json}: their record; keep it beside your photos.")
    typer.echo("Delicate finishes first: put nothing on shellac, nitrocellulose or fresh varnish.")
    if read_x is None or read_y is None:
        typer.echo(
            "Before cutting, lay a steel rule on bars X and Y and run:\n"
            f"  profiler cards --record {json} --bar-x READING --bar-y READING"
        )


def _add_readings(
    path: Path, read_x: float | None, read_y: float | None, thickness: float | None
) -> None:
    from profiler.jobs.records import cards_from_record, cards_record, load_record, record_bytes
    from profiler.jobs.writing import write_atomically

    if read_x is None and read_y is None and thickness is None:
        raise RequestError(
            "Say what was read: --bar-x LENGTH, --bar-y LENGTH or --thickness LENGTH."
        )
    old = load_record(path)
    _, old_thickness = cards_from_record(old)
    new = cards_record(
        old["bar_x"]["read_mm"] if read_x is None else read_x,
        old["bar_y"]["read_mm"] if read_y is None else read_y,
        old_thickness if thickness is None else thickness,
    )
    scale, thick = cards_from_record(new)
    write_atomically(path, record_bytes(new), overwrite=True)
    typer.echo(
        f"{path}: prints {100 * scale.x:.2f} % across and {100 * scale.y:.2f} % up; a card is"
        f" {thick:g} mm thick."
    )
