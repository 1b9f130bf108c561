"""`profiler archive near`, `fits` and `serves`: finding by shape."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from profiler.cli.options import Units, UnitsOption, optional_length, shown
from profiler.cli.shelf.common import ArchiveOption, opened, plural
from profiler.errors import RequestError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from profiler.archive.database import Archive
    from profiler.archive.entries import InstrumentEntry

Asked = Annotated[
    str, typer.Argument(metavar="JOB|NUMBER", help="A measured job's folder, or 12, or 12.2.")
]
Limit = Annotated[int, typer.Option(min=1, max=50, help="Show no more than so many.")]


def near(
    asked: Asked,
    mirrored: Annotated[
        bool, typer.Option("--mirrored", help="Also turned over, as for left-handed players.")
    ] = False,
    limit: Limit = 5,
    units: UnitsOption = Units.MM,
    archive: ArchiveOption = None,
) -> None:
    """The archived outlines nearest to this one, however they lie."""
    from profiler.archive.search import nearest

    with opened(archive) as shelf:
        outline, without = _outline(shelf, asked)
        found = nearest(shelf, outline, limit, mirrored, without)
    if not found.found:
        typer.echo("The archive holds no other outline.", err=True)
        return
    typer.echo(f"{'':>7}  {'largest gap':>12}  {'mean gap':>10}")
    for one in found.found:
        over = one.overlay
        turned = "  mirrored" if over.lay.mirrored else ""
        typer.echo(
            f"{_number(one.instrument, one.revision):>7}  {shown(over.largest, units):>12}"
            f"  {shown(over.mean, units):>10}  {_names(one.instrument)}{turned}"
        )
    if found.open_:
        typer.echo(
            f"{plural(found.open_, 'more outline')} of {found.looked_at} might come as near as the"
            " last one shown; looked at coarsely, they did not.",
            err=True,
        )


def fits(
    inside: Annotated[
        str,
        typer.Argument(
            metavar="INSIDE",
            help="What it has to fit into: LENGTHxWIDTH, a DXF drawing, a case's plan.json, a job's"
            " folder, or a NUMBER of the archive.",
        ),
    ],
    clearance: Annotated[str, typer.Option(metavar="LENGTH", help="Least room all round.")] = "0mm",
    limit: Limit = 10,
    units: UnitsOption = Units.MM,
    archive: ArchiveOption = None,
) -> None:
    """Archived instruments that fit into this, flat, with room all round; and by how much.

    Only the outline seen from above is compared: measure heights yourself.
    """
    room = optional_length(clearance, units, "--clearance") or 0.0
    from profiler.archive.search import fitting

    with opened(archive) as shelf:
        found = fitting(shelf, _inside(shelf, inside, units), room, limit)
    _tell_fitting(found, units, "least room")
    typer.echo(
        f"Of {plural(found.looked_at, 'outline')} {found.possible} could fit by their sizes;"
        f" {plural(found.laid, 'was', 'were')} laid in, those that fill it best.",
        err=True,
    )


def serves(
    asked: Asked,
    clearance: Annotated[
        str, typer.Option(metavar="LENGTH", help="That the templates were cut with.")
    ] = "3mm",
    least: Annotated[
        str, typer.Option(metavar="LENGTH", help="Room that has to be left all round.")
    ] = "1mm",
    limit: Limit = 5,
    units: UnitsOption = Units.MM,
    archive: ArchiveOption = None,
) -> None:
    """Which archived instrument's template would also serve this one."""
    cut = optional_length(clearance, units, "--clearance") or 0.0
    room = optional_length(least, units, "--least") or 0.0
    from profiler.archive.search import serving

    with opened(archive) as shelf:
        outline, without = _outline(shelf, asked)
        found = serving(shelf, outline, cut, room, limit, without)
    _tell_fitting(found, units, "least room")
    typer.echo(
        f"Of {plural(found.looked_at, 'template')} {found.possible} could serve by their sizes;"
        f" {plural(found.laid, 'was', 'were')} tried, the nearest ones.",
        err=True,
    )


def _tell_fitting(found: Any, units: Units, least: str) -> None:
    if not found.found:
        typer.echo("None fits.", err=True)
        return
    typer.echo(f"{'':>7}  {least:>12}  {'widest gap':>12}")
    for one in found.found:
        typer.echo(
            f"{_number(one.instrument, one.revision):>7}  {shown(one.fit.room, units):>12}"
            f"  {shown(one.largest, units):>12}  {_names(one.instrument)}"
        )


def _number(instrument: InstrumentEntry, revision: int) -> str:
    return f"{instrument.id}.{revision}"


def _names(instrument: InstrumentEntry) -> str:
    from profiler.archive.words import shown_line

    owner = shown_line(instrument.customer, 30)
    return shown_line(instrument.name, 30) + (f", of {owner}" if owner else "")


def _outline(shelf: Archive, asked: str) -> tuple[NDArray[Any], list[int]]:
    """An outline, and the revisions of the same instrument, which are no answer."""
    if Path(asked).exists():
        from profiler.jobs.reading import read_measurement

        return read_measurement(Path(asked)).outline, []
    from profiler.archive.find import measurement_of, number_of, revision_of

    try:
        which = number_of(asked)
    except RequestError:
        raise RequestError(
            f"'{asked[:80]}' is neither a folder that is there nor a number of the archive."
        ) from None
    instrument, revision = revision_of(shelf, which)
    _, measurement = measurement_of(shelf, revision)
    return measurement.outline, [r.id for r in instrument.revisions]


def _inside(shelf: Archive, text: str, units: Units) -> NDArray[Any]:
    from profiler.archive.container import line_from_file, rectangle_line

    path = Path(text)
    if path.is_file() and path.name != "measurement.json":
        return line_from_file(path)
    if not path.exists() and "x" in text.lower().replace("×", "x"):
        return rectangle_line(text, units.value)
    return _outline(shelf, text)[0]
