"""Sheets for the page, drawn by the same calls as the command line's."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from itertools import takewhile
from pathlib import Path
from typing import Any

from profiler.casework.summary import summary_lines
from profiler.drawing.tiling import Correction
from profiler.instrument.record import Measurement
from profiler.jobs.caseplan import PLAN_NAME
from profiler.jobs.reading import read_record
from profiler.paper import paper_named
from profiler.pipeline.case import FORMATS, Labels, case_files
from profiler.pipeline.casing.typed import Typed
from profiler.pipeline.casing.wishes import body_from, wishes_from
from profiler.pipeline.comparison import Headings, comparison_files
from profiler.pipeline.cradling.kept import cradle_of
from profiler.pipeline.sheets import (
    bar_page_files,
    cards_files,
    design,
    design_row,
    mat_files,
    template_files,
)
from profiler.pipeline.shelved import summary_again
from profiler.pipeline.wording import Wording
from profiler.plates.barpage import bar_lengths
from profiler.plates.notes import Wishes
from profiler.web.tasks.drawing_values import Sheets
from profiler.web.tasks.pages import paged

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
    return paged(template_files(measurement, wishes, paper=sheet, correction=correction))


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
    return paged({"summary.pdf": summary, **made.files})


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
    made = paged(files) if formats else Sheets({})
    return Sheets(made.files, made.pages, tuple(plan.findings), more)


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
    return paged(mat_files(design(paper, roll_width, width, height, tint)))


def upright(progress: Progress, paper: str, width: float | None, tint: str) -> Sheets:
    """The row that stands behind the instrument for a photo from the side, with its record."""
    progress("drawing the upright row", 0.1)
    return paged(mat_files(design_row(paper, width, tint)))


def cards(progress: Progress, paper: str, thickness: float | None) -> Sheets:
    """The height cards, with their record."""
    progress("drawing the cards", 0.1)
    return paged(cards_files(paper_named(paper), thickness_mm=thickness))


def bars(progress: Progress, paper: str) -> Sheets:
    """The bar page for a printer."""
    progress("drawing the bars", 0.1)
    sheet = paper_named(paper)
    long_x, long_y = bar_lengths(sheet)
    made = paged(bar_page_files(sheet))
    return Sheets(made.files, made.pages, (), {"nominal": {"x": long_x, "y": long_y}})


def comparison(
    progress: Progress, before: Measurement, now: Measurement, heads: Headings, wording: Wording
) -> Sheets:
    """Two measurements over each other."""
    from profiler.archive.compare import compare
    from profiler.pipeline.comparison import verdict

    progress("laying one over the other", 0.1)
    found = compare(before, now)
    made = paged(comparison_files(found, heads, wording))
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
