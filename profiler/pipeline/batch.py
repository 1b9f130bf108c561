"""Many jobs: on all cores of this machine, resumable, each failure told and the rest done.

A job's folder appears whole or not at all and carries the key of its order: a batch that was
stopped, or killed, is started again and goes on with what is missing.
"""

from __future__ import annotations

import json
import os
import shutil
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from enum import StrEnum
from multiprocessing import get_context
from pathlib import Path

from profiler.errors import ProfilerError
from profiler.jobs.manifest import Order

ORDER_NAME = "order.json"
#: a draft this old belongs to nobody any more, s
STALE_DRAFT_S = 3600.0


class State(StrEnum):
    """How a job ended."""

    DONE = "done"
    THERE = "there already"
    FAILED = "failed"


@dataclass(frozen=True)
class Outcome:
    """What became of an order; `sentence` says why it failed, or how long it took."""

    job: str
    state: State
    sentence: str = ""
    seconds: float = 0.0


#: what measures one order
Measuring = Callable[[Order, bool], Outcome]


def measure_order(order: Order, force: bool = False) -> Outcome:
    """Measure one job into its folder. Every failure becomes an outcome.

    Args:
        force: measure again what an earlier batch measured otherwise.
    """
    begun = time.perf_counter()
    try:
        return _measured(order, force, begun)
    except ProfilerError as error:
        return Outcome(order.job, State.FAILED, str(error), time.perf_counter() - begun)
    except MemoryError:
        return Outcome(order.job, State.FAILED, "There is not enough memory for it.")
    except OSError as error:
        return Outcome(order.job, State.FAILED, f"{error.filename or ''}: {error.strerror}.")
    except Exception as error:  # a fault of the program must not end the others
        where = traceback.extract_tb(error.__traceback__)[-1]
        return Outcome(
            order.job,
            State.FAILED,
            f"A fault of the program, not yours ({type(error).__name__} in {where.name}: {error})."
            " 'profiler --debug measure' on this photo shows more.",
        )


def _measured(order: Order, force: bool, begun: float) -> Outcome:
    key = order.key()
    if key_of(order.folder) == key and not force:
        return Outcome(order.job, State.THERE)

    from profiler.jobs.results import MEASUREMENT_NAME, JobNotes, record_bytes
    from profiler.jobs.writing import new_job_folder
    from profiler.pipeline.job import JobWishes, run_job
    from profiler.pipeline.report import report_files

    wishes = JobWishes(
        photos=tuple(map(Path, order.photos)),
        mat=_path(order.mat),
        cards=_path(order.cards),
        lens=_path(order.lens),
        bars=order.bars,
        heights=dict(order.heights),
        notes=JobNotes(order.name, order.customer),
        accept_crop=order.accept_crop,
    )
    _sweep(order.folder)
    with new_job_folder(order.folder, force) as folder:
        job = run_job(wishes)
        files = report_files(job, wishes.notes, order.units, order.inch_step)
        files[ORDER_NAME] = (json.dumps({"format": "profiler order", "key": key}) + "\n").encode()
        files[MEASUREMENT_NAME] = record_bytes(job.record)
        for name, data in files.items():
            folder.write(name, data)
    doubts = sum(f.level.value == "doubt" for f in job.measurement.findings)
    words = f"{doubts} in doubt: see its summary" if doubts else ""
    return Outcome(order.job, State.DONE, words, time.perf_counter() - begun)


def key_of(folder: Path) -> str:
    """Key of the order that a job folder came from, '' where there is none."""
    try:
        content = json.loads((folder / ORDER_NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return ""
    return str(content.get("key", "")) if isinstance(content, dict) else ""


def run_here(
    orders: Sequence[Order],
    workers: int | None = None,
    force: bool = False,
    measuring: Measuring = measure_order,
) -> Iterator[Outcome]:
    """Measure all on this machine, so many at a time; outcomes as they come.

    A job whose process dies (too little memory, a kill) is tried once more on its own; if it dies
    again it has failed, and the others go on.

    Args:
        workers: processes; None for one to a core.
    """
    count = max(1, min(workers or os.cpu_count() or 1, len(orders)))
    waiting = list(orders)[::-1]
    suspects: list[Order] = []
    while waiting:
        with _pool(count) as pool:
            running: dict[Future[Outcome], Order] = {}
            try:
                while waiting or running:
                    while waiting and len(running) < count:
                        order = waiting.pop()
                        running[pool.submit(measuring, order, force)] = order
                    for future in wait(running, return_when=FIRST_COMPLETED).done:
                        outcome = future.result()
                        del running[future]
                        yield outcome
            except BrokenProcessPool:
                suspects += running.values()
            except BaseException:
                pool.shutdown(wait=False, cancel_futures=True)
                raise
    for order in suspects:
        with _pool(1) as pool:
            try:
                yield pool.submit(measuring, order, force).result()
            except BrokenProcessPool:
                yield Outcome(
                    order.job,
                    State.FAILED,
                    "The process that measured it died, twice. Is there enough memory?",
                )


def _pool(count: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(
        count, mp_context=get_context("spawn"), initializer=_one_thread, initargs=(count,)
    )


def _one_thread(count: int) -> None:
    """Processes share the cores; threads inside them would only be in each other's way."""
    if count > 1:
        os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1")  # before numpy is there
        import cv2

        cv2.setNumThreads(1)


def _path(text: str) -> Path | None:
    return Path(text) if text else None


def _sweep(folder: Path) -> None:
    """Drafts of this job that a killed batch left long ago."""
    for draft in folder.parent.glob(f".{folder.name[:60]}.????????.part"):
        if time.time() - draft.stat().st_mtime > STALE_DRAFT_S:
            shutil.rmtree(draft, ignore_errors=True)
