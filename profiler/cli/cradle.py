"""`profiler cradle`: the pieces that hold the instrument in its case, ready to trace and cut."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from profiler.cli.options import Force, InchStep, Units, UnitsOption, optional_length, text_option

CONTACT = "Linings and clearances (WHERE: body, neck, headstock, tail, button, blocks)"
WOOD = "Wood (PIECE: neck, headstock, tail, blocks; without it, for all)"
SHAPE = "What the job does not know yet"
PAGES = "Sheets"
ROOM = "The case around it"


Text = str | None
Texts = list[str] | None


def cradle(
    ctx: typer.Context,
    job: Annotated[
        Path, typer.Argument(help="Folder that 'profiler measure' wrote.", metavar="JOB")
    ],
    pieces: Annotated[
        Text,
        typer.Option(
            help="Which: neck, headstock, tail, blocks, with commas between. Default: all.",
            metavar="NAMES",
            show_default=False,
        ),
    ] = None,
    lining: Annotated[
        Texts,
        text_option(
            "As neck=leather, neck=felt:4mm or body=foam:15mm:30% (what it gives under the"
            " weight). Linings: felt, flock, foam, leather, none. Repeatable.",
            CONTACT,
            "WHERE=KIND[:THICK[:GIVE]]",
        ),
    ] = None,
    clearance: Annotated[
        Texts,
        text_option("Air beside the lining, as tail=3mm. Repeatable.", CONTACT, "WHERE=LENGTH"),
    ] = None,
    stock: Annotated[
        Texts,
        text_option(
            "What the shop calls the sheet. Default 12 mm or 1/2 in. Repeatable.",
            WOOD,
            "[PIECE=]LENGTH",
        ),
    ] = None,
    stock_actual: Annotated[
        Texts, text_option("What your caliper says of it. Repeatable.", WOOD, "[PIECE=]LENGTH")
    ] = None,
    let_in: Annotated[
        Texts,
        text_option(
            "glued (on the floor, between the sides), groove (ends in grooves of the side boards)"
            " or dado (lower edge in a channel across the floor). Default: glued. Repeatable.",
            WOOD,
            "[PIECE=]HOW",
        ),
    ] = None,
    groove_depth: Annotated[Text, text_option("Of such grooves. Default 4 mm.", WOOD)] = None,
    dado_depth: Annotated[Text, text_option("Of such a dado. Default 2 mm.", WOOD)] = None,
    at: Annotated[
        Texts,
        text_option(
            "Middle of a piece from the instrument's tail: neck=496mm, headstock=…, or a body"
            " block as 'shoulder left=220mm'. Default: at the section nearest to the headstock;"
            " where tuners leave room; in the corners.",
            WOOD,
            "PIECE=LENGTH",
        ),
    ] = None,
    hold: Annotated[
        float | None,
        typer.Option(
            help="Share of the neck's depth that stands in its notch. Default 0.75.",
            rich_help_panel=WOOD,
            show_default=False,
        ),
    ] = None,
    bit_radius: Annotated[
        Text,
        text_option(
            "Smallest inside corner that your bit or scroll saw makes; tighter ones are opened."
            " Default 3 mm or 1/8 in; 0 leaves them.",
            WOOD,
        ),
    ] = None,
    wood_beside: Annotated[
        Text, text_option("Least width of a horn beside a notch. Default 12 mm.", WOOD)
    ] = None,
    wood_under: Annotated[
        Text, text_option("Least wood under a notch. Default 12 mm.", WOOD)
    ] = None,
    inside_width: Annotated[
        Text,
        text_option(
            "Between the side boards. Default: instrument, 6 mm of air and 2 mm of lining a side.",
            ROOM,
        ),
    ] = None,
    neck_at: Annotated[
        Text,
        text_option("A place of the neck from the tail, for a section without a photo.", SHAPE),
    ] = None,
    neck_shape: Annotated[
        Text, text_option("round, D, V, 'soft V' or 'flat oval'. Default: round.", SHAPE, "WORD")
    ] = None,
    neck_depth: Annotated[
        Text, text_option("From the top of the fingerboard, with calipers.", SHAPE)
    ] = None,
    neck_width: Annotated[Text, text_option("There. Default: the outline's.", SHAPE)] = None,
    neck_height: Annotated[
        Text,
        text_option(
            "From the bench to the neck's underside at the rest, the instrument on its back, as"
            " 47 or 47±0.3: the number that counts most.",
            SHAPE,
        ),
    ] = None,
    side: Annotated[
        Text,
        text_option(
            "Lower and upper edge of the body's side above the bench. Default: the job's. For a"
            " round back: stand a square on the bench against the tail and write how far the side"
            " stands"
            " away from its blade by height, as '10=14mm,30=3mm,60=0mm'; add ';shoulder:…' read"
            " beside the neck.",
            SHAPE,
            "LOWxHIGH",
        ),
    ] = None,
    overhang: Annotated[
        Text, text_option("How far plates stand out over the ribs. Default 0.", SHAPE)
    ] = None,
    plate: Annotated[
        Text, text_option("Thickness of such a plate's edge. Default 4 mm.", SHAPE)
    ] = None,
    button: Annotated[
        Text,
        text_option(
            "Strap button at the tail: its diameter and length, as 14x11mm; surer are diameters"
            " by their distance from the wood, one every 2 mm or so:"
            " 0=9mm,2=8mm,4.5=7mm,6.5=11mm,9=14mm,11=10mm.",
            SHAPE,
            "DIAxLONG",
        ),
    ] = None,
    button_height: Annotated[
        Text,
        text_option(
            "From the bench to its middle, with calipers, as 46 or 46±0.2; a button that the photo"
            " saw needs no more.",
            SHAPE,
        ),
    ] = None,
    tuner_height: Annotated[
        Text, text_option("From the bench to the middle of the tuner buttons.", SHAPE)
    ] = None,
    housing: Annotated[
        Text, text_option("What tuners stand out behind the headstock. Default 7 mm.", SHAPE)
    ] = None,
    paper: Annotated[
        Text,
        text_option("A4, Letter, A3 and so on. Default A4, with --units in Letter.", PAGES, "NAME"),
    ] = None,
    one_page: Annotated[
        bool,
        typer.Option(
            "--one-page",
            help="Each piece on a page as large as it takes, instead of several to a sheet.",
            rich_help_panel=PAGES,
            show_default=False,
        ),
    ] = False,
    trace: Annotated[
        Text,
        text_option(
            "A second line this far inside the cut, for a template that a pencil or a bearing"
            " runs round.",
            PAGES,
        ),
    ] = None,
    tool_offset: Annotated[
        Text, text_option("A second line this far outside the cut, for a machine's tool.", PAGES)
    ] = None,
    formats: Annotated[
        str,
        typer.Option(
            "--format", help="pdf, svg, dxf, or several with commas.", rich_help_panel=PAGES
        ),
    ] = "pdf,svg,dxf",
    printer_x: Annotated[
        Text,
        text_option("What your rule reads on the 100 mm bar across a page printed before.", PAGES),
    ] = None,
    printer_y: Annotated[Text, text_option("The same for the bar up the page.", PAGES)] = None,
    customer: Annotated[Text, text_option("Default: the job's.", PAGES, "NAME")] = None,
    instrument: Annotated[Text, text_option("Default: the job's.", PAGES, "NAME")] = None,
    output: Annotated[
        Path | None,
        typer.Option(
            "-o", "--output", help="Folder. Default: 'cradle' in JOB.", show_default=False
        ),
    ] = None,
    units: UnitsOption = Units.MM,
    inch_step: InchStep = 64,
    force: Force = False,
) -> None:
    """Plan the pieces that hold this instrument in its case: neck rest, headstock block, tail rest
    with a slot for the strap button, body blocks.

    It takes the neck's sections from the job ('profiler section'), the headstock's tilt and
    thickness ('profiler headstock'), and heights. The instrument can be lowered straight down into
    every piece, and is laid in for a fit check before anything is cut. A piece that cannot be made
    says why.
    """
    from profiler.casework.cradle.berth import berth_from_room
    from profiler.casework.cradle.boards import tail_room
    from profiler.casework.cradle.summary import summary_lines
    from profiler.cli.files import put_files
    from profiler.jobs.caseplan import left_over
    from profiler.jobs.cradleplan import CRADLE_NAME, FORMAT
    from profiler.jobs.reading import notes_from_record, read_record
    from profiler.paper import paper_named
    from profiler.pipeline.casing.typed import Typed
    from profiler.pipeline.casing.wishes import DEFAULTS
    from profiler.pipeline.cradle import SheetWishes, cradle_files
    from profiler.pipeline.cradling.shapes import solid_from
    from profiler.pipeline.cradling.wishes import wishes_from
    from profiler.pipeline.labels import Labels
    from profiler.pipeline.sheets import correction_from_readings
    from profiler.plates.cradle.outlines import Lines

    typed = Typed(ctx.params, units)
    sheet = paper_named(paper or ("Letter" if units is Units.IN else "A4"))
    record = read_record(job)
    wishes, remarks = wishes_from(typed)
    measurement, solid = solid_from(typed, record, job)
    berth = berth_from_room(
        solid.plan,
        DEFAULTS[units].room,
        typed.length("inside_width"),
        tail_room(solid, wishes),
    )
    notes = notes_from_record(record)
    labels = Labels(
        notes.name if instrument is None else instrument,
        notes.customer if customer is None else customer,
        units.value,
        inch_step,
    )
    sheets = SheetWishes(
        sheet,
        one_page,
        correction_from_readings(
            optional_length(printer_x, units, "--printer-x"),
            optional_length(printer_y, units, "--printer-y"),
        ),
        Lines(typed.length_or("trace", 0.0), typed.length_or("tool_offset", 0.0)),
        tuple(name.strip().lower() for name in formats.split(",") if name.strip()),
    )
    done, files = cradle_files(
        measurement, solid, berth, wishes, labels, sheets, remarks, typed.kept()
    )
    home = job if job.is_dir() else job.parent
    folder = output or home / "cradle"
    stale = left_over(folder, files, CRADLE_NAME, FORMAT) if force else []
    put_files(folder, files, force)
    for path in stale:
        path.unlink(missing_ok=True)
    for line in summary_lines(done, labels.show, labels.unit):
        typer.echo(line)
    typer.echo(f"\nWritten to {folder}: {len(files)} files. Start with cradle.pdf.")
