"""`profiler archive list`: by customer, maker, kind, date and words."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from profiler.cli.options import Force, Units, UnitsOption, shown
from profiler.cli.shelf.common import ArchiveOption, opened

if TYPE_CHECKING:
    from profiler.archive.entries import InstrumentEntry


class Form(StrEnum):
    """How a list is written."""

    TEXT = "text"
    CSV = "csv"
    JSON = "json"
    HTML = "html"


def list_(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[WORD]...",
            help="Found anywhere in names, notes and tags; capitals and accents do not matter.",
            show_default=False,
        ),
    ] = None,
    customer: Annotated[str, typer.Option(show_default=False)] = "",
    maker: Annotated[str, typer.Option(show_default=False)] = "",
    kind: Annotated[str, typer.Option(show_default=False)] = "",
    tag: Annotated[str, typer.Option(show_default=False)] = "",
    since: Annotated[
        str | None,
        typer.Option(metavar="Y-M-D", help="Measured then or later.", show_default=False),
    ] = None,
    until: Annotated[
        str | None,
        typer.Option(metavar="Y-M-D", help="Measured then or earlier.", show_default=False),
    ] = None,
    limit: Annotated[int, typer.Option(min=1, help="Show no more than so many.")] = 50,
    form: Annotated[Form, typer.Option("--format", help="How it is written.")] = Form.TEXT,
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", help="Write it to a file: all of it.", show_default=False),
    ] = None,
    units: UnitsOption = Units.MM,
    force: Force = False,
    archive: ArchiveOption = None,
) -> None:
    """What the archive holds, newest first; all of it, or what fits."""
    from profiler.archive.find import Wanted, find
    from profiler.archive.listing import as_csv, as_html, as_json

    wanted = Wanted(" ".join(words or []), customer, maker, kind, tag, since, until)
    with opened(archive) as shelf:
        found, count = find(shelf, wanted, None if output else limit)
    if form is Form.TEXT:
        text = "\n".join(_line(i, units) for i in found) + ("\n" if found else "")
    else:
        writer = {Form.CSV: as_csv, Form.JSON: as_json, Form.HTML: as_html}[form]
        text = writer(found)
    if output is not None:
        from profiler.jobs.writing import write_atomically

        write_atomically(output, text.encode(), force)
        typer.echo(f"{count} in {output}")
        return
    typer.echo(text, nl=False)
    if not count:
        typer.echo("Nothing there fits.", err=True)
    elif count > len(found):
        typer.echo(f"{len(found)} of {count}; --limit shows more.", err=True)


def _line(entry: InstrumentEntry, units: Units) -> str:
    from profiler.archive.words import shown_line

    latest = entry.latest
    length = "" if latest.length is None else shown(latest.length, units)
    more = [shown_line(t, 24) for t in (entry.maker, entry.kind) if t]
    tags = [f"#{shown_line(tag, 20)}" for tag in entry.tags]
    number = f"{entry.id}.{latest.number}"
    return (
        f"{number:>7}  {latest.measured}  {shown_line(entry.customer, 24):<24}"
        f"  {shown_line(entry.name, 24):<24}  {length:>12}  {', '.join(more)} {' '.join(tags)}"
    ).rstrip()
