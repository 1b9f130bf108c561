"""`profiler section`: the neck's profile at a station, from a photo, a word, or two others."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from profiler.cli.options import (
    Force,
    Units,
    UnitsOption,
    optional_length,
    optional_measured,
    text_option,
)
from profiler.cli.progress import shown_progress
from profiler.errors import RequestError
from profiler.units import parse_length

if TYPE_CHECKING:
    from profiler.instrument.sections import Section
    from profiler.pipeline.section import Place

PHOTO = "From a photo of a contour gauge or a tracing"
WORD = "From a word and sizes"
SIZES = "Sizes that you measured (22, 22±0.3, 7/8in)"
RECORDS = "Records of the photo (looked for beside it)"
DONE = "With what the job has"


def section(
    job: Annotated[
        Path, typer.Argument(help="Folder that 'profiler measure' wrote.", metavar="JOB")
    ],
    at: Annotated[
        str | None,
        text_option(
            "Station along the centreline, from the tail: 421mm, 16 1/2in, or nut.", metavar="PLACE"
        ),
    ] = None,
    from_end: Annotated[
        str, typer.Option("--from", metavar="END", help="tail, or nut: --at counts from there.")
    ] = "tail",
    name: Annotated[
        str, typer.Option(help="Of the section. Default: 'neck at 421 mm'.", show_default=False)
    ] = "",
    gauge: Annotated[
        Path | None,
        typer.Option(
            metavar="PHOTO",
            help="Photo of a contour gauge on the mat, as it was taken off the neck.",
            rich_help_panel=PHOTO,
        ),
    ] = None,
    tracing: Annotated[
        Path | None,
        typer.Option(
            metavar="PHOTO",
            help="Photo of a pale paper with one drawn line, or of a cut-out card, on the mat.",
            rich_help_panel=PHOTO,
        ),
    ] = None,
    seen_from: Annotated[
        str,
        typer.Option(
            metavar="END",
            help="tail or head: from where you look along the neck to see the profile as it lies"
            " in the photo, face up.",
            rich_help_panel=PHOTO,
        ),
    ] = "tail",
    needle_height: Annotated[
        str | None,
        text_option(
            "Middle of the needles above the mat. Default: half of a card that lies on the"
            " gauge's bar, or 6 mm.",
            PHOTO,
        ),
    ] = None,
    tips: Annotated[
        str, typer.Option(help="The needles' tips: round, flat or sharp.", rich_help_panel=PHOTO)
    ] = "round",
    pitch: Annotated[
        str | None,
        text_option("From needle to needle. Default: found in the photo.", PHOTO),
    ] = None,
    flush: Annotated[
        bool,
        typer.Option(
            "--flush",
            help="The needles beside the neck were stopped by a flat across the fingerboard: they"
            " show the face.",
            rich_help_panel=PHOTO,
        ),
    ] = False,
    shape: Annotated[
        str | None,
        typer.Option(
            help="round, D, V, 'soft V' or 'flat oval'; with --depth.", rich_help_panel=WORD
        ),
    ] = None,
    side: Annotated[
        str | None,
        text_option("Height of the fingerboard's straight side. Default: 5 mm.", WORD),
    ] = None,
    apex: Annotated[
        str | None,
        text_option(
            "How far the lowest point lies to the left of the middle, seen from the tail;"
            " below zero: to the right.",
            WORD,
        ),
    ] = None,
    depth: Annotated[
        str | None,
        text_option(
            "The neck's thickness there, from the top of the fingerboard, with calipers. Default:"
            " what a card on the fingerboard and a side view show.",
            SIZES,
        ),
    ] = None,
    width: Annotated[
        str | None,
        text_option("Width at the face. Default: the outline's.", SIZES),
    ] = None,
    face_height: Annotated[
        str | None,
        text_option(
            "Of the fingerboard's top above the bench. Default: what a card on it showed.", SIZES
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
        typer.Option(metavar="FILE", help="The phone's lens record.", rich_help_panel=RECORDS),
    ] = None,
    bar_x: Annotated[
        str | None,
        text_option("Your rule's reading of bar X.", RECORDS),
    ] = None,
    bar_y: Annotated[
        str | None,
        text_option("Your rule's reading of bar Y.", RECORDS),
    ] = None,
    accept_crop: Annotated[
        bool,
        typer.Option(
            "--accept-crop", help="Take a cropped or zoomed photo too.", rich_help_panel=RECORDS
        ),
    ] = False,
    sheet: Annotated[
        str | None,
        text_option(
            "Draw a section of the job at full size: PDF, SVG and DXF.", DONE, metavar="NAME"
        ),
    ] = None,
    remove: Annotated[
        str | None,
        text_option("Take a section out again.", DONE, metavar="NAME"),
    ] = None,
    units: UnitsOption = Units.MM,
    force: Force = False,
) -> None:
    """Add a cross-profile of the neck to a job, or list those that it has.

    Press a contour gauge square to the back of the neck, lay it on the mat as it is, photograph it
    from above and measure the neck's thickness there with calipers. Without a photo and without a
    shape, the section is put between the two nearest of the job.
    """
    from profiler.jobs.reading import measurement_from_record, read_record
    from profiler.jobs.sections import (
        NoSection,
        SectionTaken,
        change_record,
        face_planes,
        sections_from_record,
        with_section,
        without_section,
    )

    record = read_record(job)
    measurement = measurement_from_record(record, job)
    known = sections_from_record(record, job)
    _one_of(gauge=gauge, tracing=tracing, shape=shape, sheet=sheet, remove=remove)
    if remove is not None:
        change_record(job, lambda r: without_section(r, remove))
        typer.echo(f"'{remove}' was taken out of {job}.")
        return
    if sheet is not None:
        chosen = next((s for s in known if s.name == sheet), None)
        if chosen is None:
            raise NoSection(sheet, tuple(s.name for s in known))
        _draw(job, record, chosen, force)
        return
    if at is None:
        if gauge or tracing or shape:
            raise RequestError(
                "Where along the neck is that? Give --at, as --at 421mm, or --at 3in --from nut."
            )
        _list(known, job, units)
        return

    from profiler.pipeline.section import place_on, section_by_word, section_put_between, station

    planes = face_planes(record)
    x = station(measurement, _place(at, units), _end(from_end, "--from", "nut"))
    deep = optional_measured(depth, units, "--depth")
    wide = optional_measured(width, units, "--width")
    place = place_on(
        measurement,
        planes,
        x,
        name,
        wide,
        optional_measured(face_height, units, "--face-height"),
    )
    if not force and any(s.name == place.name for s in known):
        raise SectionTaken(place.name)
    if shape is not None:
        made = section_by_word(
            place,
            shape,
            deep,
            optional_length(side, units, "--side"),
            _apex(apex, units),
        )
    elif gauge is not None or tracing is not None:
        made = _from_photo(
            place,
            gauge or tracing or Path(),
            gauge is not None,
            width_typed=wide is not None,
            depth=deep,
            from_head=_end(seen_from, "--seen-from", "head"),
            needle_height=optional_measured(needle_height, units, "--needle-height"),
            tips=tips.strip().lower(),
            flush=flush,
            pitch=optional_length(pitch, units, "--pitch"),
            mat=mat,
            cards=cards,
            lens=lens,
            bars=(
                optional_length(bar_x, units, "--bar-x"),
                optional_length(bar_y, units, "--bar-y"),
            ),
            accept_crop=accept_crop,
        )
    else:
        made = section_put_between(place, known, wide is not None, deep)
    change_record(job, lambda r: with_section(r, made, force))
    _tell(made, units)
    typer.echo(f"\nWritten to {job}: '{made.name}'")


def _one_of(**given: object) -> None:
    named = [f"--{name}" for name, value in given.items() if value is not None]
    if len(named) > 1:
        raise RequestError(f"{' and '.join(named)} do not go together. Give one of them.")


def _end(text: str, option: str, other: str) -> bool:
    """Whether the other end than the tail was named."""
    plain = text.strip().lower()
    if plain not in ("tail", other):
        raise RequestError(f"{option} {text}: give tail or {other}.")
    return plain == other


def _place(text: str, units: Units) -> float | str:
    if text.strip()[:1].isalpha():
        return text
    try:
        return parse_length(text, units.value)
    except RequestError as error:
        raise RequestError(f"--at: {error}") from None


def _apex(text: str | None, units: Units) -> float:
    if text is None:
        return 0.0
    try:
        return parse_length(text, units.value, allow_negative=True)
    except RequestError as error:
        raise RequestError(f"--apex: {error}") from None


def _from_photo(place: Place, photo: Path, is_gauge: bool, **wishes: Any) -> Section:
    from profiler.pipeline.traced import TracedWishes, section_from_photo

    with shown_progress() as progress:
        return section_from_photo(place, TracedWishes(photo, is_gauge, **wishes), progress)


def _list(sections: tuple[Section, ...], job: Path, units: Units) -> None:
    if not sections:
        typer.echo(f"{job} has no sections yet. 'profiler section --help' says how to add one.")
        return
    from profiler.plates.figures import in_units

    typer.echo(f"{'':<24}{'from the tail':>16}{'width':>18}{'depth':>18}   ")
    for s in sections:
        typer.echo(
            f"{s.name:<24}{s.x:>13.1f} mm{in_units(s.width, units.value):>18}"
            f"{in_units(s.depth, units.value):>18}   {s.source}: {s.detail}"
        )


def _tell(section: Section, units: Units) -> None:
    from profiler.plates.figures import in_units

    rows = {
        "Width": section.width,
        "Depth": section.depth,
        "Radius of the back": section.radius,
        "Face above the bench": section.face_height,
    }
    typer.echo(f"{'Station, from the tail':<24}{section.x:>13.1f} mm")
    for label, quantity in rows.items():
        if quantity:
            typer.echo(f"{label:<24}{in_units(quantity, units.value):>16}")
        else:
            typer.echo(f"{label:<24}not known: {quantity.reason}")
    u95 = sorted(section.u95.tolist())
    typer.echo(
        f"{'The curve':<24}{f'± {u95[len(u95) // 2]:.2f} mm':>16}   at most ± {u95[-1]:.2f} mm"
    )
    for finding in section.findings:
        typer.echo(f"  {finding.message} [{finding.code}]")


def _draw(job: Path, record: dict[str, Any], section: Section, force: bool) -> None:
    from profiler.cli.files import put_files
    from profiler.jobs.reading import notes_from_record
    from profiler.pipeline.section_sheet import section_files

    folder = job if job.is_dir() else job.parent
    for path in put_files(folder, section_files(section, notes_from_record(record)), force):
        typer.echo(str(path))
    typer.echo("Print at 100 % ('actual size') and lay a steel rule on the check bars.")
