"""`python -m tests.side_accuracy [--write] [FOLDER ...]`: side views against their truth.

A folder holds `top-N.jpg`, `side-N.jpg`, the records, `truth.json` and `side-truth.json`; without
one, every sample with a side view. `python -m tests.studio.upright SEED FOLDER --tail` renders a
scene by chance. No truth is opened before the measurement is done. `--write` puts the table into
the README.
"""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from profiler.errors import ProfilerError
from profiler.instrument.record import Quantity, SideProfile
from profiler.pipeline.job import JobResult, JobWishes, run_job
from tests.docs.readme import write_between

Array = NDArray[np.float64]

TRUTH = "side-truth.json"
SAMPLES = Path(__file__).parent.parent / "samples"
#: along the instrument what is seen and what is may be this far apart, mm: two stations
SLIP_MM = 2.0


def folders() -> list[Path]:
    return sorted(path.parent for path in SAMPLES.glob(f"*/{TRUTH}"))


@dataclass(frozen=True)
class Compared:
    """Errors of one side view, mm; `inside` is the share within u95.

    Attributes:
        thickest, thickest_u95: error of the thickest place's height.
        kinds: (side, what it is): number of stations, median error, rms, share inside.
    """

    thickest: float
    thickest_u95: float
    kinds: dict[tuple[str, str], tuple[int, float, float, float]]


def measured(folder: Path, photos: int = 12) -> JobResult:
    tops = tuple(sorted(folder.glob("top-*.jpg"))[:photos])
    return run_job(JobWishes(photos=tops, sides=tuple(sorted(folder.glob("side-*.jpg")))))


#: of the table
HEAD = (
    "| photos | length without | length | thickest | headstock's tilt, ° | strap button |\n"
    "|---|---|---|---|---|---|"
)


def table_row(folder: Path, sides: int) -> str:
    """A line of the table: error ± u95 of what one photo from above and the first side views tell,
    and of the length without these."""
    top = (folder / "top-1.jpg",)
    aside = tuple(sorted(folder.glob("side-*.jpg"))[:sides])
    alone = run_job(JobWishes(photos=top)).measurement.length
    measured = run_job(JobWishes(photos=top, sides=aside)).measurement
    side = measured.side
    assert side is not None
    length = json.loads((folder / "truth.json").read_text())["length"]
    truth = json.loads((folder / TRUTH).read_text())
    button = (truth.get("strap_button") or {}).get("z")
    cells = [
        f"`{folder.name}`: top-1, {', '.join(p.stem for p in aside)}",
        _error(alone, length),
        _error(measured.length, length),
        _error(side.thickest, truth["thickest"]["z"]),
        _error(side.tilt, truth.get("headstock_tilt_deg")),
        _error(side.button, button) if button is not None else "has none",
    ]
    return f"| {' | '.join(cells)} |"


def _error(number: Quantity, true: float | None) -> str:
    if number.value is None or number.u95 is None:
        return "not told"
    return "told" if true is None else f"{number.value - true:+.2f} ± {number.u95:.1f}"


def compared(job: JobResult, truth: dict[str, Any]) -> Compared:
    side = job.measurement.side
    assert side is not None and side.thickest.value is not None and side.thickest.u95 is not None
    x = side.x + _tail_apart(job, truth)
    kinds = {}
    for name in ("upper", "lower"):
        true = np.array([np.nan if v is None else v for v in truth[name]], dtype=np.float64)
        errors = _errors(x, getattr(side, name), np.array(truth["x"]), true)
        of = np.array(getattr(side, f"{name}_of"))
        for kind in np.unique(of[np.isfinite(errors)]):
            mine = (of == kind) & np.isfinite(errors)
            inside = np.abs(errors[mine]) <= getattr(side, f"{name}_u95")[mine]
            rms = float(np.sqrt((errors[mine] ** 2).mean()))
            kinds[name, str(kind)] = (
                int(mine.sum()), float(np.median(errors[mine])), rms, float(inside.mean()),
            )  # fmt: skip
    return Compared(side.thickest.value - truth["thickest"]["z"], side.thickest.u95, kinds)


def _tail_apart(job: JobResult, truth: dict[str, Any]) -> float:
    """mm along x from the measured frame to the true one, told by the camera's place in both."""
    on_mat = truth["instrument_on_mat"]
    a = np.radians(on_mat["turn_deg"])
    away = np.array(truth["camera_centre"])[:2] - [on_mat["x"], on_mat["y"]]
    centre = job.result.sides[0].placed.scene.cameras[0].centre
    ours = job.measurement.frame.from_mat(centre[None, :2])[0, 0]
    return float(np.cos(a) * away[0] + np.sin(a) * away[1] - ours)


def _errors(x: Array, z: Array, true_x: Array, true_z: Array) -> Array:
    out = np.full(len(x), np.nan)
    for i in np.flatnonzero(np.isfinite(z)):
        near = true_z[np.abs(true_x - x[i]) <= SLIP_MM]
        near = near[np.isfinite(near)]
        if len(near):
            left = z[i] - near
            out[i] = left[np.argmin(np.abs(left))]
    return out


def _told(name: str, side: SideProfile, row: Compared) -> None:
    print(f"{name}: thickest {row.thickest:+.2f} (u95 {row.thickest_u95:.2f}), tilt {side.tilt}")
    for (which, kind), (count, median, rms, inside) in row.kinds.items():
        words = f"median {median:+.2f}, rms {rms:.2f}, inside u95 {100 * inside:.0f} %"
        print(f"  {which} {kind:8} {count:4} stations: {words}")


def main(arguments: list[str]) -> None:
    """Print what every kind of place is out by, then the table; put it into the README if asked."""
    chosen = [Path(a) for a in arguments if a != "--write"] or folders()
    for folder in chosen:
        try:
            job = measured(folder)
        except ProfilerError as error:
            print(f"{folder.name}: {type(error).__name__}: {error}")
            continue
        row = compared(job, json.loads((folder / TRUTH).read_text()))
        assert job.measurement.side is not None
        _told(folder.name, job.measurement.side, row)

    counts = [(f, n + 1) for f in chosen for n in range(len(list(f.glob("side-*.jpg"))))]
    table = "\n".join([HEAD, *(table_row(f, n) for f, n in counts)])
    print(table)
    if "--write" in arguments:
        write_between("side-accuracy", table)


if __name__ == "__main__":
    main(sys.argv[1:])
