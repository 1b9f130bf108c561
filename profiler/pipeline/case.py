"""From an instrument and wishes to the files of a case plan: bytes by file name."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from profiler.casework.body import Body
from profiler.casework.plan import CasePlan, plan_case
from profiler.casework.trace import Show
from profiler.casework.wishes import CaseWishes
from profiler.drawing.dxf import dxf_bytes
from profiler.drawing.pdf import pdf_bytes
from profiler.drawing.svg import svg_bytes
from profiler.errors import RequestError
from profiler.findings import Finding
from profiler.jobs.caseplan import PLAN_NAME, plan_record
from profiler.jobs.cutlist import cut_list_csv
from profiler.jobs.results import record_bytes
from profiler.paper import Paper
from profiler.plates.case.pages import case_pages, named_views, view_drawings
from profiler.plates.case.paging import Heading
from profiler.units import format_inches

Files = dict[str, bytes]

FORMATS = ("pdf", "svg", "dxf")


@dataclass(frozen=True)
class Labels:
    """Names on the sheets, and how lengths are written.

    Attributes:
        instrument, customer: as typed.
        unit: 'mm' or 'in'.
        inch_step: inches to the nearest 1/N.
    """

    instrument: str = ""
    customer: str = ""
    unit: str = "mm"
    inch_step: int = 64

    @property
    def show(self) -> Show:
        """Lengths without a unit, or with the inch sign."""
        if self.unit == "in":
            return lambda mm: format_inches(mm, self.inch_step).removesuffix(" in") + '"'
        return plain_mm

    @property
    def note(self) -> str:
        if self.unit == "in":
            return f"Lengths in inches, to the nearest 1/{self.inch_step}"
        return "Lengths in mm"


def plain_mm(mm: float) -> str:
    """To 0.1 mm, whole numbers without a point: '652.5', '12'."""
    text = f"{round(mm, 1) + 0.0:.1f}"
    return text.removesuffix(".0")


def case_files(
    body: Body,
    wishes: CaseWishes,
    labels: Labels,
    paper: Paper,
    formats: Iterable[str] = FORMATS,
    remarks: tuple[Finding, ...] = (),
) -> tuple[CasePlan, Files]:
    """The plan, and `case.pdf`, `plan.json`, `cut-list.csv` and a drawing of each view.

    Args:
        body: the instrument.
        wishes: the maker's choices.
        labels: names and units.
        paper: of the PDF, used on its side.
        formats: of `FORMATS`; JSON and CSV always come along.
        remarks: about the choices, made before the plan; they go in front of its own.

    Raises:
        RequestError: an unknown format, or a wish that cannot be.
    """
    wanted = list(dict.fromkeys(formats))
    for name in wanted:
        if name not in FORMATS:
            raise RequestError(f"No format is called '{name}'. Known: {', '.join(FORMATS)}.")
    plan = plan_case(body, wishes)
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
    record = plan_record(plan, show, labels.instrument, labels.customer, [*files, PLAN_NAME])
    files[PLAN_NAME] = record_bytes(record)
    return plan, files
