"""Undo and redo of what was added to a job's neck and headstock on the page.

`.bench/shape.json` holds what `measurement.json` held before each step: sections and headstock,
nothing else of it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from profiler.jobs.reading import Record, read_record
from profiler.jobs.results import record_bytes
from profiler.jobs.sections import HEADSTOCK, SECTIONS, change_record
from profiler.jobs.writing import write_atomically
from profiler.web.answers import Refused
from profiler.web.folder import JobPlace

NAME = "shape.json"
#: a step takes back so many at most
_MOST = 50

Steps = dict[str, list[dict[str, Any]]]


def changed(place: JobPlace, words: str, change: Callable[[Record], Record]) -> None:
    """Change neck or headstock, and remember how it was.

    Raises:
        ProfilerError: of `change`, or the disk refuses; then nothing was changed.
    """
    before = _held(read_record(place.path))
    change_record(place.path, change)
    steps = _steps(place)
    done = [*steps["undo"], {"words": words, "before": before}][-_MOST:]
    _keep(place, {"undo": done, "redo": []})


def stepped(place: JobPlace, way: str) -> None:
    """One step back ('undo') or forth ('redo').

    Raises:
        Refused: there is none.
    """
    steps = _steps(place)
    if not steps[way]:
        raise Refused(422, "request", f"There is nothing to {way}.")
    step = steps[way].pop()
    now = _held(read_record(place.path))
    change_record(place.path, lambda record: _with(record, step["before"]))
    steps["redo" if way == "undo" else "undo"].append({"words": step["words"], "before": now})
    _keep(place, steps)


def words_of(place: JobPlace) -> dict[str, str | None]:
    """What undo and redo would do; None for nothing."""
    return {way: rows[-1]["words"] if rows else None for way, rows in _steps(place).items()}


def _held(record: Record) -> Record:
    return {key: record[key] for key in (SECTIONS, HEADSTOCK) if key in record}


def _with(record: Record, held: Record) -> Record:
    rest = {k: v for k, v in record.items() if k not in (SECTIONS, HEADSTOCK)}
    return {**rest, **held}


def _steps(place: JobPlace) -> Steps:
    found = place.bench_json(NAME)
    steps: Steps = {"undo": [], "redo": []}
    if not isinstance(found, dict):
        return steps
    for way, rows in steps.items():
        kept = found.get(way)
        if isinstance(kept, list):
            rows += [
                r
                for r in kept
                if isinstance(r, dict)
                and isinstance(r.get("words"), str)
                and isinstance(r.get("before"), dict)
            ]
    return steps


def _keep(place: JobPlace, steps: Steps) -> None:
    write_atomically(place.bench_file(NAME), record_bytes(steps), overwrite=True)
