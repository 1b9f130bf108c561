"""`profiler headstock`: what a block under the headstock has to know besides its outline."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from profiler.cli.options import Force, Units, UnitsOption, text_option


def headstock(
    job: Annotated[
        Path, typer.Argument(help="Folder that 'profiler measure' wrote.", metavar="JOB")
    ],
    tilt: Annotated[
        str | None,
        text_option(
            "How far its face falls from the nut to its end, against the bench, as 14 or"
            " 14±1. Default: what a card on it or a photo from the side showed.",
            metavar="DEGREES",
        ),
    ] = None,
    thickness: Annotated[
        str | None,
        text_option("Of the wood, as 12.5 or 12.5±0.3."),
    ] = None,
    lowest: Annotated[
        str | None,
        text_option("Lowest point above the bench, tuners' housings included, with a rule."),
    ] = None,
    edge: Annotated[
        str | None,
        text_option(
            "Radius that the edges of its back are rounded to, with a radius gauge or a drill's"
            " shank, as 1 or 1±0.3; 0 where they are sharp. Default: not known."
        ),
    ] = None,
    units: UnitsOption = Units.MM,
    force: Force = False,
) -> None:
    """Add tilt, thickness, lowest point and rounding of the headstock to a job.

    What a card on the headstock or a photo from the side showed needs no typing; what nobody says
    stays unknown, with the reason.
    """
    from profiler.jobs.reading import measurement_from_record, read_record
    from profiler.jobs.sections import HEADSTOCK, HeadstockTaken, change_record, face_planes
    from profiler.jobs.sections import with_headstock as put
    from profiler.pipeline.headstock import headstock_typed
    from profiler.plates.figures import in_degrees, in_units

    record = read_record(job)
    measurement = measurement_from_record(record, job)
    planes = face_planes(record)
    head = headstock_typed(measurement, planes, units.value, tilt, thickness, lowest, edge)
    if HEADSTOCK in record and not force:
        raise HeadstockTaken
    change_record(job, lambda r: put(r, head, force))
    typer.echo(f"{'Along the centreline':<26}{head.start:.1f} to {head.end:.1f} mm")
    if head.tilt.value is None:
        typer.echo(f"{'Tilt':<26}not known: {head.tilt.reason}")
    else:
        typer.echo(f"{'Tilt':<26}{in_degrees(head.tilt)}")
    rows = {
        "Thickness": head.thickness,
        "Face at the nut": head.face_height,
        "Wood's lowest point": head.lowest_wood,
        "Lowest of all": head.lowest,
        "Edges rounded to": head.edge,
    }
    for label, quantity in rows.items():
        words = in_units(quantity, units.value) if quantity else f"not known: {quantity.reason}"
        typer.echo(f"{label:<26}{words}")
    typer.echo(f"\nWritten to {job}")
