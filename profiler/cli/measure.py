"""`profiler measure`: photos to a job folder with outline, overlay and summary."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from profiler.cli.errors import say_error
from profiler.cli.options import Force, InchStep, Units, UnitsOption, optional_length
from profiler.cli.progress import shown_progress
from profiler.errors import RequestError
from profiler.findings import Finding, Level
from profiler.units import format_mm, parse_height_option

if TYPE_CHECKING:
    from profiler.instrument.record import Measurement
    from profiler.pipeline.job import JobResult

#: results were written, but two photos contradict each other beyond their uncertainty
EXIT_DISAGREE = 7
#: nothing that is laid on a mat is thicker, mm
HIGHEST_MM = 600.0
IGNORABLE = ("heights", "lens")
RECORDS = "Records (looked for beside the photo)"
HEIGHTS = "Heights and readings"
HEADINGS = {
    Level.DOUBT: "In doubt, check before you rely on it:",
    Level.CAUTION: "Less certain than it could be:",
    Level.NOTE: "Good to know:",
}


def measure(
    photos: Annotated[
        list[Path],
        typer.Argument(
            metavar="PHOTO",
            help="One or more photos of the instrument on the mat.",
            show_default=False,
        ),
    ],
    output: Annotated[
        Path,
        typer.Option(
            "--output", "-o", metavar="JOB", help="Folder for the results.", show_default=False
        ),
    ],
    side: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="PHOTO",
            help="A photo from the side, at the height of the strings, of the instrument as it"
            " lies, with the upright row (profiler mat --upright) behind it. Gives the heights"
            " along the instrument, the thickest place and the headstock's tilt. A further one,"
            " from beside the tail, shows the strap button.",
            show_default=False,
        ),
    ] = None,
    upright: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="The upright row's record, upright.json.",
            rich_help_panel=RECORDS,
        ),
    ] = None,
    mat: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The mat's record, mat.json.", rich_help_panel=RECORDS),
    ] = None,
    cards: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="The cards' record, cards.json.", rich_help_panel=RECORDS
        ),
    ] = None,
    lens: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="The phone's lens record. Your own and the program's are searched too.",
            rich_help_panel=RECORDS,
        ),
    ] = None,
    bar_x: Annotated[
        str | None,
        typer.Option(
            metavar="LENGTH",
            help="What a steel rule reads on the mat's bar X, outer end to outer end.",
            rich_help_panel=HEIGHTS,
        ),
    ] = None,
    bar_y: Annotated[
        str | None,
        typer.Option(metavar="LENGTH", help="The same on bar Y.", rich_help_panel=HEIGHTS),
    ] = None,
    card_bar_x: Annotated[
        str | None,
        typer.Option(
            metavar="LENGTH", help="The same on the cards' page.", rich_help_panel=HEIGHTS
        ),
    ] = None,
    card_bar_y: Annotated[
        str | None,
        typer.Option(
            metavar="LENGTH", help="The same on the cards' page.", rich_help_panel=HEIGHTS
        ),
    ] = None,
    height: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PART=LENGTH",
            help="Height above the bench that you measured: body, back, neck, headstock, tuners,"
            " button, side-button, bridge, or top for the thickest place. As body=72, body=72±0.5"
            ' or "top=3 1/4in"; button=0 says that there is no strap button. Repeatable.',
            rich_help_panel=HEIGHTS,
            show_default=False,
        ),
    ] = None,
    corrections: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Corrections by hand that 'profiler serve' recorded for this photo,"
            " corrections.json. Typed heights go before those in it.",
            show_default=False,
            rich_help_panel=HEIGHTS,
        ),
    ] = None,
    name: Annotated[str, typer.Option(help="What the instrument is called on the pages.")] = "",
    customer: Annotated[str, typer.Option(help="Whose it is.")] = "",
    units: UnitsOption = Units.MM,
    inch_step: InchStep = 64,
    accept_crop: Annotated[
        bool,
        typer.Option(
            "--accept-crop", help="Take a cropped or zoomed photo too, with larger uncertainty."
        ),
    ] = False,
    force: Force = False,
    ignore: Annotated[list[str] | None, typer.Option(hidden=True)] = None,
) -> None:
    """Measure an instrument that lies on the mat, from one photo or several.

    The job folder gets measurement.json (outline and all numbers), overlay.jpg (what was seen, to
    check by eye) and summary.pdf (one page to print).

    Two or three photos from places a step apart (over the tail, the middle, the head) are worth it:
    heights along the edge are then seen instead of assumed. Touch nothing in between. If photos
    contradict each other, or the mat as printed, or if the edge was lost in places, the result says
    so and the exit code is 7.
    """
    heights = _heights(height or [], units)
    ignored = _ignored(ignore or [])
    bars = (
        optional_length(bar_x, units, "--bar-x"),
        optional_length(bar_y, units, "--bar-y"),
    )
    card_bars = (
        optional_length(card_bar_x, units, "--card-bar-x"),
        optional_length(card_bar_y, units, "--card-bar-y"),
    )

    from profiler.jobs.corrections import Corrections, corrections_for
    from profiler.jobs.results import MEASUREMENT_NAME, JobNotes, record_bytes
    from profiler.jobs.writing import new_job_folder
    from profiler.pipeline.ahead import load_ahead
    from profiler.pipeline.job import JobWishes, run_job

    by_hand = Corrections() if corrections is None else corrections_for(corrections, photos[0])
    load_ahead("profiler.pipeline.shape", "profiler.pipeline.report")
    wishes = JobWishes(
        photos=tuple(photos),
        mat=mat,
        cards=cards,
        lens=lens,
        bars=bars,
        card_bars=card_bars,
        heights={**by_hand.heights, **heights},
        notes=JobNotes(name.strip(), customer.strip()),
        accept_crop=accept_crop,
        ignore=ignored,
        strokes=by_hand.strokes,
        sides=tuple(side or ()),
        upright=upright,
    )
    with new_job_folder(output, force) as folder, shown_progress() as progress:
        job = run_job(wishes, progress)
        progress("drawing the overlay", 0.92)
        from concurrent.futures import ThreadPoolExecutor

        from profiler.cores import on_cores
        from profiler.pipeline.report import report_files  # loaded by now

        # the pictures are OpenCV's work for the most part: the record is written meanwhile
        with ThreadPoolExecutor(max_workers=1) as beside:
            report = beside.submit(report_files, job, wishes.notes, units.value, inch_step)
            kept = _carried(output, job.record)
            folder.write(MEASUREMENT_NAME, record_bytes(kept))
            files = report.result()
        # a disk takes its time to say that all is on it: both are asked at once
        on_cores(lambda file: folder.write(*file), files.items())
    for finding in job.result.standing_against:
        say_error(finding.message)
    _tell(job, units, inch_step)
    if kept is not job.record:
        typer.echo(
            "\nSections and headstock of the measurement before were kept: their stations count"
            " from the tail. Take them again if the instrument was altered."
        )
    typer.echo(f"\nWritten to {output}: {', '.join(sorted([*files, MEASUREMENT_NAME]))}")
    if stale := _stale(output, files):
        typer.echo(
            f"{', '.join(stale)} there come from the measurement before: make them anew"
            f" ('profiler template {output} --force' and the like) before you cut.",
            err=True,
        )
    if job.result.standing_against:
        raise typer.Exit(EXIT_DISAGREE)


def _stale(output: Path, written: Collection[str]) -> list[str]:
    """What lies in a job's folder and was made from the measurement before."""
    from profiler.pipeline.report import gone_side_overlays

    made = [*output.glob("template.*"), output / "case", output / "cradle"]
    made += gone_side_overlays(output, written)
    return sorted(path.name for path in made if path.exists())


def _carried(output: Path, record: dict[str, Any]) -> dict[str, Any]:
    """The record, with the sections and the headstock of the measurement that it replaces."""
    from profiler.jobs.reading import MeasurementFileError, read_record
    from profiler.jobs.sections import carried_over

    try:
        old = read_record(output)
    except MeasurementFileError:
        return record
    return carried_over(old, record)


def _heights(options: list[str], units: Units) -> dict[str, tuple[float, float | None]]:
    heights: dict[str, tuple[float, float | None]] = {}
    for option in options:
        part, mm, u95 = parse_height_option(option, units.value)
        if part in heights:
            raise RequestError(f"--height {part} is given twice. Give each part once.")
        if mm > HIGHEST_MM:
            raise RequestError(
                f"--height {option} cannot be: {format_mm(mm)} is higher than any instrument that"
                " lies on a mat. Is the unit right?"
            )
        heights[part] = (mm, u95)
    return heights


def _ignored(options: list[str]) -> frozenset[str]:
    for option in options:
        if option not in IGNORABLE:
            raise RequestError(f"--ignore {option}: known are {' and '.join(IGNORABLE)}.")
    return frozenset(options)


def _tell(job: JobResult, units: Units, inch_step: int) -> None:
    for line in job.used:
        typer.echo(line)
    typer.echo("")
    for line in _table(job.measurement, units, inch_step):
        typer.echo(line)
    for level, heading in HEADINGS.items():
        found = [f for f in job.measurement.findings if f.level is level]
        if found:
            colour = typer.colors.RED if level is Level.DOUBT else None
            typer.echo("\n" + typer.style(heading, fg=colour, bold=True))
            for finding in found:
                typer.echo(f"  {_said(finding)}")


def _table(measurement: Measurement, units: Units, inch_step: int) -> list[str]:
    from profiler.plates.figures import in_degrees, in_inches, in_mm, rows

    lines = []
    for name, quantity in rows(measurement):
        label = name.replace("_", " ")
        if quantity:
            mm, inches = in_mm(quantity), in_inches(quantity, inch_step)
            first, second = (inches, mm) if units is Units.IN else (mm, inches)
            lines.append(f"{label:<22}{first:>20}   {second:>22}")
        else:
            lines.append(f"{label:<22}not known: {quantity.reason}")
    if measurement.side is not None and (tilt := in_degrees(measurement.side.tilt)):
        lines.append(f"{'Headstock tilted by':<22}{tilt:>20}")
    return lines


def _said(finding: Finding) -> str:
    return f"{finding.message} [{finding.code}]"
