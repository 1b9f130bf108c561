"""The installed command, run as a process on a real sample."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

SAMPLE = Path(__file__).parents[2] / "samples" / "wren"
PROGRAM = Path(sys.executable).parent / "profiler"


def profiler(*arguments: object) -> subprocess.CompletedProcess[str]:
    """Run the command as a user does."""
    return subprocess.run(
        [str(PROGRAM), *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


def digests(folder: Path) -> dict[str, str]:
    """Every file below a folder with its SHA-256."""
    return {
        str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


@dataclass(frozen=True)
class Job:
    """A measured sample: `given` is the folder with photo and records, `folder` the job."""

    given: Path
    folder: Path
    before: dict[str, str]
    words: str


@pytest.fixture(scope="session")
def wren(tmp_path_factory: pytest.TempPathFactory) -> Job:
    """The sample photo and its records, without its truth, measured once."""
    place = tmp_path_factory.mktemp("whole")
    given = place / "given"
    given.mkdir()
    for name in ("top-1.jpg", "mat.json", "cards.json"):
        shutil.copy(SAMPLE / name, given / name)
    before = digests(given)
    done = profiler("measure", given / "top-1.jpg", "-o", place / "job")
    assert done.returncode == 0, done.stderr
    return Job(given, place / "job", before, done.stdout)
