"""`profiler archive ORDER`: jobs kept for decades, found again, printed again."""

from __future__ import annotations

import typer

from profiler.cli.shelf import carrying, finding, keeping, paper, safety, shapes

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
archive.command("near")(shapes.near)
archive.command("fits")(shapes.fits)
archive.command("serves")(shapes.serves)
archive.command("compare")(paper.compare)
archive.command("print")(paper.print_)
archive.command("export")(carrying.export)
archive.command("import")(carrying.import_)
archive.command("verify")(safety.verify)
archive.command("backup")(safety.backup)
archive.command("restore")(safety.restore)
archive.command("forget")(safety.forget)
