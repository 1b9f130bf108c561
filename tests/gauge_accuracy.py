"""The gauge's accuracy table: sections from rendered gauge photos, held against the true necks.

    python -m tests.gauge_accuracy [--write] [FOLDER ...]
    python -m tests.gauge_accuracy [--write] --random FIRST LAST

The second renders necks, gauges, phones and lights by chance, 2400 px wide, where the user's cache
has them not yet (a minute or two each; extra `studio`), and ends with how many keep the bar.
A folder holds `gauge-N.jpg`, `mat.json` and `gauge-truth.json`, as `python -m
tests.studio.gauge_photos random SEED FOLDER` writes them; without folders, those of the samples.
The pipeline sees a copy without the truth. What a user would type is typed: the neck's thickness
from calipers, the needles' height, their tips' form, from where the gauge is seen.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from platformdirs import user_cache_path
from scipy.optimize import least_squares

from profiler.errors import ProfilerError
from profiler.instrument.record import missing
from profiler.instrument.sections import Section
from profiler.pipeline.section import Place
from profiler.pipeline.traced import TracedWishes, section_from_photo
from tests.docs.readme import write_between

Array = NDArray[np.float64]

SAMPLES = Path(__file__).parent.parent / "samples"
TRUTH = "gauge-truth.json"
#: RMS between the tips that a gauge photo is to keep, mm
BAR_MM = 0.2
#: nearer to the face's edges than this no needle's tip stands, mm
BESIDE_MM = 1.0
#: what calipers read to, mm
CALIPER_MM = 0.1


@dataclass(frozen=True)
class Row:
    """One photo: mm; `placed` and `shape` are RMS between the tips, as it lies and laid over."""

    photo: str
    about: str
    placed: float
    shape: float
    worst: float
    width: float
    covered: float


def folders() -> list[Path]:
    """Samples with gauge photos."""
    return sorted(p.parent for p in SAMPLES.glob(f"*/{TRUTH}"))


def measured(photo: Path, truth: dict[str, Any]) -> Section:
    """The section in a photo, taken where its truth is out of sight.

    Raises:
        ProfilerError: the photo was refused.
    """
    bar = truth["gauge"]["bar"][0]
    with tempfile.TemporaryDirectory() as folder:
        for name in (photo.name, "mat.json", "cards.json"):
            if (photo.parent / name).is_file():
                shutil.copy(photo.parent / name, folder)
        wishes = TracedWishes(
            Path(folder) / photo.name,
            True,
            depth=(round(truth["depth"] / CALIPER_MM) * CALIPER_MM, None),
            from_head=truth["pressed"]["from_head"],
            needle_height=None if truth.get("cards") else (round(bar) / 2, None),
            tips=truth["gauge"]["tips"],
        )
        nowhere = missing("not looked at here")
        return section_from_photo(Place(400.0, "neck", nowhere, 0.0, nowhere), wishes)


def compared(photo: Path, truth: dict[str, Any], section: Section) -> Row:
    """How far the section's points lie from the true neck."""
    line = shapely.LineString(np.array(truth["section"]))
    between = np.abs(section.points[:, 0]) < truth["width"] / 2 - BESIDE_MM
    points = section.points[between]

    def off(step: Array) -> Array:
        c, s = np.cos(step[2]), np.sin(step[2])
        moved = points @ np.array([[c, s], [-s, c]]) + step[:2]
        return np.asarray(shapely.distance(line, shapely.points(moved)))

    placed = off(np.zeros(3))
    laid = off(least_squares(off, np.zeros(3), x_scale=(1.0, 1.0, 0.02)).x)
    gauge = truth["gauge"]
    return Row(
        f"{photo.parent.name}/{photo.name}",
        f"{gauge['metal'].replace('_', ' ')}, {gauge['tips']}, {gauge['pitch']:.2f} mm",
        float(np.sqrt((placed**2).mean())),
        float(np.sqrt((laid**2).mean())),
        float(placed.max()),
        (section.width.value or 0.0) - truth["width"],
        float((placed <= section.u95[between]).mean()),
    )


def table(chosen: list[Path]) -> list[str]:
    """The table's lines, printed as they come."""
    head = "| photo | needles | RMS | RMS, laid over | worst | width | inside u95 |"
    lines: list[str] = []

    def tell(line: str) -> None:
        lines.append(line)
        print(line, flush=True)

    tell(head)
    tell("|---" * 7 + "|")
    for folder in chosen:
        truths = json.loads((folder / TRUTH).read_text())
        for name, truth in sorted(truths.items()):
            try:
                row = compared(folder / name, truth, measured(folder / name, truth))
            except ProfilerError as error:
                tell(f"| {folder.name}/{name} | refused: {error} |")
                continue
            tell(
                f"| {row.photo} | {row.about} | {row.placed:.2f} | {row.shape:.2f} |"
                f" {row.worst:.2f} | {row.width:+.2f} | {row.covered:.0%} |"
            )
    return lines


def rendered(first: int, last: int) -> list[Path]:
    """Folders of random gauge photos, each rendered once; what cannot be built is left out."""
    home = user_cache_path("profiler-bench") / "gauges-2400"
    for seed in range(first, last + 1):
        if not (home / str(seed) / TRUTH).is_file():
            words = ["small", str(seed), str(seed), str(home)]
            subprocess.run([sys.executable, "-m", "tests.studio.gauge_photos", *words], check=False)
    return [p for s in range(first, last + 1) if ((p := home / str(s)) / TRUTH).is_file()]


def kept(lines: list[str]) -> str:
    """How many rows keep the bar."""
    rows = [line for line in lines[2:] if "refused" not in line]
    errors = [float(line.split("|")[3]) for line in rows]
    return (
        f"{sum(e <= BAR_MM for e in errors)} of {len(lines) - 2} within {BAR_MM} mm RMS;"
        f" {len(lines) - 2 - len(rows)} refused."
    )


def main(arguments: list[str]) -> None:
    """Print the table, and put it into the README if asked."""
    given = [a for a in arguments if not a.startswith("-")]
    if "--random" in arguments:
        lines = table(rendered(int(given[0]), int(given[1])))
        lines += ["", kept(lines)]
        print(lines[-1])
        mark = "gauge-random"
    else:
        lines, mark = table([Path(a) for a in given] or folders()), "gauge-accuracy"
    if "--write" in arguments:
        write_between(mark, "\n".join(lines))


if __name__ == "__main__":
    main(sys.argv[1:])
