"""PDF pages measured by pdfplumber, pikepdf and PDFium, none of which wrote them."""

from __future__ import annotations

import io
import os
import subprocess
import sys

import numpy as np
import pikepdf
import pytest

from profiler.drawing.model import Area, Drawing, Inset, Layer, Line, Stroke, rectangle
from profiler.drawing.pdf import pdf_bytes
from profiler.paper import PAPERS
from tests.drawing.reading import MM, pdf_pages, rendered
from tests.drawing.samples import AWKWARD_NAMES, ELL, drawing, plain, with_name

#: what the program promises of printed geometry, mm
TOLERANCE_MM = 0.02

#: ISO 216 for the A series, ASME Y14.1 for Letter (A) and Tabloid (B); both secondary copies
PUBLISHED_MM = {
    "A0": (841.0, 1189.0),
    "A1": (594.0, 841.0),
    "A2": (420.0, 594.0),
    "A3": (297.0, 420.0),
    "A4": (210.0, 297.0),
    "Letter": (8.5 * 25.4, 11.0 * 25.4),
    "Tabloid": (11.0 * 25.4, 17.0 * 25.4),
}
#: ISO 32000-1 8.3.2.3: a unit is 1/72 in, so A4 is this many units
A4_UNITS = (595.276, 841.890)


def media_box(data: bytes) -> list[float]:
    with pikepdf.open(io.BytesIO(data)) as document:
        return [float(v) for v in document.pages[0].MediaBox]


@pytest.mark.parametrize("name", sorted(PUBLISHED_MM))
def test_pages_have_the_published_sizes(name: str) -> None:
    paper = PAPERS[name]
    data = pdf_bytes([drawing(width=paper.width_mm, height=paper.height_mm)], "sizes")
    box = media_box(data)
    assert np.allclose(np.array(box[2:]) * MM, PUBLISHED_MM[name], atol=TOLERANCE_MM / 2)
    assert box[:2] == [0, 0]


def test_a4_in_pdf_units() -> None:
    data = pdf_bytes([drawing(width=210.0, height=297.0)], "A4")
    box = media_box(data)
    assert box[2:] == pytest.approx(A4_UNITS, abs=0.001)


def test_line_and_area_lie_where_they_were_drawn() -> None:
    page = pdf_pages(pdf_bytes([plain()], "plain"))[0]
    line = next(p for p in page.paths if p.stroked)
    assert np.abs(line.points[: len(ELL)] - np.array(ELL)).max() < TOLERANCE_MM
    assert line.width == pytest.approx(0.2, abs=0.001)
    bar = next(p for p in page.paths if p.filled)
    assert bar.box == pytest.approx([30.0, 8.0, 130.0, 9.0], abs=TOLERANCE_MM)


def test_the_check_fails_on_a_print_that_is_out_by_a_thousandth() -> None:
    wrong = Drawing(
        "out",
        210,
        140,
        (Layer("cut", (Inset(plain(), (0, 0, 210, 140), (0, 0), (1.001, 1.001)),)),),
    )
    line = next(p for p in pdf_pages(pdf_bytes([wrong], "out"))[0].paths if p.stroked)
    assert np.abs(line.points[: len(ELL)] - np.array(ELL)).max() > 5 * TOLERANCE_MM


def test_raster_of_an_area_has_its_edges_in_place() -> None:
    # 3 x 2 in, so that PDFium's bitmap has whole pixels and does not stretch the page.
    sheet = drawing(Area((rectangle(10.0, 20.0, 70.0, 40.0),)), width=76.2, height=50.8)
    dark = 1.0 - rendered(pdf_bytes([sheet], "raster"), 0, 2400)[..., 0] / 255.0
    px_mm = 25.4 / 2400
    row, column = dark[dark.shape[0] // 2], dark[:, dark.shape[1] // 2]
    assert row.sum() * px_mm == pytest.approx(60.0, abs=TOLERANCE_MM)
    assert column.sum() * px_mm == pytest.approx(20.0, abs=TOLERANCE_MM)
    assert np.flatnonzero(row > 0.5)[0] * px_mm == pytest.approx(10.0, abs=TOLERANCE_MM)
    assert np.flatnonzero(column > 0.5)[0] * px_mm == pytest.approx(10.8, abs=TOLERANCE_MM)


def test_touching_rings_of_one_area_leave_no_seam() -> None:
    # The join falls in the middle of a pixel, where two fills would let a grey line through.
    rings = (rectangle(20.0, 20.0, 60.03, 60.0), rectangle(60.03, 20.0, 100.0, 60.0))
    image = rendered(pdf_bytes([drawing(Area(rings))], "seam"), 0, 150)
    row = image[image.shape[0] - round(40 / 25.4 * 150), :, 0]
    inside = row[round(22 / 25.4 * 150) : round(98 / 25.4 * 150)]
    assert inside.max() <= 2


def test_printing_is_preset_to_true_size() -> None:
    document = pikepdf.open(io.BytesIO(pdf_bytes([plain(), plain()], "two <pages>")))
    preferences = document.Root.ViewerPreferences
    assert preferences.PrintScaling == "/None"  # ISO 32000-1, table 150
    assert preferences.Duplex == "/Simplex"
    assert all("/UserUnit" not in page for page in document.pages)
    assert len(document.pages) == 2
    assert str(document.docinfo["/Title"]) == "two <pages>"


def test_text_can_be_searched() -> None:
    page = pdf_pages(pdf_bytes([plain()], "plain"))[0]
    assert "lower left" in page.text
    assert "Größe ½ ±" in page.text
    word = next(w for w in page.words if w[0] == "lower")
    assert word[1] == pytest.approx(40.0, abs=0.5)


@pytest.mark.parametrize("name", AWKWARD_NAMES, ids=range(len(AWKWARD_NAMES)))
def test_any_name_gives_a_sound_file(name: str) -> None:
    data = pdf_bytes([with_name(name)], name)
    page = pdf_pages(data)[0]
    line = next(p for p in page.paths if p.stroked)
    assert np.abs(line.points[: len(ELL)] - np.array(ELL)).max() < TOLERANCE_MM
    assert pikepdf.open(io.BytesIO(data)).check_pdf_syntax() == []
    rendered(data, 0, 36)


def test_fonts_travel_inside() -> None:
    document = pikepdf.open(io.BytesIO(pdf_bytes([plain()], "fonts")))
    fonts = [f for f in document.pages[0].Resources.Font.values() if "/FontDescriptor" in f]
    used = [f for f in fonts if "Vera" in str(f.BaseFont)]
    assert used
    assert all("/FontFile2" in f.FontDescriptor for f in used)


SCRIPT = """
import sys
from profiler.drawing.{module} import {function}
from tests.drawing.samples import plain
sys.stdout.buffer.write({call})
"""


@pytest.mark.parametrize(
    ("module", "call"),
    [
        ("pdf", "pdf_bytes([plain()], 'same')"),
        ("svg", "svg_bytes(plain())"),
        ("dxf", "dxf_bytes(plain())"),
    ],
)
def test_another_process_writes_the_same_bytes(module: str, call: str) -> None:
    script = SCRIPT.format(module=module, function=call.split("(")[0], call=call)
    results = [
        subprocess.run(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONHASHSEED": seed, "TZ": zone},
            capture_output=True,
            check=True,
        ).stdout
        for seed, zone in (("1", "UTC"), ("2", "Asia/Tokyo"))
    ]
    assert results[0]
    assert results[0] == results[1]


def test_dashes_reach_the_page() -> None:
    line = Line(((10, 10), (100, 10)), Stroke(0.3, dash=(4.0, 2.0)))
    page = pdf_pages(pdf_bytes([drawing(line)], "dash"))[0]
    assert page.paths[0].dashed
