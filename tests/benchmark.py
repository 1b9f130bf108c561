"""Time and memory of `profiler measure` on a 12 Mpx photo, against a floor measured beside it.

    python -m tests.benchmark [--write]

The floor is a process that decodes the photo, finds the markers in it with OpenCV's own detector
and straightens the whole frame with OpenCV: what any program for this job has to do at least. Both
are whole processes, run in turn (A B A B …) so that a busy machine slows both; the ratio is taken
pair by pair. Python keeps what it compiled, for both, as it does for whoever installed the program:
where the surroundings forbid that, every run would compile the program's own files again.
`--write` puts the table into the README.
"""

from __future__ import annotations

import json
import os
import platform
import statistics
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.docs.readme import ROOT, write_between

PHOTO = ROOT / "samples" / "wren" / "top-1.jpg"
RUNS = 5

FLOOR = """
import json, sys
import cv2, numpy as np
photo, record = sys.argv[1:]
lens = json.load(open(record))["terms"]
colour = cv2.imread(photo, cv2.IMREAD_COLOR)
gray = cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY)
detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(DICTIONARY))
corners, codes, _ = detector.detectMarkers(gray)
assert len(corners) > 20, "the floor has to do its work"
K = np.array([[lens["f"], 0, lens["cx"]], [0, lens["f"], lens["cy"]], [0, 0, 1.0]])
bent = np.array([lens[k] for k in ("k1", "k2", "p1", "p2", "k3")])
size = gray.shape[::-1]
x, y = cv2.initUndistortRectifyMap(K, bent, None, K, size, cv2.CV_16SC2)
flat = cv2.remap(colour, x, y, cv2.INTER_LINEAR)
assert flat.shape == colour.shape
"""

# A child's own child is the process that is measured, so that its peak is nobody else's.
_HARNESS = """
import json, resource, subprocess, sys, time
start = time.perf_counter()
done = subprocess.run(sys.argv[1:], capture_output=True, text=True)
wall = time.perf_counter() - start
used = resource.getrusage(resource.RUSAGE_CHILDREN)
cpu = used.ru_utime + used.ru_stime
print(json.dumps([done.returncode, wall, cpu, used.ru_maxrss, done.stderr]))
"""


@dataclass(frozen=True)
class Run:
    """One whole process: wall clock and CPU seconds, and the peak of its memory in MB."""

    wall: float
    cpu: float
    peak: float


def surroundings(compiled: Path) -> dict[str, str]:
    """The environment of every run: as here, but compiled files are kept, in a folder of ours."""
    kept = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    return {**kept, "PYTHONPYCACHEPREFIX": str(compiled)}


def timed(command: Sequence[str], environment: Mapping[str, str]) -> Run:
    """Run a command to its end.

    Raises:
        RuntimeError: it failed.
    """
    harness = [sys.executable, "-c", _HARNESS, *command]
    code, wall, cpu, peak, words = json.loads(
        subprocess.run(harness, capture_output=True, text=True, check=True, env=environment).stdout
    )
    if code:
        raise RuntimeError(f"{command[0]} ended with {code}: {words}")
    # Linux counts in KiB, macOS in bytes
    unit = 1 << 20 if sys.platform == "darwin" else 1 << 10
    return Run(wall, cpu, peak * unit / 1e6)


def commands(folder: Path) -> dict[str, list[str]]:
    """What is compared, by name; `measure` and `floor` are the pair."""
    from profiler.target.tags import DICTIONARY_ID

    program = Path(sys.executable).parent / "profiler"
    record = ROOT / "calib" / "birchfield-pocket-5.json"
    floor = FLOOR.replace("DICTIONARY", str(DICTIONARY_ID))
    imports = "import profiler.pipeline.job, profiler.pipeline.report, profiler.pipeline.shape"
    return {
        "python starts": [sys.executable, "-c", "pass"],
        "imports of the floor": [sys.executable, "-c", "import cv2, numpy"],
        "imports of measure": [sys.executable, "-c", imports],
        "floor": [sys.executable, "-c", floor, str(PHOTO), str(record)],
        "measure": [str(program), "measure", str(PHOTO), "-o", str(folder / "job"), "--force"],
    }


def compare(runs: int = RUNS) -> str:
    """Run everything in turn and return the table, in Markdown."""
    with TemporaryDirectory() as temp:
        todo, environment = commands(Path(temp)), surroundings(Path(temp) / "compiled")
        seen: dict[str, list[Run]] = {name: [] for name in todo}
        for turn in range(runs + 1):
            for name, command in todo.items():
                run = timed(command, environment)
                if turn:  # the first compiles, and warms the disk's cache
                    seen[name].append(run)
                print(f"{turn or 'warm-up'} {name}: {run.wall:.2f} s", flush=True)
    lines = [
        f"| median of {runs} runs | wall clock, s | CPU, s | peak memory, MB |",
        "|---|---|---|---|",
    ]
    for name, rows in seen.items():
        wall, cpu, peak = (
            statistics.median(getattr(r, field) for r in rows) for field in ("wall", "cpu", "peak")
        )
        lines.append(f"| {name} | {wall:.2f} | {cpu:.2f} | {peak:.0f} |")
    pairs = list(zip(seen["measure"], seen["floor"], strict=True))
    walls = [a.wall / b.wall for a, b in pairs]
    cpus = [a.cpu / b.cpu for a, b in pairs]
    peaks = [a.peak / b.peak for a, b in pairs]
    lines += [
        f"| measure ÷ floor, pair by pair | {statistics.median(walls):.1f}"
        f" ({min(walls):.1f} to {max(walls):.1f}) | {statistics.median(cpus):.1f}"
        f" ({min(cpus):.1f} to {max(cpus):.1f}) | {statistics.median(peaks):.1f} |",
        "",
        f"`samples/wren/top-1.jpg`, 12 Mpx, on {os.cpu_count()} {platform.machine()} cores,"
        f" Python {platform.python_version()};"
        f" mean load during the last five minutes {os.getloadavg()[1]:.1f}.",
    ]
    return "\n".join(lines)


def main(arguments: list[str]) -> int:
    """Print the table, and put it into the README if asked."""
    table = compare()
    print(f"\n{table}")
    if "--write" in arguments:
        write_between("speed", table)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
