"""`profiler archive ORDER`: jobs kept for decades, found again, printed again."""

from __future__ import annotations

import typer

from profiler.cli.shelf import finding, keeping

archive = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode="rich",
    context_settings={"help_option_names": ["-h", "--help"]},
    help="Keep jobs for decades: every outline, per customer, found again, printed again.",
)
archive.command("add")(keeping.add)
archive.command("list")(finding.list_)
archive.command("show")(keeping.show)
archive.command("edit")(keeping.edit)
