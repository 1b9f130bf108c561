"""`profiler archive print` and `compare`: pages from what is kept."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from profiler.cli.options import Force, InchStep, Units, UnitsOption, optional_length, shown
from profiler.cli.shelf.common import ArchiveOption, NumberArgument, opened

if TYPE_CHECKING:
    from profiler.instrument.record import Measurement

Output = Annotated[
    Path,
    typer.Option("-o", "--output", metavar="FOLDER", help="Where to.", show_default=False),
]


def print_(
    number: NumberArgument,
    output: Output,
    clearance: Annotated[
        str, typer.Option(metavar="LENGTH", help="Room left all round on the template.")
    ] = "0mm",
    paper: Annotated[
        str | None,
        typer.Option(
            help="Tile the template's PDF on this paper, as A4 or Letter. Without it one big page.",
            show_default=False,
        ),
    ] = None,
    printer_x: Annotated[
        str | None,
        typer.Option(
            metavar="LENGTH",
            help="What your rule reads on the 100 mm bar across a page printed before.",
            show_default=False,
        ),
    ] = None,
    printer_y: Annotated[
        str | None,
        typer.Option(metavar="LENGTH", help="The same, up the page.", show_default=False),
    ] = None,
    units: UnitsOption = Units.MM,
    inch_step: InchStep = 64,
    force: Force = False,
    archive: ArchiveOption = None,
) -> None:
    """Template and summary again, from what is kept; no photo is needed."""
    room = optional_length(clearance, units, "--clearance") or 0.0
    read_x = optional_length(printer_x, units, "--printer-x")
    read_y = optional_length(printer_y, units, "--printer-y")
    from profiler.archive.find import measurement_of, number_of, revision_of
    from profiler.cli.files import put_files
    from profiler.paper import paper_named
    from profiler.pipeline.sheets import FORMATS, correction_from_readings, template_files
    from profiler.pipeline.shelved import summary_again
    from profiler.pipeline.wording import Wording
    from profiler.plates.notes import Wishes

    sheet = None if paper is None else paper_named(paper)
    correction = correction_from_readings(read_x, read_y)
    with opened(archive) as shelf:
        instrument, revision = revision_of(shelf, number_of(number))
        record, measurement = measurement_of(shelf, revision)
    wishes = Wishes(room, instrument.name, instrument.customer)
    files = template_files(measurement, wishes, FORMATS, sheet, correction)
    wording = Wording(instrument.name, instrument.customer, units.value, inch_step)
    files["summary.pdf"] = summary_again(measurement, record, wording)
    for path in put_files(output, files, force):
        typer.echo(str(path))
    typer.echo("Print at 100 % ('actual size') and lay a steel rule on the check bars.")
    if measurement.doubtful:
        typer.echo(
            "Part of the outline is in doubt (dashed on paper): check before you cut.", err=True
        )


def compare(
    before: Annotated[str, typer.Argument(metavar="OLDER", help="As 12.1, or a job's folder.")],
    now: Annotated[str, typer.Argument(metavar="NEWER", help="As 12.2, or a job's folder.")],
    output: Annotated[
        Path | None,
        typer.Option(
            "-o", "--output", metavar="FOLDER", help="Also draw it there.", show_default=False
        ),
    ] = None,
    units: UnitsOption = Units.MM,
    inch_step: InchStep = 64,
    force: Force = False,
    archive: ArchiveOption = None,
) -> None:
    """Two measurements over each other: what differs, in mm, and is it more than the uncertainty.

    Seen from above: a neck that rose or sank does not show.
    """
    from profiler.archive.compare import compare as lay_over
    from profiler.archive.words import shown_line
    from profiler.pipeline.comparison import Headings, comparison_files, verdict
    from profiler.pipeline.wording import Wording

    (title, owner, when_before, first), (_, _, when_now, second) = _both(before, now, archive)
    found = lay_over(first, second)
    typer.echo(shown_line(verdict(found)))
    typer.echo(f"\n{'part':<14}{'towards head':>14}{'to the left':>14}{'±':>12}")
    for part in found.parts:
        typer.echo(
            f"{shown_line(part.part, 13):<14}{_signed(part.along, units):>14}"
            f"{_signed(part.sideways, units):>14}{shown(part.u95, units):>12}"
            f"  {'MORE than ±' if part.moved else 'within ±'}"
        )
    typer.echo(f"\n{'number':<24}{'before':>12}{'now':>12}{'change':>12}{'±':>12}")
    for n in found.numbers:
        values = [
            "not known" if v is None else shown(v, units, inch_step) for v in (n.before, n.now)
        ]
        change = "" if n.difference is None else _signed(n.difference, units)
        doubt = "" if n.u95 is None else shown(n.u95, units, inch_step)
        said = {True: "MORE than ±", False: "within ±", None: "cannot be told"}[n.exceeds]
        typer.echo(
            f"{shown_line(n.name, 23):<24}{values[0]:>12}{values[1]:>12}{change:>12}{doubt:>12}"
            f"  {said}"
        )
    if output is not None:
        from profiler.cli.files import put_files

        heads = Headings(title, owner, when_before, when_now)
        files = comparison_files(found, heads, Wording(title, owner, units.value, inch_step))
        for path in put_files(output, files, force):
            typer.echo(str(path))


def _both(before: str, now: str, archive: str | None) -> list[tuple[str, str, str, Measurement]]:
    """Title, customer, day and measurement of each."""
    found = []
    for text in (before, now):
        path = Path(text)
        if path.exists():
            from profiler.jobs.reading import (
                measurement_from_record,
                notes_from_record,
                read_record,
            )

            record = read_record(path)
            notes = notes_from_record(record)
            found.append((notes.name, notes.customer, path.name, measurement_from_record(record)))
            continue
        from profiler.archive.find import measurement_of, number_of, revision_of

        with opened(archive) as shelf:
            instrument, revision = revision_of(shelf, number_of(text))
            _, measurement = measurement_of(shelf, revision)
        when = f"{instrument.id}.{revision.number}, {revision.measured}"
        found.append((instrument.name, instrument.customer, when, measurement))
    return found


def _signed(mm: float, units: Units) -> str:
    text = shown(abs(mm), units)
    sign = "+" if mm > 0 else "-"
    return f"{sign}{text}" if any(c in "123456789" for c in text) else text
