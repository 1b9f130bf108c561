"""The accuracy of sections from rendered photos, of gauges and tracings, held against true necks.

    python -m tests.gauge_accuracy [--tracing] [--write] [FOLDER ...]
    python -m tests.gauge_accuracy [--tracing] [--write] --random FIRST LAST

The second renders necks, gauges (or drawings), phones and lights by chance, 2400 px wide, where the
user's cache has them not yet (a minute or less each; extra `studio`), and ends with how many keep
the bar. A folder holds `gauge-N.jpg`, `mat.json` and `gauge-truth.json`, as `python -m
tests.studio.gauge_photos random SEED FOLDER` writes them, or the same of `tracing`; without
folders, those of the samples. The pipeline sees a copy without the truth. What a user would type is
typed: the neck's thickness from calipers, the needles' height, their tips' form, from where the
gauge or drawing is seen.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass, replace
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
#: of gauges, of tracings
TRUTHS = {"gauge": "gauge-truth.json", "tracing": "tracing-truth.json"}
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


def folders(kind: str = "gauge") -> list[Path]:
    """Samples with photos of gauges, or of tracings."""
    return sorted(p.parent for p in SAMPLES.glob(f"*/{TRUTHS[kind]}"))


def measured(photo: Path, truth: dict[str, Any]) -> Section:
    """The section in a photo, taken where its truth is out of sight.

    Raises:
        ProfilerError: the photo was refused.
    """
    with tempfile.TemporaryDirectory() as folder:
        for name in (photo.name, "mat.json", "cards.json"):
            if (photo.parent / name).is_file():
                shutil.copy(photo.parent / name, folder)
        wishes = TracedWishes(
            Path(folder) / photo.name,
            "gauge" in truth,
            depth=(round(truth["depth"] / CALIPER_MM) * CALIPER_MM, None),
        )
        if "gauge" in truth:
            bar = truth["gauge"]["bar"][0]
            wishes = replace(
                wishes,
                from_head=truth["pressed"]["from_head"],
                needle_height=None if truth.get("cards") else (round(bar) / 2, None),
                tips=truth["gauge"]["tips"],
            )
        else:
            wishes = replace(wishes, from_head=truth["tracing"]["from_head"])
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
    return Row(
        f"{photo.parent.name}/{photo.name}",
        _about(truth),
        float(np.sqrt((placed**2).mean())),
        float(np.sqrt((laid**2).mean())),
        float(placed.max()),
        (section.width.value or 0.0) - truth["width"],
        float((placed <= section.u95[between]).mean()),
    )


def _about(truth: dict[str, Any]) -> str:
    """What lies there, in a few words."""
    if "gauge" in truth:
        gauge = truth["gauge"]
        return f"{gauge['metal'].replace('_', ' ')}, {gauge['tips']}, {gauge['pitch']:.2f} mm"
    drawing = truth["tracing"]
    paper = drawing["paper"].replace("_", " ")
    if drawing["way"].endswith("card"):
        return f"{drawing['way']}, {paper}"
    return f"{drawing['way']}, {drawing['pen']}, {drawing['line']:.1f} mm, on {paper}"


def table(chosen: list[Path], kind: str) -> list[str]:
    """The table's lines, printed as they come."""
    what = "needles" if kind == "gauge" else "drawn"
    head = f"| photo | {what} | RMS | RMS, laid over | worst | width | inside u95 |"
    lines: list[str] = []

    def tell(line: str) -> None:
        lines.append(line)
        print(line, flush=True)

    tell(head)
    tell("|---" * 7 + "|")
    for folder in chosen:
        truths = json.loads((folder / TRUTHS[kind]).read_text())
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


def rendered(kind: str, first: int, last: int) -> list[Path]:
    """Folders of random photos, each rendered once; what cannot be built is left out."""
    home = user_cache_path("profiler-bench") / f"{kind}s-2400"
    truth = TRUTHS[kind]
    for seed in range(first, last + 1):
        if not (home / str(seed) / truth).is_file():
            words = ["small", str(seed), str(seed), str(home)]
            module = f"tests.studio.{kind}_photos"
            subprocess.run([sys.executable, "-m", module, *words], check=False)
    return [p for s in range(first, last + 1) if ((p := home / str(s)) / truth).is_file()]


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
    kind = "tracing" if "--tracing" in arguments else "gauge"
    if "--random" in arguments:
        lines = table(rendered(kind, int(given[0]), int(given[1])), kind)
        lines += ["", kept(lines)]
        print(lines[-1])
        mark = f"{kind}-random"
    else:
        lines = table([Path(a) for a in given] or folders(kind), kind)
        mark = f"{kind}-accuracy"
    if "--write" in arguments:
        write_between(mark, "\n".join(lines))


if __name__ == "__main__":
    main(sys.argv[1:])
