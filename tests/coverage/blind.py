"""The installed command on a scene's photos, in a folder into which the truth never came."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

PROGRAM = Path(sys.executable).parent / "profiler"
#: what a user has beside the photos
RECORDS = ("mat.json", "cards.json", "lens.json")


@dataclass(frozen=True)
class Outcome:
    """What the command gave.

    Attributes:
        code: its exit code.
        record: the content of `measurement.json`; None where it wrote none.
        refusal: the sentence it refused with; '' where it did not.
    """

    code: int
    record: dict[str, Any] | None
    refusal: str


def measured(photos: Sequence[Path]) -> Outcome:
    """Run `profiler measure` on copies of the photos and of the records beside them."""
    with tempfile.TemporaryDirectory() as place:
        given, job = Path(place) / "given", Path(place) / "job"
        given.mkdir()
        beside = [photos[0].parent / name for name in RECORDS]
        for path in [*photos, *(p for p in beside if p.exists())]:
            shutil.copy(path, given / path.name)
        done = subprocess.run(
            [str(PROGRAM), "measure", *(str(given / p.name) for p in photos), "-o", str(job)],
            capture_output=True,
            text=True,
            check=False,
            # no record of a lens that somebody keeps on this machine
            env={**os.environ, "HOME": place, "XDG_DATA_HOME": place, "PYTHONUTF8": "1"},
        )
        file = job / "measurement.json"
        record = json.loads(file.read_text("utf-8")) if file.exists() else None
        return Outcome(done.returncode, record, "" if record else _sentence(done.stderr))


def _sentence(words: str) -> str:
    return " ".join(words.split()).removeprefix("Error: ")
