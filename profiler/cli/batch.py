"""`profiler batch`: many jobs from a list, on all cores or on several machines."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from profiler.cli.options import Force, InchStep, Units, UnitsOption
from profiler.errors import InputError, RequestError


class JobsFailed(InputError):
    """Some jobs of a batch could not be measured."""


def batch(
    source: Annotated[
        Path,
        typer.Argument(metavar="LIST|FOLDER", help="A CSV list, or a folder with jobs.csv in it."),
    ],
    output: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--output",
            metavar="FOLDER",
            help="Gets a folder for each job.",
            show_default=False,
        ),
    ] = None,
    plan: Annotated[
        bool,
        typer.Option(
            "--plan", help="Write jobs.csv for the photos in FOLDER, to be filled in; no more."
        ),
    ] = False,
    workers: Annotated[
        int | None,
        typer.Option(
            min=1, max=256, help="Jobs at a time. Default: one to a core.", show_default=False
        ),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS", help="Of a Dask scheduler, as tcp://host:8786.", show_default=False
        ),
    ] = None,
    units: UnitsOption = Units.MM,
    inch_step: InchStep = 64,
    force: Force = False,
) -> None:
    """Measure all jobs of a list. Stopped or killed, say the same again: what is done is kept.

    Columns of the list: job, photos (several with ; between), and as needed name, customer,
    heights (body=72; top=80), mat, cards, lens, bar_x, bar_y, accept_crop. Paths start at the list.
    """
    from profiler.jobs.manifest import MANIFEST_NAME, read_manifest
    from profiler.jobs.writing import OutputImpossible, write_atomically

    if plan:
        from profiler.jobs.manifest import plan as planned

        text = planned(source)
        write_atomically(source / MANIFEST_NAME, text.encode(), force)
        rows = text.count("\n") - 1
        photos = f"{rows} photo{'s' if rows > 1 else ''}"
        typer.echo(f"{source / MANIFEST_NAME}: {photos}. Fill in the rest, then:")
        typer.echo(f"profiler batch {source} -o RESULTS")
        return
    if output is None:
        raise RequestError("Say where the results go: -o FOLDER.")
    orders = read_manifest(source, output, units.value, inch_step)
    try:
        output.mkdir(exist_ok=True)
    except OSError as error:
        raise OutputImpossible(output, (error.strerror or str(error)).lower()) from None

    from profiler.pipeline.batch import State, run_here

    if cluster is not None:
        from profiler.pipeline.cluster import run_there

        outcomes = run_there(orders, cluster, force)
    else:
        outcomes = run_here(orders, workers, force)
    counts = dict.fromkeys(State, 0)
    for number, outcome in enumerate(outcomes, 1):
        counts[outcome.state] += 1
        time = f", {outcome.seconds:.1f} s" if outcome.seconds else ""
        words = f": {outcome.sentence}" if outcome.sentence else ""
        line = f"{number}/{len(orders)}  {outcome.job}  {outcome.state.value}{time}{words}"
        typer.echo(line, err=outcome.state is State.FAILED)
    typer.echo(
        f"\n{counts[State.DONE]} measured, {counts[State.THERE]} there already,"
        f" {counts[State.FAILED]} failed."
    )
    if counts[State.FAILED]:
        raise JobsFailed(
            f"{counts[State.FAILED]} of {len(orders)} jobs failed, see above. Put them right and"
            " say the same again; the others are kept."
        )
