"""The terminal's front door: `profiler VERB ...`.

A verb's room is only entered when its verb is called, so that help and version answer at once.
"""

from __future__ import annotations

import gc
import os
from dataclasses import dataclass
from importlib import import_module
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from profiler import __version__
from profiler.cli.errors import guard, stop_politely
from profiler.cli.helptext import plainly_typed, readable


@dataclass(frozen=True)
class Verb:
    """A command: the function `name` in `profiler.cli.<name>`."""

    name: str
    #: the line in `profiler --help`
    summary: str


VERBS = (
    Verb("mat", "The printed scale grid that the instrument lies on, as PDF."),
    Verb("cards", "The printed height cards that lie on the instrument."),
    Verb("calibrate", "Learn a phone's lens from tilted photos of the mat."),
    Verb("check", "Is this photo good enough? Told before things are put away."),
    Verb("measure", "Measure an instrument: outline, envelope, overlay."),
    Verb("batch", "Measure many jobs from a list, on all cores; resumable."),
    Verb("template", "A measured outline at full size, to print and cut."),
    Verb("printer", "A printer measured once, so that its templates come out true."),
    Verb("section", "The neck's profile at a station: contour gauge, tracing or shape."),
    Verb("headstock", "The headstock's tilt, thickness and lowest point."),
    Verb("cradle", "Pieces that hold it in its case: neck rest, blocks, fit check."),
    Verb("case", "A plywood case for it: drawings, cut list, order of work."),
    Verb("serve", "All of this as a page in the browser, for bench and phone."),
    Verb("archive", "Jobs per customer: kept, found by words or shape, printed again."),
)


class Front(TyperGroup):
    """The group of verbs, with the guard round whatever they do."""

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        name = args[0] if args else ""
        if any(verb.name == name for verb in VERBS):
            self.commands[name] = _load(name)
        return super().resolve_command(ctx, args)

    def get_params(self, ctx: Any) -> list[Any]:
        return plainly_typed(super().get_params(ctx))

    def invoke(self, ctx: Any) -> Any:
        with guard(debug=bool(ctx.params.get("debug"))):
            return super().invoke(ctx)


def _load(name: str) -> Any:
    """The real command behind a verb; a verb with orders of its own is a Typer."""
    made = getattr(import_module(f"profiler.cli.{name}"), name)
    if isinstance(made, typer.Typer):
        return readable(typer.main.get_command(made))
    room = typer.Typer(add_completion=False, rich_markup_mode="rich")
    room.command(name)(made)
    return readable(typer.main.get_command(room))


def _nothing() -> None:
    """Stands for a verb until it is called."""


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"profiler {__version__}")
        raise typer.Exit


app = typer.Typer(
    cls=Front,
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode="rich",
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="A first job: run [bold]profiler mat[/bold] and [bold]profiler cards[/bold], print both"
    " at 100 %, lay the instrument on the mat and the cards on the instrument, take a photo from"
    " above, then [bold]profiler measure photo.jpg -o job[/bold].",
)


@app.callback()
def front(
    version: Annotated[
        bool,
        typer.Option("--version", help="Show the version.", callback=_version, is_eager=True),
    ] = False,
    debug: Annotated[
        bool, typer.Option("--debug", help="Show the full trace of an error, for a report.")
    ] = False,
) -> None:
    """Photograph a stringed instrument on a printed scale grid; get its outline in millimetres."""


for _verb in VERBS:
    app.command(_verb.name, help=_verb.summary)(_nothing)


def run() -> None:
    """What the installed `profiler` command calls."""
    stop_politely()
    # Our matrices are small: a second thread of the linear algebra waits longer than it works, and
    # the number of processors must not decide the last digit of a result. Read by NumPy's OpenBLAS
    # when it is loaded, which no verb has done yet.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # loading a room makes many objects and no garbage: Python need not look through them all again
    # for every few hundred more, nor at the end, when the system takes everything back at once
    gc.set_threshold(50_000, 20, 50)
    try:
        app()
    finally:
        gc.freeze()
