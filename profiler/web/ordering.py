"""Having sheets drawn: what is asked for, what they are drawn from, where they are kept."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from starlette.requests import Request

from profiler.drawing.tiling import Correction
from profiler.instrument.record import Measurement
from profiler.jobs.caseplan import left_over
from profiler.jobs.cradleplan import CRADLE_NAME
from profiler.jobs.cradleplan import FORMAT as CRADLE_FORMAT
from profiler.jobs.printers import printer_named
from profiler.jobs.reading import measurement_from_record, read_record
from profiler.jobs.writing import write_together
from profiler.paper import PAPERS
from profiler.units import parse_length
from profiler.web.answers import Refused, fields_of, flag_in, revision_in, text_in
from profiler.web.bench import Bench
from profiler.web.caseoptions import Option
from profiler.web.desk import Desk, check_revision
from profiler.web.tasks.drawing_values import Sheets
from profiler.web.workers import TaskRefused

DRAW = "profiler.web.tasks.drawing"
CASE_FOLDER, CRADLE_FOLDER = "case", "cradle"


async def draw(bench: Bench, task: str, *args: Any) -> Any:
    """What a task of `tasks.drawing` makes."""
    return await bench.drawing.call(f"{DRAW}:{task}", *args)


async def measured(desk: Desk) -> Measurement:
    """What was measured of a job.

    Raises:
        Refused: it is not measured yet.
    """

    def work() -> Measurement:
        if not desk.place.measured:
            raise Refused(422, "request", "This job is not measured yet.")
        return measurement_from_record(read_record(desk.place.path))

    return await asyncio.to_thread(work)


def correction_for(bench: Bench, name: str | None) -> Correction | None:
    """What a printer needs; None for no printer.

    Raises:
        RequestError: there is none of that name.
    """
    return None if name is None else printer_named(name, bench.printers_file).correction


def paper_in(fields: dict[str, Any], default: str | None = None) -> str | None:
    """A paper's name as it is written.

    Raises:
        Refused: there is no such paper.
    """
    text = text_in(fields, "paper", default)
    if text is None:
        return None
    for name in PAPERS:
        if name.lower() == text.strip().lower():
            return name
    raise Refused(422, "request", f"Papers are {', '.join(PAPERS)}.", option="paper")


def units_in(fields: dict[str, Any], default: str) -> str:
    """mm or in.

    Raises:
        Refused: neither mm nor in.
    """
    units = text_in(fields, "units", default) or "mm"
    if units not in ("mm", "in"):
        raise Refused(422, "request", "'units' is mm or in.", option="units")
    return units


async def readings_of(bench: Bench, request: Request) -> tuple[float, float]:
    """What a rule read on both bars, mm.

    Raises:
        Refused: only one was read. RequestError: no length.
    """
    fields = await fields_of(request)
    units = text_in(fields, "units", bench.settings.units) or "mm"
    read = []
    for name in ("x", "y"):
        text = text_in(fields, name)
        if text is None:
            raise Refused(422, "request", "Both bars belong together: read both.", option=name)
        read.append(parse_length(text, units))
    return read[0], read[1]


async def keep_in_job(
    bench: Bench, desk: Desk, fields: dict[str, Any], sheets: Sheets, folder: str
) -> None:
    """Write what was drawn into the job, if the request says `keep`; `folder` in it, or ''.

    Raises:
        Refused: another page was quicker. OutputError: the disk refuses.
    """
    if not flag_in(fields, "keep"):
        return
    revision = revision_in(fields)

    def work() -> None:
        check_revision(desk.place.state(), revision)
        target = desk.place.path / folder if folder else desk.place.path
        stale = _left_over(target, sheets.files, folder)
        write_together(target, sheets.files, overwrite=True)
        for path in stale:
            path.unlink(missing_ok=True)

    async with desk.lock:
        await asyncio.to_thread(work)
    bench.hub.tell("job", id=desk.place.id)


async def keep_own(bench: Bench, fields: dict[str, Any], sheets: Sheets, kind: str) -> None:
    """Write the bench's own sheets into the working folder, if the request says `keep`.

    Raises:
        OutputError: the disk refuses.
    """
    if not flag_in(fields, "keep"):
        return
    folder = bench.options.folder
    await asyncio.to_thread(write_together, folder, sheets.files, True)
    bench.hub.tell(kind)


def with_option(refused: TaskRefused, known: Mapping[str, Option]) -> Refused:
    """Names the option that the sentence speaks of, so that the page can point at it."""
    for name in sorted(known, key=len, reverse=True):
        if f"--{name.replace('_', '-')}" in refused.message:
            return Refused(refused.status, refused.code, refused.message, option=name)
    return refused


def _left_over(target: Path, files: Mapping[str, bytes], folder: str) -> list[Path]:
    """What an earlier plan wrote there and this one does not."""
    if not target.is_dir():
        return []
    if folder == CRADLE_FOLDER:
        return left_over(target, files, CRADLE_NAME, CRADLE_FORMAT)
    return left_over(target, files) if folder == CASE_FOLDER else []
