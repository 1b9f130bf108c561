"""`profiler headstock`: what a block under the headstock has to know besides its outline."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated

import typer

from profiler.cli.options import Force, Units, UnitsOption, optional_measured, text_option
from profiler.errors import RequestError


def headstock(
    job: Annotated[
        Path, typer.Argument(help="Folder that 'profiler measure' wrote.", metavar="JOB")
    ],
    tilt: Annotated[
        str | None,
        text_option(
            "How far its face falls from the nut to its end, against the bench, as 14 or"
            " 14±1. Default: what a card on it showed.",
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
    units: UnitsOption = Units.MM,
    force: Force = False,
) -> None:
    """Add tilt, thickness and lowest point of the headstock to a job.

    What a card on the headstock showed needs no typing; what neither a card nor you say stays
    unknown, with the reason.
    """
    from profiler.instrument.headstock import MOST_TILT_DEG, THICKNESSES
    from profiler.jobs.reading import measurement_from_record, read_record
    from profiler.jobs.sections import HEADSTOCK, HeadstockTaken, change_record, face_planes
    from profiler.jobs.sections import with_headstock as put
    from profiler.pipeline.section import headstock_of
    from profiler.plates.figures import in_units

    record = read_record(job)
    measurement = measurement_from_record(record, job)
    angle = _degrees(tilt, MOST_TILT_DEG)
    thick = optional_measured(thickness, units, "--thickness")
    if thick is not None and not THICKNESSES[0] <= thick[0] <= THICKNESSES[1]:
        raise RequestError(
            f"--thickness {thickness} cannot be: a headstock is {THICKNESSES[0]:.0f} to"
            f" {THICKNESSES[1]:.0f} mm thick. Is the unit right?"
        )
    if HEADSTOCK in record and not force:
        raise HeadstockTaken
    low = optional_measured(lowest, units, "--lowest")
    head = headstock_of(measurement, face_planes(record), angle, thick, low)
    change_record(job, lambda r: put(r, head, force))
    typer.echo(f"{'Along the centreline':<26}{head.start:.1f} to {head.end:.1f} mm")
    if head.tilt.value is None:
        typer.echo(f"{'Tilt':<26}not known: {head.tilt.reason}")
    else:
        typer.echo(f"{'Tilt':<26}{head.tilt.value:.1f} ± {head.tilt.u95:.1f}°")
    rows = {
        "Thickness": head.thickness,
        "Face at the nut": head.face_height,
        "Wood's lowest point": head.lowest_wood,
        "Lowest of all": head.lowest,
    }
    for label, quantity in rows.items():
        words = in_units(quantity, units.value) if quantity else f"not known: {quantity.reason}"
        typer.echo(f"{label:<26}{words}")
    typer.echo(f"\nWritten to {job}")


def _degrees(text: str | None, most: float) -> tuple[float, float | None] | None:
    """Degrees with or without their uncertainty.

    Raises:
        RequestError: no number, or no headstock's tilt.
    """
    if text is None:
        return None
    plain = re.sub(r"\+/?-", "±", text.replace("°", "").replace("deg", "").replace("−", "-"))
    value, plus_minus, doubt = plain.partition("±")
    try:
        angle, u95 = float(value.replace(",", ".")), float(doubt) if plus_minus else None
    except ValueError:
        raise RequestError(f"--tilt {text}: write degrees, as 14 or 14±1.") from None
    if not abs(angle) <= most or (u95 is not None and not 0 < u95 <= most):
        raise RequestError(f"--tilt {text}: a headstock is tilted by {most:.0f}° at most.")
    return angle, u95
