"""The accuracy table: every sample photo measured, then held against its truth.

    python -m tests.accuracy [--write] [--together] [PHOTO ...]

`--together` leaves out what single photos give.

The pipeline is given the photo's path and nothing else, in a copy of the folder from which the
truth has been taken away; the truth is opened only when the measurement is done. The gauge photos'
table (`tests.gauge_accuracy`) follows.
"""

from __future__ import annotations

import json
import shutil
import sys
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from profiler.errors import ProfilerError
from profiler.pipeline.job import JobWishes, run_job
from tests import gauge_accuracy
from tests.alignment import outline_error
from tests.docs.readme import write_between
from tests.ruled import ruled

SAMPLES = Path(__file__).parent.parent / "samples"
ROWS = {
    "cards": frozenset[str](),
    "heights ignored": frozenset({"heights"}),
    "lens ignored": frozenset({"lens"}),
}
#: the row in which what no card lies on is typed as a rule reads it, on samples of our own
RULED = "cards and a rule"
#: the row in which all photos of a folder are measured as one job
ALL = "all photos"
#: our stations and the truth's word for each
STATIONS = {
    "lower_bout": "lower bout",
    "waist": "waist",
    "upper_bout": "upper bout",
    "nut": "nut",
    "tuners": "headstock",
}


@dataclass(frozen=True)
class Row:
    """One photo's errors, mm. `covered`: (inside their u95, all) of outline points and numbers."""

    photo: str
    mean: float
    p95: float
    worst: float
    length: float
    width: float
    stations: dict[str, float]
    outline_covered: float
    numbers: tuple[int, int]


def photos() -> list[Path]:
    """Every top view among the samples."""
    return sorted(SAMPLES.glob("*/top-*.jpg"))


def measured_row(
    photo: Path,
    ignore: frozenset[str] = frozenset(),
    others: Sequence[Path] = (),
    typed: Mapping[str, float] | None = None,
) -> Row:
    """Measure one photo, or several together, away from the truth, then compare.

    Args:
        photo: the first.
        ignore: corrections that are left out.
        others: measured together with it, from the same folder.
        typed: heights that a person gives, part to mm.

    Raises:
        ProfilerError: the photo was refused.
    """
    names = [photo.name, *(p.name for p in others)]
    with tempfile.TemporaryDirectory() as folder:
        for path in photo.parent.iterdir():
            if path.name in names or path.name in ("mat.json", "cards.json", "lens.json"):
                shutil.copy(path, folder)
        heights = {part: (z, None) for part, z in (typed or {}).items()}
        paths = tuple(Path(folder) / name for name in names)
        wishes = JobWishes(paths, heights=heights, ignore=ignore)
        measurement = run_job(wishes).measurement
    truth = json.loads((photo.parent / "truth.json").read_text())
    error = outline_error(measurement.outline, np.array(truth["outline"]))
    pairs = [
        (measurement.length, truth["length"]),
        (measurement.width, truth["width"]),
    ]
    stations = {}
    for name, word in STATIONS.items():
        stated = truth["widths"].get(word)
        mine = measurement.widths.get(name)
        if stated is None or not mine:
            continue
        # from the outermost button to the outermost one, wherever along the head each is
        true = _over_the_tuners(truth) if name == "tuners" else stated["width"]
        pairs.append((mine, true))
        stations[name] = mine.value - true
    inside = sum(abs(q.value - true) <= q.u95 for q, true in pairs)
    return Row(
        f"{photo.parent.name}/{photo.name if not others else f'1 to {len(names)}'}",
        error.mean,
        error.p95,
        error.worst,
        measurement.length.value - truth["length"],
        measurement.width.value - truth["width"],
        stations,
        float((error.per_point <= measurement.outline_u95).mean()),
        (inside, len(pairs)),
    )


def _over_the_tuners(truth: dict[str, Any]) -> float:
    outline = np.array(truth["outline"])
    return float(np.ptp(outline[outline[:, 0] > truth["widths"]["nut"]["x"] + 5, 1]))


def main(arguments: list[str]) -> int:
    """Print the table, and put it into the README if asked; exit 1 if a photo was refused."""
    chosen = [Path(a) for a in arguments if not a.startswith("-")] or photos()
    head = ["photo", "row", "mean", "p95", "worst", "length", "width", *STATIONS]
    head += ["outline in u95", "numbers in u95"]
    lines: list[str] = []

    def tell(line: str) -> None:
        lines.append(line)
        print(line, flush=True)

    rows = {ALL} if "--together" in arguments else {ALL, RULED, *ROWS}
    tell("| " + " | ".join(name.replace("_", " ") for name in head) + " |")
    tell("|---" * len(head) + "|")
    refused = 0
    jobs: list[tuple[Path, str, frozenset[str], tuple[Path, ...]]] = []
    for photo in chosen:
        jobs += [(photo, name, ignore, ()) for name, ignore in ROWS.items()]
        jobs.insert(len(jobs) - len(ROWS) + 1, (photo, RULED, frozenset(), ()))
    for folder in dict.fromkeys(photo.parent for photo in chosen):
        first, *others = [photo for photo in chosen if photo.parent == folder]
        if others:
            jobs.append((first, ALL, frozenset(), tuple(others)))
    for photo, name, ignore, others in sorted(jobs, key=lambda job: job[0].parent):
        if name in rows:
            try:
                typed = ruled(photo.parent.name) if name == RULED else None
                row = measured_row(photo, ignore, others, typed)
            except ProfilerError as error:
                refused += 1
                tell(f"| {photo.parent.name}/{photo.name} | {name} | refused: {error} |")
                continue
            widths = " | ".join(
                f"{row.stations[s]:+.2f}" if s in row.stations else "–" for s in STATIONS
            )
            tell(
                f"| {row.photo} | {name} | {row.mean:.2f} | {row.p95:.2f} | {row.worst:.2f}"
                f" | {row.length:+.2f} | {row.width:+.2f} | {widths}"
                f" | {row.outline_covered:.0%} | {row.numbers[0]}/{row.numbers[1]} |"
            )
    if "--write" in arguments:
        write_between("accuracy", "\n".join(lines))
    if len(chosen) == len(photos()):
        print()
        gauge_accuracy.main([a for a in arguments if a.startswith("-")])
    return 1 if refused else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
