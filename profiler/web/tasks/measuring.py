"""Measuring a job of the page: the same call as `profiler measure`, and what the page draws."""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from profiler.errors import ProfilerError
from profiler.instrument.record import Measurement
from profiler.jobs.photo import Photo
from profiler.jobs.results import MEASUREMENT_NAME, record_bytes
from profiler.jobs.writing import MARK
from profiler.pipeline.job import JobResult, JobWishes, run_job
from profiler.pipeline.memory import Memory
from profiler.pipeline.report import report_files
from profiler.pipeline.scene import FromTheSide
from profiler.scene.record import Scene
from profiler.silhouette.edge import Edge
from profiler.web.answers import code_of
from profiler.web.marks import finding_marks, problem_marks
from profiler.web.picture import view_jpegs, view_record, whole_view
from profiler.web.seen import seen_record
from profiler.web.tasks.orders import Done, Order

Progress = Callable[[str, float], None]

#: of this process: what was found in the photos before
MEMORY = Memory()
#: of this process: what was measured last, for its report; others' work may come between the two
_measured: deque[tuple[Order, JobResult]] = deque(maxlen=2)

assert MARK == MEASUREMENT_NAME


def measure(progress: Progress, order: Order) -> Done:
    """Measure, and lay out what the page shows; the numbers need not wait for `report`.

    What the photo or the mat does not allow is a result here: the page still shows what was seen.
    """
    try:
        job = _run(progress, order)
    except ProfilerError as error:
        return _refused(order, error)
    _measured.append((order, job))
    files = {MEASUREMENT_NAME: record_bytes(job.record)}
    progress("laying out the photo", 0.9)
    photo, scene = job.photos[0], job.result.scene
    bench, seen = _shown(order, photo, scene, job.measurement, job.result.edge)
    seen["marks"] = finding_marks(
        whole_view(scene, photo.orientation),
        scene,
        job.measurement.findings,
        job.measurement,
        job.result.edge,
    )
    aside = job.result.sides[0].profile.photo if job.sides else ""
    return Done(files, bench, seen, None, job.used, aside)


def report(progress: Progress, order: Order) -> dict[str, bytes]:
    """Overlay and summary of what was just measured by the same order.

    Raises:
        ProfilerError: it is forgotten and cannot be measured again.
    """
    job = next((job for known, job in _measured if known == order), None) or _run(progress, order)
    return report_files(job, order.notes, order.units, order.inch_step)


def _run(progress: Progress, order: Order) -> JobResult:
    while True:
        try:
            return _run_as(progress, order)
        except FromTheSide as error:
            # nobody has to say what the sheets in the photo say
            above = tuple(p for p in order.photos if p.name != error.photo)
            if not above or len(above) == len(order.photos):
                raise
            side = next(p for p in order.photos if p.name == error.photo)
            order = replace(order, photos=above, sides=(*order.sides, side))


def _run_as(progress: Progress, order: Order) -> JobResult:
    wishes = JobWishes(
        photos=order.photos,
        heights=order.corrections.heights,
        notes=order.notes,
        accept_crop=order.accept_crop,
        strokes=order.corrections.strokes,
        sides=order.sides,
    )
    MEMORY.begin()
    return run_job(wishes, lambda words, share: progress(words, 0.9 * share), MEMORY)


def _refused(order: Order, error: ProfilerError) -> Done:
    """With the picture, if the scene was solved before the refusal."""
    problem = (code_of(error), str(error))
    photos, solved = MEMORY.reached("photos"), MEMORY.reached("scene")
    if not isinstance(photos, tuple) or not isinstance(solved, tuple):
        return Done(problem=problem)
    photo: Photo = photos[0][0]
    bench, seen = _shown(order, photo, solved[0], None, None)
    seen["marks"] = problem_marks(whole_view(solved[0], photo.orientation), error)
    return Done({}, bench, seen, problem, ())


def _shown(
    order: Order,
    photo: Photo,
    scene: Scene,
    measurement: Measurement | None,
    edge: Edge | None,
) -> tuple[dict[str, bytes], dict[str, Any]]:
    view = whole_view(scene, photo.orientation)
    record = view_record(view)
    key = hashlib.sha256((photo.sha256 + repr(record)).encode()).hexdigest()[:16]
    bench: dict[str, bytes] = {}
    if key != order.shown:
        pixels = photo.filled().pixels
        bench["view.jpg"], bench["view-small.jpg"] = view_jpegs(view, pixels)
    seen = seen_record(view, scene, measurement, edge)
    said = {"photo": photo.name, "sha256": photo.sha256}
    return bench, {"key": key, "view": record, **said, **seen}
