"""`python -m tests.side_accuracy [FOLDER ...]`: side views against their truth.

A folder holds `top-N.jpg`, `side-1.jpg`, the records and `side-truth.json`; without one, every
sample with a side view. `python -m tests.studio.upright SEED FOLDER` renders a scene by chance. No
truth is opened before the measurement is done.
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
from profiler.instrument.record import SideProfile
from profiler.pipeline.job import JobResult, JobWishes, run_job

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


def main() -> None:
    for folder in [Path(a) for a in sys.argv[1:]] or folders():
        try:
            job = measured(folder)
        except ProfilerError as error:
            print(f"{folder.name}: {type(error).__name__}: {error}")
            continue
        row = compared(job, json.loads((folder / TRUTH).read_text()))
        assert job.measurement.side is not None
        _told(folder.name, job.measurement.side, row)


if __name__ == "__main__":
    main()
