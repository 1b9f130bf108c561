"""From an instrument and wishes to the files of a case plan: bytes by file name."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from profiler.casework.body import Body
from profiler.casework.cradle.check import Checked, checked
from profiler.casework.cradle.incase import CradleInCase, berth_in, in_case, room_for
from profiler.casework.cradle.plan import plan_cradle
from profiler.casework.plan import CasePlan, plan_case
from profiler.casework.wishes import CaseWishes
from profiler.drawing.dxf import dxf_bytes
from profiler.drawing.pdf import pdf_bytes
from profiler.drawing.svg import svg_bytes
from profiler.findings import Finding
from profiler.jobs.caseplan import PLAN_NAME, plan_record
from profiler.jobs.cutlist import cut_list_csv
from profiler.jobs.results import record_bytes
from profiler.paper import Paper
from profiler.pipeline.cradle import CradleJob, SheetWishes, kept_cradle, sheet_files
from profiler.pipeline.labels import FORMATS, Files, Labels, formats_known, plain_mm
from profiler.plates.case.pages import case_pages, named_views, view_drawings
from profiler.plates.case.paging import Heading

__all__ = ["FORMATS", "Files", "Labels", "case_files", "plain_mm"]


def case_files(
    body: Body,
    wishes: CaseWishes,
    labels: Labels,
    paper: Paper,
    formats: Iterable[str] = FORMATS,
    remarks: tuple[Finding, ...] = (),
    cradle: CradleJob | None = None,
) -> tuple[CasePlan, Files]:
    """The plan, and `case.pdf`, `plan.json`, `cut-list.csv` and a drawing of each view; with a
    cradle also its sheets, fitted to this case, and `cradle.json`.

    Args:
        body: the instrument.
        wishes: the maker's choices.
        labels: names and units.
        paper: of the PDF, used on its side.
        formats: of `FORMATS`; JSON and CSV always come along.
        remarks: about the choices, made before the plan; they go in front of its own.
        cradle: that stands in it.

    Raises:
        RequestError: an unknown format, or a wish that cannot be.
    """
    wanted = formats_known(formats)
    done: Checked | None = None
    if cradle is None:
        plan = plan_case(body, wishes)
    else:
        plan, done = _with_cradle(body, wishes, cradle)
        remarks = (*remarks, *done.findings)
    plan = replace(plan, findings=(*remarks, *plan.findings))
    show = labels.show
    views = named_views(plan)
    files: Files = {}
    if "pdf" in wanted:
        heading = Heading(labels.instrument, labels.customer, labels.note)
        pages = case_pages(plan, views, show, heading, paper)
        title = f"Case plan: {labels.instrument.strip() or 'instrument'}"
        files["case.pdf"] = pdf_bytes(pages, title, "Plan of a plywood case")
    files["cut-list.csv"] = cut_list_csv(plan, show, labels.unit)
    if "svg" in wanted or "dxf" in wanted:
        for name, drawing in view_drawings(views, show).items():
            if "svg" in wanted:
                files[f"{name}.svg"] = svg_bytes(drawing)
            if "dxf" in wanted:
                files[f"{name}.dxf"] = dxf_bytes(drawing)
    if done is not None and cradle is not None:
        files |= sheet_files(done, labels, SheetWishes(paper, lines=cradle.lines), wanted)
        files |= kept_cradle(done, labels, cradle.options, files)
    record = plan_record(plan, show, labels.instrument, labels.customer, [*files, PLAN_NAME])
    files[PLAN_NAME] = record_bytes(record)
    return plan, files


def _with_cradle(body: Body, wishes: CaseWishes, cradle: CradleJob) -> tuple[CasePlan, Checked]:
    """The case planned with its cradle: first the room, then the pieces that stand in it."""
    solid, m = cradle.solid, cradle.measurement
    wishes = replace(wishes, room=room_for(solid, cradle.wishes, wishes.room))
    bare = plan_case(body, wishes, with_sheets=False)
    planned = plan_cradle(solid, berth_in(bare, solid), cradle.wishes)
    done = checked(planned, m.outline, m.outline_u95)
    taken: CradleInCase = in_case(planned, bare)
    plan = plan_case(
        body, replace(wishes, others=taken.stocks), taken.pieces, channels=taken.channels
    )
    return plan, done
