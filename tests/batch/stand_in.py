"""What stands in for measuring: it takes a while and writes a job's folder as measuring does."""

from __future__ import annotations

import json
import os
import signal
import time
from pathlib import Path

from profiler.jobs.manifest import Order
from profiler.jobs.writing import new_job_folder
from profiler.pipeline.batch import ORDER_NAME, Outcome, State, key_of


def slow(order: Order, force: bool = False, seconds: float = 0.25) -> Outcome:
    """Writes which process did it."""
    if key_of(order.folder) == order.key() and not force:
        return Outcome(order.job, State.THERE)
    with new_job_folder(order.folder, force) as folder:
        log = Path(order.output) / "started.txt"
        with open(log, "a") as file:
            file.write(f"{order.job} {os.getpid()}\n")
        time.sleep(seconds)
        folder.write(ORDER_NAME, json.dumps({"key": order.key()}).encode())
        folder.write("measurement.json", json.dumps({"pid": os.getpid()}).encode())
    return Outcome(order.job, State.DONE)


def deadly(order: Order, force: bool = False) -> Outcome:
    """The job called 'bomb' kills the process that measures it, each time."""
    if order.job == "bomb":
        os.kill(os.getpid(), signal.SIGKILL)
    return slow(order, force, 0.05)


def started(folder: Path) -> list[tuple[str, int]]:
    """Job and process of everything that was begun, in order."""
    log = folder / "started.txt"
    lines = log.read_text().split("\n") if log.exists() else []
    return [(line.split()[0], int(line.split()[1])) for line in lines if line.strip()]
