"""From a wish to the files of a printed sheet: bytes by file name, nothing written yet."""

from __future__ import annotations

import re
from collections.abc import Iterable

from profiler.drawing.dxf import dxf_bytes
from profiler.drawing.model import Drawing
from profiler.drawing.pdf import pdf_bytes
from profiler.drawing.svg import svg_bytes
from profiler.drawing.tiling import Correction, corrected
from profiler.errors import RequestError
from profiler.instrument.record import Measurement
from profiler.jobs.records import cards_record, checked_reading, mat_record, record_bytes
from profiler.paper import Paper, paper_named
from profiler.plates.barpage import bar_page
from profiler.plates.cards import cards_drawing
from profiler.plates.mat import mat_drawings
from profiler.plates.notes import Wishes
from profiler.plates.template import template_drawing
from profiler.plates.tiled import tiled_template
from profiler.target.card import THICKNESS_MM
from profiler.target.mat import (
    DEFAULT_HEIGHT_MM,
    DEFAULT_TINT,
    DEFAULT_UPRIGHT_MM,
    DEFAULT_WIDTH_MM,
    MatDesign,
    design_mat,
    design_upright,
)

Files = dict[str, bytes]

FORMATS = ("pdf", "svg", "dxf")
#: papers that hold all the height cards on one page
CARD_PAPERS = ("A4", "Letter")
TINTS = {"blue": DEFAULT_TINT, "green": "#bfe3b4", "peach": "#f6cba8"}
#: relative luminance of the darkest ground, and least spread between its colour channels
DARKEST_TINT = 0.35
LEAST_COLOUR = 0.1
ROLL_LIMITS_MM = (200.0, 3000.0)
#: PDF readers refuse pages above 200 in
LONGEST_PAGE_MM = 5080.0


def design(
    paper: str,
    roll_width_mm: float | None = None,
    width_mm: float | None = None,
    height_mm: float | None = None,
    tint: str = "blue",
) -> MatDesign:
    """The mat that was asked for.

    Args:
        paper: a name, or 'roll', which needs `roll_width_mm`.
        width_mm, height_mm: least size of the whole mat; None for the default.
        tint: a name of `TINTS` or #rrggbb.

    Raises:
        RequestError: a paper, size or tint that makes no sense.
    """
    colour = tint_named(tint)
    width = DEFAULT_WIDTH_MM if width_mm is None else width_mm
    height = DEFAULT_HEIGHT_MM if height_mm is None else height_mm
    if paper.strip().lower() != "roll":
        if roll_width_mm is not None:
            raise RequestError("--roll-width goes with --paper roll only.")
        return design_mat(paper_named(paper), width, height, colour)
    if roll_width_mm is None:
        raise RequestError("Paper from a roll needs its width, as --roll-width 24in.")
    low, high = ROLL_LIMITS_MM
    if not low <= roll_width_mm <= high:
        raise RequestError(
            f"A roll {roll_width_mm:.0f} mm wide cannot be used: {low:.0f} to {high:.0f} mm."
        )
    # Strips of the roll may run along the mat or across it.
    plans = [
        design_mat(Paper("roll", roll_width_mm, max(length, low)), width, height, colour)
        for length in (width, height)
    ]
    return min(plans, key=lambda d: (d.count, d.width * d.height))


def design_row(paper: str, width_mm: float | None = None, tint: str = "blue") -> MatDesign:
    """The row of sheets that stands behind an instrument for a side view; as `design`."""
    if paper.strip().lower() == "roll":
        raise RequestError("An upright row is printed on sheets: take --paper A4, Letter or A3.")
    width = DEFAULT_UPRIGHT_MM if width_mm is None else width_mm
    return design_upright(paper_named(paper), width, tint_named(tint))


def tint_named(tint: str) -> str:
    """#rrggbb of a ground that targets and instruments stand out from.

    Raises:
        RequestError: no colour, too dark for the targets, or hardly a tint.
    """
    text = tint.strip().lower()
    colour = TINTS.get(text, text)
    if not re.fullmatch("#[0-9a-f]{6}", colour):
        raise RequestError(f"'{tint}' is no tint: give {', '.join(TINTS)} or #rrggbb.")
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    # Relative luminance as sRGB defines it (IEC 61966-2-1), with its plain 2.2 power law.
    light = sum(k * p**2.2 for k, p in zip((0.2126, 0.7152, 0.0722), parts, strict=True))
    if light < DARKEST_TINT:
        raise RequestError(
            f"The tint {colour} is too dark: black targets would not stand out. Take a pale one,"
            f" as {TINTS['blue']}."
        )
    if max(parts) - min(parts) < LEAST_COLOUR:
        raise RequestError(
            f"The tint {colour} is hardly a colour: pale binding would vanish on it. Take a pale"
            f" but clear one, as {TINTS['blue']}."
        )
    return colour


def mat_files(design: MatDesign, read_x: float | None = None, read_y: float | None = None) -> Files:
    """`mat.pdf` and its record `mat.json`; `upright.pdf` and `upright.json` of an upright row.

    Raises:
        RequestError: the sheet is longer than a PDF page can be.
        SceneError: readings that no print at 100 % can give.
    """
    if max(design.sheet_width, design.sheet_height) > LONGEST_PAGE_MM:
        raise RequestError(
            f"A sheet of {max(design.sheet_width, design.sheet_height):.0f} mm is longer than a PDF"
            f" page can be ({LONGEST_PAGE_MM:.0f} mm). Ask for a smaller mat."
        )
    record = record_bytes(mat_record(design, read_x, read_y))
    name = "upright" if design.upright else "mat"
    title = f"profiler {name}, {design.paper.name}, {design.count} sheets"
    return {
        f"{name}.pdf": pdf_bytes(mat_drawings(design), title, "Print at 100 %, one-sided"),
        f"{name}.json": record,
    }


def cards_files(
    paper: Paper,
    read_x: float | None = None,
    read_y: float | None = None,
    thickness_mm: float | None = None,
) -> Files:
    """`cards.pdf` and its record `cards.json`.

    Raises:
        RequestError: a paper on which the cards do not fit.
        SceneError: readings that no print at 100 % can give.
    """
    if paper.name not in CARD_PAPERS:
        raise RequestError(
            f"The height cards are made for {' or '.join(CARD_PAPERS)}, not for {paper.name}."
        )
    thick = THICKNESS_MM if thickness_mm is None else thickness_mm
    record = record_bytes(cards_record(read_x, read_y, thick))
    title = f"profiler height cards, {paper.name}"
    return {
        "cards.pdf": pdf_bytes([cards_drawing(paper)], title, "Print at 100 %, one-sided"),
        "cards.json": record,
    }


def bar_page_files(paper: Paper) -> Files:
    """`bars.pdf`, to measure a printer with.

    Raises:
        RequestError: paper from a roll has no page.
    """
    title = f"profiler bar page, {paper.name}"
    return {"bars.pdf": pdf_bytes([bar_page(paper)], title, "Print at 100 %, one-sided")}


def correction_from_readings(
    read_x: float | None, read_y: float | None, bar_mm: float = 100.0
) -> Correction:
    """What a printer needs that shows a bar of `bar_mm` as these lengths.

    Args:
        read_x, read_y: mm across and up the page; None where nobody read.

    Raises:
        SceneError: readings that no print at 100 % can give.
    """
    x = bar_mm / checked_reading(bar_mm, read_x, "across") if read_x is not None else 1.0
    y = bar_mm / checked_reading(bar_mm, read_y, "up") if read_y is not None else 1.0
    return Correction(x, y)


def template_files(
    measurement: Measurement,
    wishes: Wishes,
    formats: Iterable[str] = FORMATS,
    paper: Paper | None = None,
    correction: Correction | None = None,
) -> Files:
    """`template.pdf`, `template.svg`, `template.dxf`, as asked.

    Args:
        measurement: of the instrument.
        wishes: clearance and names.
        formats: of `FORMATS`.
        paper: tile the PDF on this; None for one page as big as it takes.
        correction: of the user's printer; it touches the PDF only, since machines need none.

    Raises:
        RequestError: an unknown format, a clearance or paper that makes no sense.
        OutlineError: an outline that cannot be cut.
    """
    wanted = list(dict.fromkeys(formats))
    for name in wanted:
        if name not in FORMATS:
            raise RequestError(f"No format is called '{name}'. Known: {', '.join(FORMATS)}.")
    if not wanted:
        raise RequestError(f"No format was asked for. Known: {', '.join(FORMATS)}.")
    correction = correction or Correction()
    files: Files = {}
    if "pdf" in wanted:
        if paper is None:
            whole = template_drawing(measurement, wishes, whole_cut=False)
            pages: tuple[Drawing, ...] = (corrected(whole, correction),)
        else:
            pages = tiled_template(measurement, wishes, paper, correction)
        files["template.pdf"] = pdf_bytes(pages, pages[0].title, "Cutting template at full size")
    if "svg" in wanted or "dxf" in wanted:
        drawing = template_drawing(measurement, wishes, whole_cut=True)
        if "svg" in wanted:
            files["template.svg"] = svg_bytes(drawing)
        if "dxf" in wanted:
            files["template.dxf"] = dxf_bytes(drawing)
    return files
