"""The cradle for the page, by the same calls as `profiler cradle`: quickly while a station is
dragged, with the fit check, and with all sheets."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import takewhile
from pathlib import Path
from typing import Any

from profiler.casework.cradle.berth import Berth, berth_from_room
from profiler.casework.cradle.boards import tail_room
from profiler.casework.cradle.check import Checked, checked
from profiler.casework.cradle.fit import Fit, Play
from profiler.casework.cradle.plan import lay_cradle
from profiler.casework.cradle.summary import summary_lines
from profiler.casework.cradle.wishes import CradleWishes
from profiler.drawing.tiling import Correction
from profiler.findings import Finding
from profiler.instrument.record import Measurement
from profiler.instrument.solid import Solid
from profiler.jobs.cradleplan import CRADLE_NAME, cradle_record
from profiler.jobs.reading import read_record
from profiler.paper import paper_named
from profiler.pipeline.case import Labels
from profiler.pipeline.casing.typed import Typed
from profiler.pipeline.casing.wishes import DEFAULTS
from profiler.pipeline.cradle import SheetWishes, cradle_files, fit_files
from profiler.pipeline.cradling.shapes import solid_from
from profiler.pipeline.cradling.wishes import wishes_from
from profiler.plates.cradle.outlines import Lines
from profiler.plates.cradle.words import CAUTIONS, HEADS, fit_rows, play_words
from profiler.web.cradleview import cradle_view
from profiler.web.tasks.drawing_values import Sheets
from profiler.web.tasks.pages import paged
from profiler.web.wording import for_page

Progress = Callable[[str, float], None]

#: where a line of the terminal's summary goes on from its label
_LABEL = 28
_NO_FIT = Fit((), Play(None, None, None, None, None))


@dataclass(frozen=True)
class _Order:
    typed: Typed
    measurement: Measurement
    solid: Solid
    berth: Berth
    wishes: CradleWishes
    remarks: tuple[Finding, ...]


def _order(job: Path, options: Mapping[str, Any], labels: Labels) -> _Order:
    typed = Typed({**options, "units": labels.unit}, labels.unit)
    wishes, remarks = wishes_from(typed)
    measurement, solid = solid_from(typed, read_record(job), job)
    berth = berth_from_room(
        solid.plan,
        DEFAULTS[labels.unit].room,
        typed.length("inside_width"),
        tail_room(solid, wishes),
    )
    return _Order(typed, measurement, solid, berth, wishes, remarks)


def sheets(
    progress: Progress,
    job: Path,
    options: Mapping[str, Any],
    labels: Labels,
    paper: str,
    correction: Correction | None,
) -> Sheets:
    """The cradle's pieces with all their sheets."""
    progress("planning the cradle", 0.1)
    o = _order(job, options, labels)
    lines = Lines(o.typed.length_or("trace", 0.0), o.typed.length_or("tool_offset", 0.0))
    wished = SheetWishes(paper_named(paper), False, correction or Correction(), lines)
    done, files = cradle_files(
        o.measurement, o.solid, o.berth, o.wishes, labels, wished, o.remarks, o.typed.kept()
    )
    made = paged(files)
    more = _more(done, labels) | {"plan": json.loads(files[CRADLE_NAME])}
    return Sheets(made.files, made.pages, tuple(done.findings), more)


def plan(
    progress: Progress, job: Path, options: Mapping[str, Any], labels: Labels, fit: bool
) -> Sheets:
    """No sheets: what stands where and what cannot, with or without the fit check's pictures.

    A plan without any piece is an answer here, so that the page shows why of each at its place.
    """
    progress("planning the cradle", 0.1)
    o = _order(job, options, labels)
    laid = lay_cradle(o.solid, o.berth, o.wishes)
    more: dict[str, Any] = {"view": cradle_view(laid, o.measurement)}
    if fit and laid.pieces:
        progress("laying the instrument in", 0.4)
        done = checked(laid, o.measurement.outline, o.measurement.outline_u95, o.remarks)
        files = fit_files(done, labels)
        more |= _more(done, labels)
    else:
        done = Checked(laid, _NO_FIT, {}, {}, (*o.remarks, *laid.findings))
        files = {}
    kept = o.typed.kept()
    record = cradle_record(done, labels.show, labels.instrument, labels.customer, kept)
    for row in record["not_made"]:
        row["reason"] = for_page(row["reason"])
    return Sheets(files, [], tuple(done.findings), more | {"plan": record})


def _more(done: Checked, labels: Labels) -> dict[str, Any]:
    said = summary_lines(done, labels.show, labels.unit)
    return {
        "summary": [
            [line[:_LABEL].strip(), line[_LABEL:].strip()] for line in takewhile(bool, said)
        ],
        "lines": said,
        "fit": {
            "heads": list(HEADS),
            "rows": [list(row) for row in fit_rows(done, labels.show)],
            "play": [for_page(line) for line in play_words(done, labels.show)],
        },
        "cautions": list(CAUTIONS),
    }
