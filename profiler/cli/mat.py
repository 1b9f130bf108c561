"""`profiler mat`: the printed scale grid, and what a steel rule reads on it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from profiler.cli.options import Force, Units, UnitsOption, optional_length, shown
from profiler.errors import RequestError


def mat(
    paper: Annotated[
        str | None,
        typer.Option(
            help="A4, Letter, A3, Tabloid, A2, A1, A0 or roll. Default A4.", show_default=False
        ),
    ] = None,
    roll_width: Annotated[
        str | None, typer.Option(help="Width of the roll, with --paper roll.", metavar="LENGTH")
    ] = None,
    width: Annotated[
        str | None,
        typer.Option(
            help="Least width of the whole mat; the default takes a 26 in instrument.",
            metavar="LENGTH",
        ),
    ] = None,
    height: Annotated[
        str | None, typer.Option(help="Least height of the whole mat.", metavar="LENGTH")
    ] = None,
    tint: Annotated[
        str | None,
        typer.Option(
            help="Colour of the ground: blue, green, peach or #rrggbb. Take one that the instrument"
            " is far from.",
            show_default=False,
        ),
    ] = None,
    upright: Annotated[
        bool,
        typer.Option(
            "--upright",
            help="Make the upright row instead: upright.pdf and upright.json. Its sheets, taped"
            " side by side to a board or to boxes, stand behind the instrument for a photo from"
            " the side (profiler measure --side).",
        ),
    ] = False,
    bar_x: Annotated[
        str | None,
        typer.Option(help="What your steel rule reads on bar X.", metavar="LENGTH"),
    ] = None,
    bar_y: Annotated[
        str | None,
        typer.Option(help="What your steel rule reads on bar Y.", metavar="LENGTH"),
    ] = None,
    record: Annotated[
        Path | None,
        typer.Option(
            help="Write the readings into this record of a mat that is printed already; no PDF is"
            " made.",
            metavar="mat.json",
        ),
    ] = None,
    output: Annotated[
        Path,
        typer.Option("-o", "--output", help="Folder, or name of the PDF.", show_default="."),
    ] = Path("."),
    units: UnitsOption = Units.MM,
    force: Force = False,
) -> None:
    """Make the mat: mat.pdf to print at 100 %, and mat.json, its record.

    Print, lay a steel rule on the two bars of one sheet, and tell what it reads:

    profiler mat --record mat.json --bar-x 179.6mm --bar-y 269.5mm
    """
    read_x = optional_length(bar_x, units, "--bar-x")
    read_y = optional_length(bar_y, units, "--bar-y")
    if record is not None:
        if any(value is not None for value in (paper, roll_width, width, height, tint)):
            raise RequestError(
                "--record only adds readings to a mat that is printed already; paper, size and tint"
                " cannot change any more. Leave --record out to make another mat."
            )
        _add_readings(record, read_x, read_y)
        return

    from profiler.cli.files import put_named
    from profiler.pipeline.sheets import design, design_row, mat_files

    if upright:
        if roll_width is not None or height is not None:
            raise RequestError(
                "An upright row is one sheet high: only --paper, --width and --tint go with"
                " --upright."
            )
        plan = design_row(paper or "A4", optional_length(width, units, "--width"), tint or "blue")
    else:
        plan = design(
            paper or "A4",
            optional_length(roll_width, units, "--roll-width"),
            optional_length(width, units, "--width"),
            optional_length(height, units, "--height"),
            tint or "blue",
        )
    files = mat_files(plan, read_x, read_y)
    pdf, json = put_named(output, files, force)
    sheets = f"{plan.count} sheets" if plan.count > 1 else "one sheet"
    source = "from the roll" if plan.paper.name == "roll" else f"of {plan.paper.name}"
    typer.echo(
        f"{pdf}: {sheets} {source}, together {shown(plan.width, units)} x"
        f" {shown(plan.height, units)}."
    )
    beside = "the photo from the side" if upright else "your photos"
    typer.echo(f"{json}: its record; keep it beside {beside}.")
    typer.echo("Print at 100 % ('actual size'), one-sided, on matt paper.")
    if read_x is None or read_y is None:
        typer.echo(
            f"Then lay a steel rule on bar X ({plan.bar_x.length:.0f} mm) and bar Y"
            f" ({plan.bar_y.length:.0f} mm) of one sheet and run:\n"
            f"  profiler mat --record {json} --bar-x READING --bar-y READING"
        )


def _add_readings(path: Path, read_x: float | None, read_y: float | None) -> None:
    from profiler.jobs.records import design_from_record, load_record, mat_record, record_bytes
    from profiler.jobs.writing import write_atomically

    if read_x is None and read_y is None:
        raise RequestError(
            "Say what the rule reads: --bar-x LENGTH, --bar-y LENGTH or both, as --bar-x 179.6mm."
        )
    old = load_record(path)
    plan, _ = design_from_record(old)
    # A reading that is not given again stays.
    x = old["bar_x"]["read_mm"] if read_x is None else read_x
    y = old["bar_y"]["read_mm"] if read_y is None else read_y
    new = mat_record(plan, x, y)
    _, scale = design_from_record(new)
    write_atomically(path, record_bytes(new), overwrite=True)
    typer.echo(f"{path}: prints {100 * scale.x:.2f} % across and {100 * scale.y:.2f} % up.")
    if not scale.read:
        missing = "Y" if y is None else "X"
        typer.echo(f"Bar {missing} is not read yet: that way the scale is only known to 1 %.")
