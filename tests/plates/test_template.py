"""The template as files, read back by others: geometry, words, marks, and what is in doubt."""

from __future__ import annotations

import dataclasses
import io
from functools import cache

import ezdxf
import numpy as np
import pikepdf
import pytest
import shapely
import svgpathtools

from profiler.drawing.tiling import Correction
from profiler.errors import RequestError
from profiler.findings import Finding, Level
from profiler.instrument.record import Quantity, Stretch, missing
from profiler.paper import PAPERS
from profiler.pipeline.sheets import correction_from_readings, template_files
from profiler.plates.figures import in_inches, in_mm
from profiler.plates.notes import Wishes
from profiler.plates.template import shape_drawing, template_drawing
from profiler.plates.tiled import tiled_template
from tests.drawing.reading import Found, pdf_pages
from tests.drawing.samples import AWKWARD_NAMES
from tests.plates.overlaps import clashes
from tests.plates.shapes import guitarish, measurement
from tests.plates.test_offset import clipper

CLEARANCE_MM = 3.0
TOLERANCE_MM = 0.02
WISHES = Wishes(CLEARANCE_MM, "Four-string No. 7", "A. Maker")


@cache
def files(doubtful: bool) -> dict[str, bytes]:
    return template_files(measurement(doubtful=doubtful), WISHES)


def cut_by_clipper() -> shapely.Polygon:
    return clipper(guitarish(), CLEARANCE_MM)


def matches(points: np.ndarray, want: shapely.Polygon) -> float:
    """Largest distance, mm, once both have their lower left corners together."""
    got = shapely.LinearRing(points)
    got = shapely.transform(got, lambda p: p - np.array(got.bounds[:2]) + np.array(want.bounds[:2]))
    return float(shapely.hausdorff_distance(got, want.exterior, densify=0.5))


def thick(paths: tuple[Found, ...]) -> list[Found]:
    """The cut line on paper is the thick one."""
    return [p for p in paths if p.stroked and abs(p.width - 0.45) < 0.01]


def test_pdf_cut_line_is_the_true_offset() -> None:
    (page,) = pdf_pages(files(False)["template.pdf"])
    cut = max(thick(page.paths), key=lambda p: len(p.points))
    assert matches(cut.points, cut_by_clipper()) < TOLERANCE_MM


def test_the_check_sees_a_template_without_clearance() -> None:
    (page,) = pdf_pages(
        template_files(measurement(doubtful=False), Wishes(0.0), ["pdf"])["template.pdf"]
    )
    cut = max(thick(page.paths), key=lambda p: len(p.points))
    assert matches(cut.points, cut_by_clipper()) > CLEARANCE_MM


def test_doubt_is_dashed_and_said_on_paper() -> None:
    (page,) = pdf_pages(files(True)["template.pdf"])
    cut = [p for p in thick(page.paths) if len(p.points) > 2]
    assert sum(p.dashed for p in cut) == 2
    assert not all(p.dashed for p in cut)
    joined = shapely.union_all([shapely.LineString(p.points) for p in cut])
    length = cut_by_clipper().exterior.length
    assert joined.length == pytest.approx(length, rel=1e-4)
    text = " ".join(page.text.split())
    for words in (
        "In doubt",
        "tuner height not known",
        "the edge is in shadow",
        "dashed: in doubt",
    ):
        assert words in text
    (sound,) = pdf_pages(files(False)["template.pdf"])
    assert "In doubt" not in sound.text
    assert not any(p.dashed for p in thick(sound.paths) if len(p.points) > 2)


def test_numbers_cautions_and_names_are_on_the_sheet() -> None:
    (page,) = pdf_pages(files(True)["template.pdf"])
    text = " ".join(page.text.split())
    for words in (
        "Four-string No. 7",
        "A. Maker",
        "3 mm clearance",
        "640.0 ± 0.5 mm",
        "25 13/64 ± 1/32 in",
        "not known: no side view and no height was given",
        "not known: the joint was not found",
        "steel rule",
        "Dry-fit",
        "jig",
        "blade",
        "dust",
        "manual",
        "local rules",
    ):
        assert words in text, words


def test_bars_measure_true() -> None:
    (page,) = pdf_pages(files(True)["template.pdf"])
    spans = [np.ptp(p.points, axis=0) for p in page.paths if p.filled and len(p.points) in (12, 13)]
    assert sorted(float(s.max()) for s in spans) == pytest.approx([100, 100, 101.6], abs=0.02)
    assert sum(s[1] > s[0] for s in spans) == 1


def test_centreline_and_stations_lie_where_they_were_measured() -> None:
    m = measurement(doubtful=False)
    drawing = shape_drawing(m, WISHES, whole_cut=True)
    layers = {x.name: x.items for x in drawing.layers}
    outline = np.array(layers["instrument"][0].points)
    shift = outline - m.outline
    assert np.ptp(shift, axis=0).max() < 1e-9
    dx, dy = shift[0]
    (centre,) = layers["centreline"]
    assert {round(y - dy, 9) for _, y in centre.points} == {0.0}
    across = [
        np.array(i.points) - shift[0]
        for i in layers["station"]
        if len(i.points) == 2 and abs(i.points[0][0] - i.points[1][0]) < 1e-9
    ]
    for quantity in m.widths.values():
        if quantity.value is None:
            continue
        line = [p for p in across if abs(p[0, 0] - quantity.x) < 1e-6 and np.ptp(p[:, 1]) > 30]
        assert len(line) == 1
        assert np.ptp(line[0][:, 1]) == pytest.approx(quantity.value, abs=2.5)
    marks = {round(p[0, 0], 6) for p in across if np.ptp(p[:, 1]) == pytest.approx(6.0)}
    assert marks == {float(x) for x in range(0, 641, 50)}
    texts = {i.text: i for i in layers["text"] if hasattr(i, "text")}
    assert texts["350"].x - dx == pytest.approx(350, abs=2)


def test_svg_cut_is_one_closed_path_in_its_layer() -> None:
    text = files(True)["template.svg"].decode()
    cut = text[text.index('<g id="cut">') :].split("</g>")[0] + "</g>"
    paths, _ = svgpathtools.svgstr2paths(f'<svg xmlns="http://www.w3.org/2000/svg">{cut}</svg>')
    (path,) = paths
    assert path.isclosed()
    points = np.array([(s.start.real, -s.start.imag) for s in path])
    assert matches(points, cut_by_clipper()) < TOLERANCE_MM
    assert '<g id="doubt">' in text
    assert '<g id="doubt">' not in files(False)["template.svg"].decode()


def test_dxf_cut_is_one_closed_polyline_and_audits_clean() -> None:
    document = ezdxf.read(io.StringIO(files(True)["template.dxf"].decode()))
    auditor = document.audit()
    assert not auditor.errors and not auditor.fixes
    assert document.header["$INSUNITS"] == 4
    (cut,) = document.modelspace().query('*[layer=="cut"]')
    assert cut.dxftype() == "LWPOLYLINE" and cut.closed
    points = np.array([p[:2] for p in cut.get_points()])
    assert matches(points, cut_by_clipper()) < TOLERANCE_MM
    layers = {e.dxf.layer for e in document.modelspace()}
    assert {"cut", "instrument", "centreline", "station", "text", "doubt"} <= layers


def test_tiles_carry_the_same_cut_line() -> None:
    k = Correction(1.003, 0.998)
    data = template_files(measurement(doubtful=False), WISHES, ["pdf"], PAPERS["A4"], k)
    first, *pages = pdf_pages(data["template.pdf"])
    assert "A1" in first.text and "cut here" in first.text
    total = 0.0
    for page in pages:
        assert (page.width, page.height) == pytest.approx((297.0, 210.0), abs=TOLERANCE_MM)
        for path in thick(page.paths):
            if len(path.points) < 100:
                continue
            # every page holds the whole path; the clip hides the rest
            points = path.points / np.array([k.x, k.y])
            assert matches(points, cut_by_clipper()) < TOLERANCE_MM
            total += 1
    assert total == len(pages)
    with pikepdf.open(io.BytesIO(data["template.pdf"])) as document:
        assert document.Root.ViewerPreferences.PrintScaling == "/None"


@pytest.mark.parametrize("name", AWKWARD_NAMES, ids=range(len(AWKWARD_NAMES)))
def test_awkward_names_neither_break_nor_spoil_the_sheet(name: str) -> None:
    m = measurement(guitarish(count=300), reason=name)
    wishes = Wishes(2.0, name, name)
    made = template_files(m, wishes)
    assert len(pdf_pages(made["template.pdf"])) == 1
    svgpathtools.svgstr2paths(made["template.svg"].decode())
    assert not ezdxf.read(io.StringIO(made["template.dxf"].decode())).audit().errors
    assert clashes(template_drawing(m, wishes, whole_cut=False)) == []
    for page in tiled_template(m, wishes, PAPERS["A4"], Correction()):
        assert clashes(page) == []


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("length", [480.0, 640.0, 1040.0])
def test_words_are_readable_on_every_paper(paper: str, length: float) -> None:
    m = measurement(guitarish(count=400, length=length, bout=0.36 * length))
    for page in tiled_template(m, WISHES, PAPERS[paper], Correction()):
        assert clashes(page) == []
    assert clashes(template_drawing(m, WISHES, whole_cut=True)) == []


def test_remarks_that_shake_a_number_are_on_the_sheet() -> None:
    findings = (
        Finding(210, Level.CAUTION, "The print scale was not read.", "mat"),
        Finding(301, Level.NOTE, "All is well."),
        Finding(501, Level.DOUBT, "The body's height is a guess."),
    )
    m = dataclasses.replace(measurement(), findings=findings)
    (page,) = pdf_pages(template_files(m, WISHES, ["pdf"])["template.pdf"])
    text = " ".join(page.text.split())
    assert "mat: The print scale was not read." in text
    assert "The body's height is a guess." in text
    assert "All is well" not in text


def test_many_doubts_are_summed_up() -> None:
    m = dataclasses.replace(
        measurement(), findings=(Finding(501, Level.DOUBT, "A guess, at length. " * 40),) * 9
    )
    stretches = tuple(Stretch(i * 50, i * 50 + 20, f"reason {i}") for i in range(30))
    m = dataclasses.replace(m, doubtful=stretches)
    assert clashes(tiled_template(m, WISHES, PAPERS["A4"], Correction())[0]) == []
    (page,) = pdf_pages(template_files(m, WISHES, ["pdf"])["template.pdf"])
    assert "and 23 more" in page.text


def test_the_same_template_gives_the_same_bytes() -> None:
    assert template_files(measurement(), WISHES) == files(True)
    tiled = [template_files(measurement(), WISHES, ["pdf"], PAPERS["A4"]) for _ in range(2)]
    assert tiled[0] == tiled[1]


@pytest.mark.parametrize("formats", [["png"], [], ["pdf", "stl"]])
def test_unknown_formats_are_refused(formats: list[str]) -> None:
    with pytest.raises(RequestError, match="format"):
        template_files(measurement(), WISHES, formats)


def test_correction_makes_up_for_the_reading() -> None:
    k = correction_from_readings(99.7, None)
    assert (k.x * 0.997, k.y) == (pytest.approx(1.0), 1.0)


def test_uncertainty_is_rounded_up_and_a_missing_number_says_nothing() -> None:
    assert in_mm(Quantity(618.24, 0.41)) == "618.2 ± 0.5 mm"
    assert in_mm(Quantity(618.24, 0.40)) == "618.2 ± 0.4 mm"
    # 1/64 in is 0.397 mm
    assert in_inches(Quantity(254.0, 0.39)) == "10 ± 1/64 in"
    assert in_inches(Quantity(254.0, 0.41)) == "10 ± 1/32 in"
    assert in_mm(missing("why")) == in_inches(missing("why")) == ""


def test_a_width_that_leaves_something_out_has_a_line_of_its_own_length() -> None:
    m = measurement(doubtful=False)
    x = m.widths["lower bout"].x
    assert x is not None
    widths = {**m.widths, "lower bout": Quantity(150.0, 0.4, x=x)}
    drawing = shape_drawing(dataclasses.replace(m, widths=widths), WISHES, whole_cut=True)
    lines = next(layer.items for layer in drawing.layers if layer.name == "station")
    lengths = [np.ptp(np.array(i.points)[:, 1]) for i in lines if len(i.points) == 2]
    assert any(length == pytest.approx(150.0) for length in lengths)
