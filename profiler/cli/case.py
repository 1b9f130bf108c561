"""`profiler case`: from a measured outline, or typed sizes, to a case that can be built."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from profiler.cli.options import Force, InchStep, Units, UnitsOption, text_option

SIZES = "Sizes, where nothing was measured"
ROOM = "Room inside"
WOOD = "Wood: what your caliper says goes before the name"
BOX = "Box"
HARDWARE = "Hardware"
STORAGE = "Compartments beside the neck"
CRADLE = "Cradle"
PAGES = "Pages"


Length = str | None


def case(
    ctx: typer.Context,
    job: Annotated[
        Path | None,
        typer.Argument(
            help="Folder that 'profiler measure' wrote; none if you type sizes.", metavar="JOB"
        ),
    ] = None,
    height: Annotated[
        Length, text_option("Thickest height above the bench, strings and bridge included.", ROOM)
    ] = None,
    length: Annotated[Length, text_option("Of the whole instrument.", SIZES)] = None,
    width: Annotated[Length, text_option("At its widest.", SIZES)] = None,
    body_length: Annotated[
        Length,
        text_option("Of the body alone; with the neck's width, compartments are found.", SIZES),
    ] = None,
    neck_width: Annotated[Length, text_option("Of the neck at its widest.", SIZES)] = None,
    head_width: Annotated[Length, text_option("Of the headstock with its tuners.", SIZES)] = None,
    head_length: Annotated[Length, text_option("From the nut to the tip.", SIZES)] = None,
    clearance: Annotated[
        Length, text_option("Air on either side. Default 6 mm or 1/4 in.", ROOM)
    ] = None,
    clearance_ends: Annotated[
        Length, text_option("Air at either end. Default 8 mm or 3/8 in.", ROOM)
    ] = None,
    above: Annotated[
        Length, text_option("Air over the thickest place. Default 6 mm or 1/4 in.", ROOM)
    ] = None,
    lining: Annotated[
        Length,
        text_option("Flock, felt or foam on every inside face. Default 2 mm or 1/16 in.", ROOM),
    ] = None,
    foam: Annotated[
        Length, text_option("Foam under the instrument. Default 10 mm or 3/8 in.", ROOM)
    ] = None,
    line_first: Annotated[
        bool,
        typer.Option(
            "--line-first",
            help="The lining goes in before the box is glued up, not last.",
            rich_help_panel=ROOM,
            show_default=False,
        ),
    ] = False,
    boards: Annotated[
        Length, text_option("What the shop calls the boards' sheet. Default 12 mm or 1/2 in.", WOOD)
    ] = None,
    boards_actual: Annotated[Length, text_option("What it measures.", WOOD)] = None,
    panels: Annotated[
        Length, text_option("Sheet of top and bottom. Default 6.5 mm or 1/4 in.", WOOD)
    ] = None,
    panels_actual: Annotated[Length, text_option("What it measures.", WOOD)] = None,
    walls: Annotated[
        Length, text_option("Sheet of the walls inside. Default 6.5 mm or 1/4 in.", WOOD)
    ] = None,
    walls_actual: Annotated[Length, text_option("What it measures.", WOOD)] = None,
    sheet: Annotated[
        list[str] | None,
        text_option(
            "A sheet at hand, along × across its grain: 1250x625mm, or boards=48x24in. Repeatable.",
            WOOD,
            "[USE=]LxW",
        ),
    ] = None,
    trim: Annotated[Length, text_option("Cut off every edge of a sheet.", WOOD)] = None,
    saw_kerf: Annotated[Length, text_option("Of the saw that cuts the sheets.", WOOD)] = None,
    kerf: Annotated[
        Length, text_option("Of the saw that parts the lid. Default 3.2 mm or 1/8 in.", BOX)
    ] = None,
    finger: Annotated[
        Length,
        text_option("Width of the corner fingers. Default: near the boards' thickness.", BOX),
    ] = None,
    board_width: Annotated[
        Length, text_option("Of the boards at hand; without --finger the fingers follow.", BOX)
    ] = None,
    proud: Annotated[
        Length, text_option("What the panels stand out of their rabbets. Default 0.", BOX)
    ] = None,
    rabbet_width: Annotated[
        Length, text_option("Into the board. Default: half of it.", BOX)
    ] = None,
    bit_radius: Annotated[
        Length, text_option("Of the bit that makes the rabbet. Default 6 mm or 1/4 in.", BOX)
    ] = None,
    groove_depth: Annotated[
        Length, text_option("Of the grooves in the boards. Default: a third of the board.", BOX)
    ] = None,
    groove_width: Annotated[
        Length, text_option("Of the cutter at hand. Default: the wall and 0.2 mm.", BOX)
    ] = None,
    latch: Annotated[
        Length,
        text_option(
            "Latch above and below the parting line. Default 18x28mm.", HARDWARE, "UPxDOWN"
        ),
    ] = None,
    hinge: Annotated[
        Length, text_option("Hinge leaves, likewise. Default 16x16mm.", HARDWARE, "UPxDOWN")
    ] = None,
    edge: Annotated[
        Length, text_option("Between a leaf and the edge. Default 3 mm or 1/8 in.", HARDWARE)
    ] = None,
    leaf: Annotated[Length, text_option("Thickness of a leaf. Default 1.2 mm.", HARDWARE)] = None,
    screw: Annotated[
        Length, text_option("Length of the screws that came with it.", HARDWARE)
    ] = None,
    hardware_width: Annotated[
        Length, text_option("Of the widest latch or hinge. Default 40 mm or 1 1/2 in.", HARDWARE)
    ] = None,
    handle: Annotated[Length, text_option("Length. Default 120 mm or 5 in.", HARDWARE)] = None,
    lid: Annotated[
        Length,
        text_option("Height of the lid outside. Default: what the hardware needs.", HARDWARE),
    ] = None,
    hardware_mass: Annotated[
        Length, text_option("All of it together, as 300g or 12oz.", HARDWARE, "MASS")
    ] = None,
    mass: Annotated[
        Length, text_option("Of the instrument, as 450g or 4lb.", HARDWARE, "MASS")
    ] = None,
    compartments: Annotated[
        Length,
        text_option("auto takes what there is; both, front, back insist; none.", STORAGE, "SIDES"),
    ] = None,
    compartment_length: Annotated[
        Length, text_option("The least that is useful. Default 60 mm.", STORAGE)
    ] = None,
    compartment_width: Annotated[
        Length, text_option("The least that is useful. Default 25 mm.", STORAGE)
    ] = None,
    cover: Annotated[
        Length,
        text_option(
            "plywood, none, or a solid wood: black cherry, walnut, hard maple, red oak.",
            STORAGE,
            "WOOD",
        ),
    ] = None,
    closure: Annotated[
        Length, text_option("hole for a finger, or magnet.", STORAGE, "KIND")
    ] = None,
    quarter_sawn: Annotated[
        bool,
        typer.Option(
            "--quarter-sawn",
            help="The solid cover's wood is quarter-sawn.",
            rich_help_panel=STORAGE,
            show_default=False,
        ),
    ] = False,
    moisture: Annotated[
        float | None,
        typer.Option(
            help="Change of moisture content over the year, in %. Default 4.",
            rich_help_panel=STORAGE,
            show_default=False,
        ),
    ] = None,
    finger_hole: Annotated[Length, text_option("Diameter. Default 22 mm.", STORAGE)] = None,
    magnet: Annotated[Length, text_option("Diameter. Default 5 mm.", STORAGE)] = None,
    washer: Annotated[
        Length,
        text_option("Diameters, inner and outer. Default 6.4x18mm.", STORAGE, "INxOUT"),
    ] = None,
    cradle: Annotated[
        Path | None,
        typer.Option(
            help="Plan of 'profiler cradle' whose pieces stand in the case. Default: JOB/cradle,"
            " where there is one.",
            metavar="FOLDER",
            rich_help_panel=CRADLE,
            show_default=False,
        ),
    ] = None,
    no_cradle: Annotated[
        bool,
        typer.Option(
            "--no-cradle",
            help="Plan the case without its pieces.",
            rich_help_panel=CRADLE,
            show_default=False,
        ),
    ] = False,
    paper: Annotated[
        str | None,
        typer.Option(
            help="Of the PDF: A4, Letter, A3 and so on. Default A4, with --units in Letter.",
            rich_help_panel=PAGES,
            show_default=False,
        ),
    ] = None,
    formats: Annotated[
        str,
        typer.Option(
            "--format",
            help="pdf, svg, dxf, or several with commas between.",
            rich_help_panel=PAGES,
        ),
    ] = "pdf,svg,dxf",
    customer: Annotated[
        str | None,
        typer.Option(help="Default: the job's.", rich_help_panel=PAGES, show_default=False),
    ] = None,
    instrument: Annotated[
        str | None,
        typer.Option(
            help="Name on the pages. Default: the job's.",
            rich_help_panel=PAGES,
            show_default=False,
        ),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option(
            "-o", "--output", help="Folder. Default: 'case' in JOB, or here.", show_default=False
        ),
    ] = None,
    units: UnitsOption = Units.MM,
    inch_step: InchStep = 64,
    force: Force = False,
) -> None:
    """Plan a plywood case with finger joints for this instrument.

    The folder gets case.pdf (drawings, cut list, order of work), plan.json, cut-list.csv, and each
    drawing at true size as SVG and DXF.

    Everything has a default: look at the pages, then type what is different in your shop.
    """
    from profiler.casework.summary import summary_lines
    from profiler.cli.files import put_files
    from profiler.jobs.caseplan import left_over
    from profiler.jobs.reading import measurement_from_record, notes_from_record, read_record
    from profiler.paper import paper_named
    from profiler.pipeline.case import Labels, case_files
    from profiler.pipeline.casing.typed import Typed
    from profiler.pipeline.casing.wishes import body_from, wishes_from
    from profiler.pipeline.cradling.kept import cradle_of

    typed = Typed(ctx.params, units)
    sheet_of_paper = paper_named(paper or ("Letter" if units is Units.IN else "A4"))
    record = read_record(job) if job is not None else {}
    measurement = measurement_from_record(record, job) if job is not None else None
    notes = notes_from_record(record)
    body = body_from(typed, measurement)
    wishes, remarks = wishes_from(typed)
    labels = Labels(
        notes.name if instrument is None else instrument,
        notes.customer if customer is None else customer,
        units.value,
        inch_step,
    )
    wanted = [name.strip().lower() for name in formats.split(",") if name.strip()]
    taken = None if job is None or no_cradle else cradle_of(job, cradle, record, typed)
    plan, files = case_files(body, wishes, labels, sheet_of_paper, wanted, remarks, taken)
    home = job if job is not None and job.is_dir() else (job.parent if job else Path())
    folder = output or home / "case"
    stale = left_over(folder, files) if force else []
    put_files(folder, files, force)
    for path in stale:
        path.unlink(missing_ok=True)
    for line in summary_lines(plan, labels.show, labels.unit):
        typer.echo(line)
    if taken is not None:
        typer.echo(
            "\nThe cradle's pieces were fitted to this case: cut them from cradle.pdf in this"
            " folder, not from the one that 'profiler cradle' wrote."
        )
    typer.echo(f"\nWritten to {folder}: {len(files)} files. Start with case.pdf.")
