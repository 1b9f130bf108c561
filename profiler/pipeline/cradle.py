"""From a measured instrument and wishes to the files of a cradle: bytes by file name."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from profiler.casework.cradle.berth import Berth
from profiler.casework.cradle.check import Checked, checked
from profiler.casework.cradle.plan import plan_cradle
from profiler.casework.cradle.wishes import CradleWishes
from profiler.drawing.dxf import dxf_bytes
from profiler.drawing.model import Drawing
from profiler.drawing.pdf import pdf_bytes
from profiler.drawing.svg import svg_bytes
from profiler.drawing.tiling import Correction, corrected
from profiler.findings import Finding
from profiler.instrument.record import Measurement
from profiler.instrument.solid import Solid
from profiler.jobs.cradleplan import CRADLE_NAME, cradle_record
from profiler.jobs.results import record_bytes
from profiler.paper import Paper
from profiler.pipeline.labels import FORMATS, Files, Labels, formats_known
from profiler.plates.case.pages import view_drawings
from profiler.plates.case.paging import Heading
from profiler.plates.cradle.cards import Card, card_of, sheet_of
from profiler.plates.cradle.layout import (
    Spread,
    large_pages,
    lay_out,
    layout_drawing,
    layout_pages,
)
from profiler.plates.cradle.outlines import Lines
from profiler.plates.cradle.pages import first_pages, named_views


@dataclass(frozen=True)
class SheetWishes:
    """How the sheets are made.

    Attributes:
        paper: of the pages.
        one_page: each piece on a page as large as it takes, instead of several to a sheet.
        correction: of the user's printer; it touches the PDF only.
        lines: beside the cut.
        formats: of `FORMATS`.
    """

    paper: Paper
    one_page: bool = False
    correction: Correction = field(default_factory=Correction)
    lines: Lines = field(default_factory=Lines)
    formats: tuple[str, ...] = FORMATS


@dataclass(frozen=True)
class CradleJob:
    """A cradle that a case takes along.

    Attributes:
        measurement, solid: the instrument.
        wishes: the maker's.
        options: as they were typed for 'profiler cradle'.
        lines: beside the cut.
    """

    measurement: Measurement
    solid: Solid
    wishes: CradleWishes
    options: dict[str, Any] = field(default_factory=dict)
    lines: Lines = field(default_factory=Lines)


def cradle_files(
    measurement: Measurement,
    solid: Solid,
    berth: Berth,
    wishes: CradleWishes,
    labels: Labels,
    sheets: SheetWishes,
    remarks: Sequence[Finding] = (),
    options: dict[str, Any] | None = None,
) -> tuple[Checked, Files]:
    """The cradle, and `cradle.pdf`, `cradle.json` and a drawing of each piece, page and view.

    Raises:
        RequestError: an unknown format, a wish that cannot be, or not one piece can be made.
    """
    wanted = formats_known(sheets.formats)
    done = checked(
        plan_cradle(solid, berth, wishes), measurement.outline, measurement.outline_u95, remarks
    )
    files = sheet_files(done, labels, sheets, wanted)
    return done, files | kept_cradle(done, labels, options, files)


def fit_files(done: Checked, labels: Labels) -> Files:
    """The pictures of the fit check alone, SVG by name."""
    drawings = view_drawings(named_views(done), labels.show)
    return {f"{name}.svg": svg_bytes(drawing) for name, drawing in drawings.items()}


def kept_cradle(
    done: Checked, labels: Labels, options: dict[str, Any] | None, files: Iterable[str]
) -> Files:
    """`cradle.json` that goes along with these files."""
    record = cradle_record(
        done, labels.show, labels.instrument, labels.customer, options, [*files, CRADLE_NAME]
    )
    return {CRADLE_NAME: record_bytes(record)}


def sheet_files(done: Checked, labels: Labels, sheets: SheetWishes, wanted: Sequence[str]) -> Files:
    """PDF, SVG and DXF, by name."""
    show = labels.show
    whose = labels.instrument.strip() or "instrument"
    if labels.customer.strip():
        whose += f", for {labels.customer.strip()}"
    cards = [card_of(done, p, whose, show, sheets.lines) for p in done.plan.pieces]
    title = f"Cradle: {whose}"
    spread = lay_out(cards, sheets.paper, sheets.correction)
    files: Files = {}
    if "pdf" in wanted:
        pages = _pages(done, labels, sheets, cards, spread, title)
        files["cradle.pdf"] = pdf_bytes(pages, title, "Pieces at full size: print at 100 %")
    drawings = {_file_name(c): sheet_of(c, f"{title}, {c.piece.name}", title) for c in cards}
    for number, laid in enumerate(spread.pages, start=1):
        words = f"{title}, layout {number}"
        drawings[f"layout-{number}"] = layout_drawing(spread, laid, words)
    drawings |= view_drawings(named_views(done), show)
    for name, drawing in drawings.items():
        if "svg" in wanted:
            files[f"{name}.svg"] = svg_bytes(drawing)
        if "dxf" in wanted:
            files[f"{name}.dxf"] = dxf_bytes(drawing)
    return files


def _file_name(card: Card) -> str:
    return card.piece.name.replace(", ", "-").replace(" ", "-")


def _pages(
    done: Checked,
    labels: Labels,
    sheets: SheetWishes,
    cards: Sequence[Card],
    spread: Spread,
    title: str,
) -> tuple[Drawing, ...]:
    heading = Heading(labels.instrument, labels.customer, labels.note, "Cradle")
    first = first_pages(done, labels.show, heading, sheets.paper)
    singles = [sheet_of(c, f"{title}, {c.piece.name}", title) for c in cards]
    if sheets.one_page:
        return (*first, *(corrected(s, sheets.correction) for s in singles))
    large = [s for s, c in zip(singles, cards, strict=True) if c in spread.large]
    return (
        *first,
        *layout_pages(spread, title, sheets.correction),
        *large_pages(large, sheets.paper, sheets.correction),
    )
