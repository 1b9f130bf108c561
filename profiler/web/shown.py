"""Jobs as the page sees them."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime
from typing import Any
from urllib.parse import quote

import numpy as np

from profiler.errors import ProfilerError
from profiler.jobs.beside import CARDS_NAME, MAT_NAME, UPRIGHT_NAME
from profiler.jobs.corrections import Correction, Corrections, Height, correction_record
from profiler.jobs.reading import MEASUREMENT_NAME, measurement_from_record, read_record
from profiler.silhouette.strokes import CutOut, Moved
from profiler.web.bench import Bench
from profiler.web.desk import Desks
from profiler.web.folder import KINDS, STATE_NAME, JobPlace, JobState, changed, roles
from profiler.web.names import with_names_said
from profiler.web.picture import PhotoMap
from profiler.web.sheetinfo import cards_told, mat_told
from profiler.web.told import PARTS_SAID, counts, line_told, quantity, thumbnail_line
from profiler.web.wording import for_page

_MOST_REMEMBERED = 2000


def job_url(job_id: str) -> str:
    """Where a job's things are asked for."""
    return f"/api/jobs/{quote(job_id, safe='')}"


def short(bench: Bench, desks: Desks, place: JobPlace) -> dict[str, Any]:
    """A job in the list; blocking, for a thread."""
    # first, so that who is told that no work is left is told what came of it
    work = desks.work_of(place.id)
    stamps = tuple(_stamp(place, name) for name in (STATE_NAME, MEASUREMENT_NAME))
    known = bench.shorts.get(place.path)
    if known is not None and known[0] == stamps:
        told = dict(known[1])
    else:
        told = _short(place)
        bench.shorts[place.path] = (stamps, told)
        while len(bench.shorts) > _MOST_REMEMBERED:
            bench.shorts.popitem(last=False)
        told = dict(told)
    told["work"] = work
    if told["photo_small"] is not None:
        told["photo_small"] = _small(place, told["photo_small"])
    return told


async def job_told(bench: Bench, desks: Desks, place: JobPlace) -> dict[str, Any]:
    """A job with everything but its results."""
    return await asyncio.to_thread(_job, bench, desks, place)


def _stamp(place: JobPlace, name: str) -> int:
    try:
        return (place.path / name).stat().st_mtime_ns
    except OSError:
        return 0


def _short(place: JobPlace) -> dict[str, Any]:
    state = place.state()
    length, levels, shape = None, counts(()), None
    if place.measured:
        try:
            found = measurement_from_record(read_record(place.path))
            length = quantity(found.length, state.inch_step)
            levels = counts(found.findings)
            shape = line_told(thumbnail_line(found.outline))
        except ProfilerError:
            pass
    stamp = datetime.fromtimestamp(changed(place.path), UTC).isoformat(timespec="seconds")
    return {
        "id": place.id,
        "name": state.name,
        "customer": state.customer,
        "state": _state_word(place, state),
        "revision": state.revision,
        "changed": stamp.replace("+00:00", "Z"),
        "sample": state.sample,
        "length": length,
        "counts": levels,
        "shape": shape,
        "thumbnail": f"{job_url(place.id)}/thumbnail.svg" if shape else None,
        "photo_small": _shown_small(state),
    }


def _shown_small(state: JobState) -> str | None:
    """The photo that stands for the job: one from above, if there is any."""
    above = (name for name, _ in state.photos if name != state.side)
    return next(above, state.side or None)


def _state_word(place: JobPlace, state: JobState) -> str:
    if state.problem is not None:
        return "failed"
    if place.measured:
        return "measured"
    return "ready" if state.photos else "empty"


def _job(bench: Bench, desks: Desks, place: JobPlace) -> dict[str, Any]:
    work = desks.work_of(place.id)
    state = place.state()
    told = {**short(bench, desks, place), "work": work, "revision": state.revision}
    photos = place.photo_paths(state)
    corrections = place.corrections()
    measured = place.measured and state.problem is None
    busy = told["work"] is not None and told["work"]["kind"] == "measure"
    seen = place.bench_json("view.json")
    told |= {
        "photos": [_photo(place, state, name, said) for name, said in state.photos],
        "problem": None
        if state.problem is None
        else {
            "code": state.problem[0],
            "message": with_names_said(for_page(state.problem[1]), state.photos),
        },
        "refused": for_page(state.refused) or None,
        "refused_at": _refused_at(state, seen),
        "outdated": measured
        and bool(state.measured_with)
        and state.measured_with != roles((name for name, _ in state.photos), state.side),
        "accept_crop": state.accept_crop,
        "units": state.units,
        "inch_step": state.inch_step,
        "mat": mat_told(place.path / MAT_NAME),
        "cards": cards_told(place.path / CARDS_NAME),
        "upright": mat_told(place.path / UPRIGHT_NAME),
        "heights": {
            part: {"mm": mm, "u95": u95} for part, (mm, u95) in corrections.heights.items()
        },
        "can": {
            "measure": bool(photos) and not busy,
            "correct": bool(photos) and isinstance(seen, dict) and not busy,
            "template": measured,
            "case": measured,
        },
        "corrections": corrections_told(corrections, seen),
        "used": list(state.used),
        "files": _files(place),
        "folder": str(place.path),
    }
    return told


def _refused_at(state: JobState, seen: Any) -> list[list[float]]:
    """Where the last correction was taken back, px of the page's picture."""
    if not state.refused_at or not isinstance(seen, dict):
        return []
    try:
        photo_map = PhotoMap(seen["view"])
    except (KeyError, TypeError, ValueError):
        return []
    return line_told(photo_map.from_photo(np.array(state.refused_at)))


def _photo(place: JobPlace, state: JobState, name: str, said: str) -> dict[str, Any]:
    check = place.bench_json(f"{name}.check.json")
    check = check if isinstance(check, dict) else None
    return {
        "name": name,
        "said": said,
        "side": name == state.side,
        "width": check and check.get("width"),
        "height": check and check.get("height"),
        "phone": (check and check.get("phone")) or "",
        "url": f"{job_url(place.id)}/photos/{quote(name)}",
        "small": _small(place, name),
        "check": check,
    }


def _small(place: JobPlace, name: str) -> str | None:
    if not (place.bench / f"{name}.small.jpg").is_file():
        return None
    return f"{job_url(place.id)}/photos/{quote(name)}?small=1"


def _files(place: JobPlace) -> list[dict[str, Any]]:
    try:
        newest = (place.path / MEASUREMENT_NAME).stat().st_mtime_ns
    except OSError:
        newest = 0
    made_with_it = {MEASUREMENT_NAME, "overlay.jpg", "overlay-side.jpg", "summary.pdf"}
    found = []
    for name, path in place.files():
        stat = path.stat()
        found.append(
            {
                "name": name,
                "bytes": stat.st_size,
                "kind": KINDS[path.suffix.lower()],
                "stale": (name.startswith("template.") or "/" in name)
                and name not in made_with_it
                and stat.st_mtime_ns < newest,
                "url": f"{job_url(place.id)}/files/{quote(name)}",
            }
        )
    return found


def corrections_told(corrections: Corrections, seen: Any) -> dict[str, Any]:
    """What was done, in words and in px of the page's picture; what redo would bring back."""
    photo_map = None
    if isinstance(seen, dict):
        try:
            photo_map = PhotoMap(seen["view"])
        except (KeyError, TypeError, ValueError):
            photo_map = None
    return {
        "done": [_correction(c, photo_map) for c in corrections.done],
        "redo": words_of(corrections.undone[-1]) if corrections.undone else None,
    }


def _correction(one: Correction, photo_map: PhotoMap | None) -> dict[str, Any]:
    record = correction_record(one)
    for key in ("at", "to", "path", "area"):
        if key in record:
            single = key in ("at", "to")
            points = np.array([record[key]] if single else record[key], dtype=np.float64)
            if photo_map is None:
                record[key] = None
                continue
            shown = line_told(photo_map.from_photo(points))
            record[key] = shown[0] if single else shown
    return {**record, "words": words_of(one)}


def words_of(one: Correction) -> str:
    """A correction in a few words."""
    if isinstance(one, Height):
        what = PARTS_SAID.get(one.part, one.part)
        return (
            f"Typed height of the {what} taken back"
            if one.mm is None
            else f"Height of the {what}: {one.mm:g} mm"
        )
    if isinstance(one, Moved):
        return "A point of the edge moved"
    if isinstance(one, CutOut):
        return "A piece cut out"
    return "A stretch drawn and laid to the edge" if one.snap else "A stretch drawn by hand"
