"""`profiler archive add`, `edit` and `show`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from profiler.cli.options import Units, UnitsOption, shown
from profiler.cli.shelf.common import ArchiveOption, NumberArgument, opened, plural
from profiler.errors import RequestError

if TYPE_CHECKING:
    from profiler.archive.entries import InstrumentEntry, RevisionEntry

Customer = Annotated[
    str | None, typer.Option(help="Whose it is. Default: the job's.", show_default=False)
]
Name = Annotated[
    str | None,
    typer.Option(help="What the instrument is called. Default: the job's.", show_default=False),
]
Maker = Annotated[str | None, typer.Option(help="Who built it.", show_default=False)]
Kind = Annotated[str | None, typer.Option(help="What it is, as 'viola'.", show_default=False)]
Measured = Annotated[
    str | None,
    typer.Option(
        "--date", metavar="Y-M-D", help="Day it was measured. Default: today.", show_default=False
    ),
]
Notes = Annotated[str | None, typer.Option(help="On the instrument.", show_default=False)]
RevisionNotes = Annotated[
    str | None,
    typer.Option(
        "--note", help="On this measurement, as 'after the neck reset'.", show_default=False
    ),
]
Tags = Annotated[
    list[str] | None,
    typer.Option("--tag", metavar="WORD", help="Repeatable.", show_default=False),
]


def add(
    job: Annotated[
        Path, typer.Argument(metavar="JOB", help="Folder that 'profiler measure' wrote.")
    ],
    customer: Customer = None,
    name: Name = None,
    maker: Maker = None,
    kind: Kind = None,
    measured: Measured = None,
    notes: Notes = None,
    note: RevisionNotes = None,
    tag: Tags = None,
    photos: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="FOLDER",
            help="Where photos and records lie. The job folder and the one round it are always"
            " looked through. Repeatable.",
            show_default=False,
        ),
    ] = None,
    without_photos: Annotated[
        bool, typer.Option("--without-photos", help="Keep the photos' hashes only.")
    ] = False,
    by_reference: Annotated[
        bool,
        typer.Option(
            "--by-reference", help="Keep where the photos lie and their hashes, not them."
        ),
    ] = False,
    document: Annotated[
        list[str] | None,
        typer.Option(
            metavar="KIND=FILE",
            help="A file to keep with it; KIND is section, cradle, case or other. Repeatable.",
            show_default=False,
        ),
    ] = None,
    revision_of: Annotated[
        int | None,
        typer.Option(
            metavar="NUMBER",
            help="A new measurement of this instrument; older ones stay.",
            show_default=False,
        ),
    ] = None,
    another: Annotated[
        bool,
        typer.Option("--another", help="A second instrument of the same customer and name."),
    ] = False,
    archive: ArchiveOption = None,
) -> None:
    """Keep a measured job: outline, numbers, records, photos byte for byte.

    Adding the same job twice keeps it once.
    """
    if revision_of is not None and another:
        raise RequestError("--revision-of and --another exclude each other.")
    documents = [_document(text) for text in document or []]

    from profiler.archive.entries import Details
    from profiler.archive.intake import job_from_folder
    from profiler.archive.keep import add_job

    read = job_from_folder(
        job,
        photos or [],
        without_photos=without_photos,
        by_reference=by_reference,
        documents=documents,
    )
    details = Details(customer, name, maker, kind, measured, notes, note, tuple(tag or ()))
    with opened(archive, make=True) as shelf:
        kept = add_job(shelf, read, details, revision_of, another)
    for sentence in read.missing:
        typer.echo(sentence, err=True)
    number = f"{kept.instrument}.{kept.revision}"
    if kept.known:
        typer.echo(f"This very measurement is kept already as {number}. Nothing was changed.")
        return
    stored = sum(file.data is not None for file in read.files if file.role == "photo")
    typer.echo(f"Kept as {number}, with {plural(stored, 'photo')}.")


def edit(
    number: NumberArgument,
    customer: Annotated[
        str | None, typer.Option(help="'' for nobody in particular.", show_default=False)
    ] = None,
    name: Annotated[str | None, typer.Option(show_default=False)] = None,
    maker: Maker = None,
    kind: Kind = None,
    measured: Annotated[
        str | None,
        typer.Option("--date", metavar="Y-M-D", help="Day of the measurement.", show_default=False),
    ] = None,
    notes: Notes = None,
    note: RevisionNotes = None,
    tag: Annotated[
        list[str] | None,
        typer.Option(
            metavar="WORD",
            help="Add a tag; with a minus in front, as --tag=-sold, take it away. Repeatable.",
            show_default=False,
        ),
    ] = None,
    archive: ArchiveOption = None,
) -> None:
    """Change what is written about an instrument. What was measured is never changed."""
    from profiler.archive.entries import Details
    from profiler.archive.find import number_of
    from profiler.archive.keep import edit as change

    which = number_of(number)
    details = Details(customer, name, maker, kind, measured, notes, note, tuple(tag or ()))
    if details == Details():
        raise RequestError("Nothing to change was said. See 'profiler archive edit --help'.")
    with opened(archive) as shelf:
        change(shelf, which.instrument, details, which.revision)
    typer.echo(f"Changed {number}.")


def show(
    number: NumberArgument, units: UnitsOption = Units.MM, archive: ArchiveOption = None
) -> None:
    """All that is kept of an instrument."""
    from profiler.archive.find import measurement_of, number_of, revision_of

    which = number_of(number)
    with opened(archive) as shelf:
        instrument, revision = revision_of(shelf, which)
        _, measurement = measurement_of(shelf, revision)
    _tell_instrument(instrument)
    for one in instrument.revisions:
        _tell_revision(instrument, one, units)
    from profiler.plates.figures import in_inches, in_mm, rows

    typer.echo(f"\nMeasured, {instrument.id}.{revision.number}:")
    for label, quantity in rows(measurement):
        if quantity:
            first, second = in_mm(quantity), in_inches(quantity)
            if units is Units.IN:
                first, second = second, first
            typer.echo(f"  {label.replace('_', ' '):<22}{first:>20}   {second:>22}")
        else:
            typer.echo(f"  {label:<22}not known: {quantity.reason}")
    doubts = [f for f in measurement.findings if f.level.value == "doubt"]
    for finding in doubts:
        typer.echo(f"  In doubt: {finding.message} [{finding.code}]")


def _tell_instrument(instrument: InstrumentEntry) -> None:
    from profiler.archive.words import shown_line

    owner = shown_line(instrument.customer, 200) or "nobody in particular"
    typer.echo(f"{instrument.id}  {shown_line(instrument.name, 200)}, of {owner}")
    for label, text in (
        ("maker", instrument.maker),
        ("kind", instrument.kind),
        ("tags", ", ".join(instrument.tags)),
    ):
        if text:
            typer.echo(f"  {label:<8}{shown_line(text, 400)}")
    for line in instrument.notes.splitlines():
        typer.echo(f"  {'notes':<8}{shown_line(line, 2000)}")


def _tell_revision(instrument: InstrumentEntry, revision: RevisionEntry, units: Units) -> None:
    from profiler.archive.words import shown_line

    size = " × ".join(shown(v, units) for v in (revision.length, revision.width) if v is not None)
    typer.echo(
        f"\n{instrument.id}.{revision.number}  measured {revision.measured}: {size}"
        f"   by {shown_line(revision.program, 60)}, kept {revision.added[:10]}"
    )
    for line in revision.notes.splitlines():
        typer.echo(f"  {'note':<8}{shown_line(line, 2000)}")
    for file in revision.files:
        where = "" if file.kept else f"  not here: {file.elsewhere}"
        typer.echo(
            f"  {file.role:<8}{shown_line(file.name, 80)}  sha256 {file.sha256[:12]}…"
            f"{shown_line(where, 300)}"
        )


def _document(text: str) -> tuple[str, Path]:
    from profiler.archive.intake import DOCUMENTS

    kind, mark, path = text.partition("=")
    if not mark or kind not in (*DOCUMENTS, "other"):
        raise RequestError(
            f"--document {text[:60]} cannot be read: write KIND=FILE, where KIND is"
            f" {', '.join(DOCUMENTS)} or other."
        )
    return kind, Path(path)
