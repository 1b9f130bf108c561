"""Tiles: the pages, laid cross on cross, are the drawing again; nothing is lost or moved."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.drawing.model import Drawing, Line, Stroke
from profiler.drawing.pdf import pdf_bytes
from profiler.drawing.pen import draw
from profiler.drawing.recorder import Mark, Recorder
from profiler.drawing.tiling import (
    Correction,
    Tiling,
    corrected,
    page_map,
    tile,
    tile_name,
    tile_pages,
)
from profiler.paper import PAPERS
from tests.drawing.reading import pdf_pages
from tests.drawing.samples import ELL, drawing

THIN = Stroke(0.01)


def recorded(pages: tuple[Drawing, ...]) -> list[list[Mark]]:
    """The marks of each page."""
    pen = Recorder()
    for page in pages:
        draw(page, pen)
    return [[m for m in pen.marks if m.page == i] for i in range(len(pages))]


def crosses(marks: list[Mark]) -> np.ndarray:
    """(4, 2) mm, the register crosses of a page: lower left, lower right, upper left, upper right.

    Found as a person does, by their two short arms meeting, without asking the tiling.
    """
    lines = [
        np.array(m.item.points)
        for m in marks
        if m.layer == "joins" and isinstance(m.item, Line) and not m.item.stroke.dash
    ]
    flat = [p.mean(axis=0) for p in lines if abs(p[0, 1] - p[1, 1]) < 1e-9]
    found = sorted((round(y, 6), round(x, 6)) for x, y in flat)
    assert len(found) == 4
    return np.array([(x, y) for y, x in found])


def assembled(tiling: Tiling) -> list[shapely.geometry.base.BaseGeometry]:
    """What can be seen of the drawing on all pages, laid cross on cross, mm of paper."""
    pieces = []
    for t, marks in zip(tiling.printed, recorded(tile_pages(tiling)), strict=True):
        corner = crosses(marks)
        step = corner[3] - corner[0]
        # Rows count from the top; the lower left cross of the bottom left page is the origin.
        at = np.array([t.column * step[0], (tiling.rows - 1 - t.row) * step[1]])
        for mark in marks:
            if mark.layer in ("joins", "bars", "notes") or not isinstance(mark.item, Line):
                continue
            points = [*mark.item.points, *(mark.item.points[:1] if mark.item.closed else ())]
            seen = shapely.LineString(points).intersection(shapely.box(*mark.window))
            pieces.append(shapely.transform(seen, lambda p, c=corner[0], a=at: p - c + a))
    return pieces


points = st.tuples(st.floats(1, 799), st.floats(1, 499))


@settings(max_examples=40, deadline=None)
@given(
    chain=st.lists(points, min_size=3, max_size=9, unique=True),
    paper=st.sampled_from(["A4", "Letter", "A3", "A2"]),
    k=st.tuples(st.floats(0.98, 1.02), st.floats(0.98, 1.02)),
)
def test_tiles_reunite_into_the_drawing(
    chain: list[tuple[float, float]], paper: str, k: tuple[float, float]
) -> None:
    sheet = drawing(Line(tuple(chain), THIN, closed=True), width=800.0, height=500.0)
    tiling = tile(sheet, PAPERS[paper], Correction(*k))
    got = shapely.union_all(assembled(tiling))
    want = shapely.transform(shapely.LinearRing(chain), lambda p: p * np.array(k))
    # The grid is laid round the drawing, so only a shift is free: it comes from one corner.
    shift = np.array(want.bounds[:2]) - np.array(got.bounds[:2])
    got = shapely.transform(got, lambda p: p + shift)
    assert shapely.hausdorff_distance(got, want, densify=0.05) < 0.001


@settings(max_examples=60, deadline=None)
@given(
    size=st.tuples(st.floats(50, 1500), st.floats(50, 900)),
    paper=st.sampled_from(sorted(PAPERS)),
    k=st.tuples(st.floats(0.97, 1.03), st.floats(0.97, 1.03)),
)
def test_fields_cover_the_drawing_once(
    size: tuple[float, float], paper: str, k: tuple[float, float]
) -> None:
    sheet = drawing(Line(((0, 0), size)), width=size[0], height=size[1])
    tiling = tile(sheet, PAPERS[paper], Correction(*k))
    boxes = [shapely.box(*t.field) for t in tiling.tiles]
    assert sum(b.area for b in boxes) == pytest.approx(shapely.union_all(boxes).area, rel=1e-9)
    assert shapely.union_all(boxes).buffer(1e-6).contains(shapely.box(0, 0, *size))
    for page, t in zip(tile_pages(tiling), tiling.printed, strict=True):
        assert (page.width, page.height) == (tiling.page.width, tiling.page.height)
        assert not t.empty


def test_empty_tiles_are_left_out_but_shown_on_the_map() -> None:
    # A diagonal leaves corners of the grid empty.
    sheet = drawing(Line(((5, 5), (795, 495)), THIN), width=800.0, height=500.0)
    tiling = tile(sheet, PAPERS["A4"])
    assert 0 < len(tiling.printed) < len(tiling.tiles)
    pen = Recorder()
    draw(drawing(*page_map(tiling, (10, 10), 190, 120)), pen)
    words = [m.item.text for m in pen.marks if hasattr(m.item, "text")]
    assert words.count("empty") == len(tiling.tiles) - len(tiling.printed)
    assert {t.name for t in tiling.printed} <= set(words)
    # whoever fits a page against nothing would wonder: no cut is asked for towards an empty tile
    empty = {t.name for t in tiling.tiles if t.empty}
    for marks in recorded(tile_pages(tiling)):
        for mark in marks:
            text = getattr(mark.item, "text", "")
            assert not (text.startswith("cut here") and text.split()[-1] in empty)


def test_a_printer_that_prints_small_comes_out_true() -> None:
    printer = np.array([0.997, 0.995])  # what this printer makes of 1 mm, across and up
    sheet = drawing(Line(ELL, THIN, closed=True), width=180.0, height=120.0)
    tiling = tile(sheet, PAPERS["A4"], Correction(1 / printer[0], 1 / printer[1]))
    (page,) = tile_pages(tiling)
    paths = pdf_pages(pdf_bytes([page], "page"))[0].paths
    outline = next(p for p in paths if len(p.points) >= len(ELL) and p.stroked)
    on_paper = np.ptp(outline.points, axis=0) * printer
    assert on_paper == pytest.approx([120.0, 80.0], abs=0.02)
    bars = [p for p in paths if p.filled and len(p.points) >= 12]
    lengths = sorted(float((np.ptp(p.points, axis=0) * printer).max()) for p in bars)
    assert lengths == pytest.approx([100.0, 100.0, 101.6], abs=0.02)


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_every_page_has_bars_both_ways(paper: str) -> None:
    sheet = drawing(Line(((0, 0), (1500, 900)), THIN), width=1500.0, height=900.0)
    for page in pdf_pages(pdf_bytes(tile_pages(tile(sheet, PAPERS[paper])), "bars")):
        spans = [np.ptp(p.points, axis=0) for p in page.paths if p.filled and len(p.points) >= 12]
        assert any(abs(s[0] - 100.0) < 0.02 for s in spans)
        assert any(abs(s[1] - 100.0) < 0.02 for s in spans)
        assert any(abs(s.max() - 4 * 25.4) < 0.02 for s in spans)
        for path in page.paths:
            if path.filled:
                assert path.box[0] >= 6.0 and path.box[1] >= 6.0  # printers leave a rim white


def test_one_big_page_can_be_corrected() -> None:
    page = corrected(drawing(Line(ELL, closed=True)), Correction(1.01, 0.99))
    (path,) = pdf_pages(pdf_bytes([page], "big"))[0].paths
    assert np.ptp(path.points, axis=0) == pytest.approx([120 * 1.01, 80 * 0.99], abs=0.02)
    assert (page.width, page.height) == pytest.approx((210 * 1.01, 140 * 0.99))


def test_names_go_on_after_z() -> None:
    assert [tile_name(0, 0), tile_name(25, 2), tile_name(26, 0)] == ["A1", "Z3", "AA1"]


def test_too_many_pages_are_refused() -> None:
    with pytest.raises(ValueError, match="pages of A4"):
        tile(drawing(width=9000.0, height=9000.0), PAPERS["A4"])
