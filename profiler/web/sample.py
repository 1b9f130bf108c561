"""The sample that travels with the program, for the first tour: a rendered photo, its records."""

from __future__ import annotations

from importlib import resources

from profiler.web.answers import missing

PHOTO = "photo-1.jpg"
RECORDS = ("mat.json", "cards.json")


def sample_there() -> bool:
    """Whether this installation has it."""
    return (resources.files("profiler.web") / "sample" / PHOTO).is_file()


def sample_files() -> tuple[str, dict[str, bytes]]:
    """The photo's name, and all files by name.

    Raises:
        Refused: this installation has none.
    """
    if not sample_there():
        raise missing("The sample")
    folder = resources.files("profiler.web") / "sample"
    return PHOTO, {name: (folder / name).read_bytes() for name in (PHOTO, *RECORDS)}
