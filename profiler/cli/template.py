"""`profiler template`: a measured outline at full size, to print and cut."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from profiler.cli.options import Force, Units, UnitsOption, optional_length
from profiler.errors import RequestError


def template(
    job: Annotated[
        Path, typer.Argument(help="Folder that 'profiler measure' wrote.", metavar="JOB")
    ],
    clearance: Annotated[
        str,
        typer.Option(help="Room left all round the instrument.", metavar="LENGTH"),
    ] = "0mm",
    paper: Annotated[
        str | None,
        typer.Option(
            help="Tile the PDF on this paper: A4, Letter, A3, Tabloid, A2, A1 or A0. Without it the"
            " PDF is one big page.",
            show_default=False,
        ),
    ] = None,
    formats: Annotated[
        str, typer.Option("--format", help="pdf, svg, dxf, or several with commas between.")
    ] = "pdf,svg,dxf",
    printer_x: Annotated[
        str | None,
        typer.Option(
            help="What your rule reads on the 100 mm bar across a page printed before; the next PDF"
            " makes up for it.",
            metavar="LENGTH",
        ),
    ] = None,
    printer_y: Annotated[
        str | None,
        typer.Option(help="The same for the 100 mm bar up the page.", metavar="LENGTH"),
    ] = None,
    printer: Annotated[
        str | None,
        typer.Option(
            help="A printer that was measured with 'profiler printer', instead of both readings.",
            metavar="NAME",
            show_default=False,
        ),
    ] = None,
    customer: Annotated[
        str | None,
        typer.Option(help="Printed on the sheet. Default: the job's.", show_default=False),
    ] = None,
    instrument: Annotated[
        str | None,
        typer.Option(help="Name printed on the sheet. Default: the job's.", show_default=False),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", help="Folder. Default: JOB itself.", show_default=False),
    ] = None,
    units: UnitsOption = Units.MM,
    force: Force = False,
) -> None:
    """Make the template: template.pdf, template.svg and template.dxf in JOB.

    Lay a steel rule on the check bars before you cut.
    """
    room = optional_length(clearance, units, "--clearance") or 0.0
    read_x = optional_length(printer_x, units, "--printer-x")
    read_y = optional_length(printer_y, units, "--printer-y")

    from profiler.jobs.reading import measurement_from_record, read_record
    from profiler.paper import paper_named

    sheet = None if paper is None else paper_named(paper)
    record = read_record(job)
    measurement = measurement_from_record(record, job)

    # the pens take a while to load: what cannot be drawn is told before
    from profiler.cli.files import put_files
    from profiler.pipeline.sheets import correction_from_readings, template_files
    from profiler.plates.notes import Wishes

    if printer is None:
        correction = correction_from_readings(read_x, read_y)
    else:
        if (read_x, read_y) != (None, None):
            raise RequestError("--printer and readings typed here exclude each other.")
        from profiler.jobs.printers import printer_named

        correction = printer_named(printer).correction
    notes = record.get("job")
    notes = notes if isinstance(notes, dict) else {}
    wanted = [name.strip().lower() for name in formats.split(",") if name.strip()]
    wishes = Wishes(
        room,
        str(notes.get("name") or "") if instrument is None else instrument,
        str(notes.get("customer") or "") if customer is None else customer,
    )
    files = template_files(measurement, wishes, wanted, sheet, correction)
    folder = output or (job if job.is_dir() else job.parent)
    for path in put_files(folder, files, force):
        typer.echo(str(path))
    if "template.pdf" in files:
        typer.echo("Print at 100 % ('actual size') and lay a steel rule on the check bars.")
    if measurement.doubtful:
        count = len(measurement.doubtful)
        typer.echo(
            f"{count} stretch{'es' if count > 1 else ''} of the outline"
            f" {'are' if count > 1 else 'is'} in doubt (dashed on paper, layer 'doubt' for"
            " machines): check before you cut.",
            err=True,
        )
