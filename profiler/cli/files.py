"""Several files put into one folder: all checked first, so that a refusal leaves nothing behind."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from profiler.jobs.writing import OutputImpossible, OutputTaken, write_atomically


def put_files(folder: Path, files: Mapping[str, bytes], force: bool) -> list[Path]:
    """Write files by name; the folder is made if only its last part is missing.

    Returns:
        where they are, in the order given.

    Raises:
        OutputTaken: one of them is there already and `force` is off; nothing was written.
        OutputImpossible: no such place, no permission, no space.
    """
    paths = [folder / name for name in files]
    if not force:
        for path in paths:
            if path.exists():
                raise OutputTaken(path)
    if not folder.exists():
        try:
            folder.mkdir()
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            raise OutputImpossible(folder, why) from error
    for path, data in zip(paths, files.values(), strict=True):
        write_atomically(path, data, overwrite=force)
    return paths


def put_named(output: Path, files: Mapping[str, bytes], force: bool) -> list[Path]:
    """Like `put_files`, where `output` may also name the PDF: the others then take its name.

    `-o bench/grid.pdf` gives bench/grid.pdf and bench/grid.json.
    """
    if output.suffix.lower() != ".pdf" or output.is_dir():
        return put_files(output, files, force)
    renamed = {output.with_suffix(Path(name).suffix).name: data for name, data in files.items()}
    return put_files(output.parent, renamed, force)
