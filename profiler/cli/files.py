"""Where the files of a printed sheet go."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from profiler.jobs.writing import write_together


def put_files(folder: Path, files: Mapping[str, bytes], force: bool) -> list[Path]:
    """See `write_together`; `force` replaces what is there."""
    return write_together(folder, files, overwrite=force)


def put_named(output: Path, files: Mapping[str, bytes], force: bool) -> list[Path]:
    """Like `put_files`, where `output` may also name the PDF: the others then take its name.

    `-o bench/grid.pdf` gives bench/grid.pdf and bench/grid.json.
    """
    if output.suffix.lower() != ".pdf" or output.is_dir():
        return put_files(output, files, force)
    renamed = {output.with_suffix(Path(name).suffix).name: data for name, data in files.items()}
    return put_files(output.parent, renamed, force)
