"""The printed mat, as a printer, a person with a rule, and a detector would see it."""

from __future__ import annotations

import re
from functools import cache

import cv2
import numpy as np
import pytest
import shapely

from profiler.drawing.extent import item_shape
from profiler.drawing.model import Area, Text
from profiler.drawing.pdf import pdf_bytes
from profiler.drawing.pen import draw
from profiler.drawing.recorder import Recorder
from profiler.paper import PAPERS
from profiler.pipeline.sheets import design, mat_files
from profiler.plates.mat import mat_drawings, sheet_drawing
from profiler.plates.scale import TICK_WIDTH_MM
from profiler.target.mat import OVERLAP_MM, RIM_MM, MatDesign
from tests.drawing.reading import PdfPage, pdf_pages, rendered
from tests.plates.overlaps import clashes

ROLL = design("roll", roll_width_mm=610.0)
DESIGNS = {name: design(name) for name in PAPERS} | {"roll": ROLL}
TOLERANCE_MM = 0.02


@cache
def pdf(plan: MatDesign) -> bytes:
    return mat_files(plan)["mat.pdf"]


@cache
def pages_of(plan: MatDesign) -> list[PdfPage]:
    return pdf_pages(pdf(plan))


@pytest.fixture(params=sorted(DESIGNS))
def plan(request: pytest.FixtureRequest) -> MatDesign:
    return DESIGNS[request.param]


def test_only_tint_and_targets_in_the_plain_part_and_nothing_in_the_rim(plan: MatDesign) -> None:
    for index in {0, plan.count // 2, plan.count - 1}:
        panel = plan.sheets[index]
        pen = Recorder()
        draw(sheet_drawing(plan, index), pen)
        plain = shapely.box(panel.plain.x0, panel.plain.y0, panel.plain.x1, panel.plain.y1)
        reach = shapely.box(RIM_MM, RIM_MM, panel.width - RIM_MM, panel.height - RIM_MM)
        for mark in pen.marks:
            shape = item_shape(mark.item)
            if mark.layer not in ("tint", "targets"):
                assert not shape.intersects(plain), f"{mark.layer}: {str(mark.item)[:80]}"
            stray = shape.difference(reach).area
            assert stray < 1e-6, f"{mark.layer}: {str(mark.item)[:80]}"


def test_words_are_readable(plan: MatDesign) -> None:
    for page in mat_drawings(plan):
        assert clashes(page) == []


def test_every_sheet_is_a_page_of_its_paper(plan: MatDesign) -> None:
    pages = pages_of(plan)
    assert len(pages) == plan.count + (plan.count > 1)
    for page in pages:
        assert (page.width, page.height) == pytest.approx(
            (plan.sheet_width, plan.sheet_height), abs=TOLERANCE_MM
        )


def test_bars_are_as_long_as_their_labels_say(plan: MatDesign) -> None:
    page = pages_of(plan)[-1]
    bars = [p for p in page.paths if p.filled and len(p.points) in (12, 13)]
    spans = sorted((tuple(np.ptp(b.points, axis=0)) for b in bars), key=lambda s: s[0])
    (upright, flat) = spans
    texts = [i.text for i in sheet_drawing(plan, plan.count - 1).items() if isinstance(i, Text)]
    said = {m[1]: float(m[2]) for t in texts if (m := re.match(r"Bar ([XY]): (\d+) mm", t))}
    assert flat[0] == pytest.approx(said["X"], abs=TOLERANCE_MM)
    assert upright[1] == pytest.approx(said["Y"], abs=TOLERANCE_MM)
    assert said == {"X": plan.bar_x.length, "Y": plan.bar_y.length}


def test_a_detector_finds_every_target_where_the_design_says(plan: MatDesign) -> None:
    """OpenCV's detector and its saddle finder, on PDFium's rendering of the last sheet."""
    dpi = 150.0
    data = pdf_bytes([sheet_drawing(plan, plan.count - 1)], "last")
    grey = cv2.cvtColor(rendered(data, 0, dpi), cv2.COLOR_RGB2GRAY)
    panel = plan.sheets[-1]
    scale = np.array([grey.shape[1] / panel.width, grey.shape[0] / panel.height])
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    found, ids, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(grey)
    assert sorted(np.ravel(ids)) == sorted(c.code for c in panel.clusters)
    by_code = dict(zip(np.ravel(ids), found, strict=True))
    for cluster in panel.clusters:
        # px, (0, 0) at the centre of the top left pixel, y down
        want = cluster.tag_corners() * scale
        want[:, 1] = grey.shape[0] - want[:, 1]
        # the order of the corners tells that the tag stands upright
        assert np.abs(by_code[cluster.code].reshape(4, 2) - (want - 0.5)).max() < 1.5
        saddles = cluster.saddles() * scale
        saddles[:, 1] = grey.shape[0] - saddles[:, 1]
        start = (saddles - 0.5).astype(np.float32).reshape(-1, 1, 2)
        half = (int(2.5 * scale[0]),) * 2
        criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 50, 1e-4)
        sharp = cv2.cornerSubPix(grey, start.copy(), half, (-1, -1), criteria).reshape(-1, 2)
        off_mm = np.linalg.norm((sharp - start.reshape(-1, 2)) / scale, axis=1)
        assert off_mm.max() < 0.03


def test_no_identity_is_printed_twice(plan: MatDesign) -> None:
    codes = [c.code for panel in plan.sheets for c in panel.clusters]
    assert len(codes) == len(set(codes))


def test_ticks_stand_under_their_numbers_and_run_on_over_the_sheets() -> None:
    plan = DESIGNS["A4"]
    for index in (0, 1, plan.columns):
        ox, oy = plan.origin(index)
        layer = next(x for x in sheet_drawing(plan, index).layers if x.name == "scale")
        numbers = [i for i in layer.items if isinstance(i, Text)]
        ticks = [
            shapely.Polygon(r).centroid for i in layer.items if isinstance(i, Area) for r in i.rings
        ]
        assert numbers
        for number in numbers:
            along = number.y + oy if number.angle else number.x + ox
            assert along == pytest.approx(float(number.text), abs=1e-9)
            near = [
                t
                for t in ticks
                if abs((t.y if number.angle else t.x) - along + (oy if number.angle else ox)) < 1e-6
            ]
            assert near
        lower = sorted(t.x for t in ticks if t.y < RIM_MM + 3.2 and t.x > RIM_MM + 13)
        assert np.diff(lower) == pytest.approx(np.ones(len(lower) - 1), abs=1e-9)
    assert TICK_WIDTH_MM < 0.2


def test_overlap_lines_lie_where_the_neighbours_paper_ends() -> None:
    plan = DESIGNS["A4"]
    for index in range(plan.count):
        row, column = divmod(index, plan.columns)
        layer = next(x for x in sheet_drawing(plan, index).layers if x.name == "overlap")
        assert len(layer.items) == (column > 0) + (row > 0)
    x, _ = plan.origin(1)
    left_edge = plan.origin(0)[0] + plan.sheet_width
    assert left_edge - x == pytest.approx(OVERLAP_MM)


def test_the_assembly_page_numbers_every_sheet_and_asks_for_readings() -> None:
    plan = DESIGNS["A4"]
    first = pages_of(plan)[0]
    for number in range(1, plan.count + 1):
        assert re.search(rf"\b{number}\b", first.text)
    for words in ("100 %", "steel rule", "Before taping", "--bar-x", "--bar-y", "My rule reads"):
        assert words in first.text


def test_one_sheet_needs_no_assembly_page() -> None:
    assert len(mat_drawings(ROLL)) == 1


def test_the_same_mat_gives_the_same_bytes() -> None:
    assert mat_files(DESIGNS["A3"]) == mat_files(design("a3"))
