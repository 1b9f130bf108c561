"""Sheets for the page, drawn by the same calls as the command line's."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from itertools import takewhile
from pathlib import Path
from typing import Any

from profiler.casework.cradle.berth import berth_from_room
from profiler.casework.cradle.boards import tail_room
from profiler.casework.cradle.summary import summary_lines as cradle_lines
from profiler.casework.summary import summary_lines
from profiler.drawing.tiling import Correction
from profiler.instrument.record import Measurement
from profiler.jobs.caseplan import PLAN_NAME
from profiler.jobs.cradleplan import CRADLE_NAME
from profiler.jobs.reading import read_record
from profiler.paper import paper_named
from profiler.pipeline.case import FORMATS, Labels, case_files
from profiler.pipeline.casing.typed import Typed
from profiler.pipeline.casing.wishes import DEFAULTS, body_from, wishes_from
from profiler.pipeline.comparison import Headings, comparison_files
from profiler.pipeline.cradle import SheetWishes, cradle_files
from profiler.pipeline.cradling.kept import cradle_of
from profiler.pipeline.cradling.shapes import solid_from
from profiler.pipeline.cradling.wishes import wishes_from as cradle_wishes
from profiler.pipeline.sheets import bar_page_files, cards_files, design, mat_files, template_files
from profiler.pipeline.shelved import summary_again
from profiler.pipeline.wording import Wording
from profiler.plates.barpage import bar_lengths
from profiler.plates.cradle.outlines import Lines
from profiler.plates.notes import Wishes
from profiler.web.tasks.drawing_values import Sheets
from profiler.web.tasks.pages import sizes

Progress = Callable[[str, float], None]

#: where a line of the terminal's summary goes on from its label
_LABEL = 28


def template(
    progress: Progress,
    measurement: Measurement,
    wishes: Wishes,
    paper: str | None,
    correction: Correction | None,
) -> Sheets:
    """The template in all forms."""
    progress("drawing the template", 0.1)
    sheet = None if paper is None else paper_named(paper)
    return _paged(template_files(measurement, wishes, paper=sheet, correction=correction))


def archived(
    progress: Progress,
    measurement: Measurement,
    record: dict[str, Any],
    wishes: Wishes,
    wording: Wording,
    paper: str | None,
    correction: Correction | None,
) -> Sheets:
    """Template and summary of something kept."""
    made = template(progress, measurement, wishes, paper, correction)
    progress("drawing the summary", 0.8)
    summary = summary_again(measurement, record, wording)
    return _paged({"summary.pdf": summary, **made.files})


def case(
    progress: Progress,
    measurement: Measurement | None,
    options: Mapping[str, Any],
    labels: Labels,
    paper: str,
    job: Path | None = None,
    formats: tuple[str, ...] = FORMATS,
) -> Sheets:
    """The case plan with its drawings; without formats the plan alone: quick, for choosing."""
    progress("planning the case", 0.1)
    typed = Typed(options, labels.unit)
    body = body_from(typed, measurement)
    wishes, remarks = wishes_from(typed)
    taken = None
    if job is not None and not options.get("no_cradle"):
        taken = cradle_of(job, None, read_record(job), typed)
    plan, files = case_files(body, wishes, labels, paper_named(paper), formats, remarks, taken)
    lines = takewhile(bool, summary_lines(plan, labels.show, labels.unit))
    rows = [[line[:_LABEL].strip(), line[_LABEL:].strip()] for line in lines]
    more = {"summary": rows, "plan": json.loads(files[PLAN_NAME])}
    made = _paged(files) if formats else Sheets({})
    return Sheets(made.files, made.pages, tuple(plan.findings), more)


def cradle(
    progress: Progress,
    job: Path,
    options: Mapping[str, Any],
    labels: Labels,
    paper: str,
    correction: Correction | None,
) -> Sheets:
    """The cradle's pieces with all their sheets."""
    progress("planning the cradle", 0.1)
    typed = Typed({**options, "units": labels.unit}, labels.unit)
    record = read_record(job)
    wishes, remarks = cradle_wishes(typed)
    measurement, solid = solid_from(typed, record, job)
    berth = berth_from_room(
        solid.plan,
        DEFAULTS[labels.unit].room,
        typed.length("inside_width"),
        tail_room(solid, wishes),
    )
    lines = Lines(typed.length_or("trace", 0.0), typed.length_or("tool_offset", 0.0))
    sheets = SheetWishes(paper_named(paper), False, correction or Correction(), lines)
    done, files = cradle_files(
        measurement, solid, berth, wishes, labels, sheets, remarks, typed.kept()
    )
    made = _paged(files)
    said = cradle_lines(done, labels.show, labels.unit)
    rows = [[line[:_LABEL].strip(), line[_LABEL:].strip()] for line in takewhile(bool, said)]
    more = {"summary": rows, "lines": said, "plan": json.loads(files[CRADLE_NAME])}
    return Sheets(made.files, made.pages, tuple(done.findings), more)


def mat(
    progress: Progress,
    paper: str,
    roll_width: float | None,
    width: float | None,
    height: float | None,
    tint: str,
) -> Sheets:
    """The mat to print, with its record."""
    progress("drawing the mat", 0.1)
    return _paged(mat_files(design(paper, roll_width, width, height, tint)))


def cards(progress: Progress, paper: str, thickness: float | None) -> Sheets:
    """The height cards, with their record."""
    progress("drawing the cards", 0.1)
    return _paged(cards_files(paper_named(paper), thickness_mm=thickness))


def bars(progress: Progress, paper: str) -> Sheets:
    """The bar page for a printer."""
    progress("drawing the bars", 0.1)
    sheet = paper_named(paper)
    long_x, long_y = bar_lengths(sheet)
    made = _paged(bar_page_files(sheet))
    return Sheets(made.files, made.pages, (), {"nominal": {"x": long_x, "y": long_y}})


def comparison(
    progress: Progress, before: Measurement, now: Measurement, heads: Headings, wording: Wording
) -> Sheets:
    """Two measurements over each other."""
    from profiler.archive.compare import compare
    from profiler.pipeline.comparison import verdict

    progress("laying one over the other", 0.1)
    found = compare(before, now)
    made = _paged(comparison_files(found, heads, wording))
    parts = [
        {
            "part": p.part,
            "along": p.along,
            "sideways": p.sideways,
            "u95": p.u95,
            "moved": bool(p.moved),
        }
        for p in found.parts
    ]
    numbers = [
        {
            "name": n.name,
            "before": n.before,
            "now": n.now,
            "difference": n.difference,
            "u95": n.u95,
            "exceeds": n.exceeds,
        }
        for n in found.numbers
    ]
    more = {"verdict": verdict(found), "parts": parts, "numbers": numbers}
    return Sheets(made.files, made.pages, (), more)


def _paged(files: dict[str, bytes]) -> Sheets:
    pages = [
        (name, number, *size)
        for name, data in files.items()
        if name.endswith(".pdf")
        for number, size in enumerate(sizes(lambda _w, _s: None, data), start=1)
    ]
    return Sheets(files, pages)
