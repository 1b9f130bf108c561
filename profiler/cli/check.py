"""`profiler check`: is this photo good enough to measure, and what would make it better."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from profiler.cli.progress import shown_progress

MARKS = {"good": "ok", "better": "could be better", "stop": "cannot be measured"}
EXIT_NOT_OK = 3


def check(
    photo: Annotated[Path, typer.Argument(metavar="PHOTO", help="Of the instrument on the mat.")],
    mat: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The mat's record, mat.json.")
    ] = None,
    cards: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The cards' record, cards.json.")
    ] = None,
    accept_crop: Annotated[
        bool, typer.Option("--accept-crop", help="Take a cropped or zoomed photo too.")
    ] = False,
) -> None:
    """Look at a photo while the instrument still lies there: light, mat, cards, sharpness, frame.

    Nothing is measured and nothing is written. The exit code is 3 if it cannot be measured.
    """
    from profiler.pipeline.check import check_photo
    from profiler.pipeline.job import JobWishes

    wishes = JobWishes(photos=(photo,), mat=mat, cards=cards, accept_crop=accept_crop)
    with shown_progress() as progress:
        found = check_photo(wishes, progress)
    for point in found.points:
        typer.echo(f"{MARKS[point.weight.value]:<20}{point.message}")
    if not found.ok:
        raise typer.Exit(EXIT_NOT_OK)
