"""The page of height cards: cut lines, targets, bars and cautions."""

from __future__ import annotations

import itertools

import cv2
import numpy as np
import pytest
import shapely

from profiler.drawing.model import Line
from profiler.drawing.pdf import pdf_bytes
from profiler.errors import RequestError
from profiler.paper import PAPERS
from profiler.pipeline.sheets import CARD_PAPERS, cards_files
from profiler.plates.cards import cards_drawing
from profiler.target.card import BAR_X_MM, BAR_Y_MM, card_panels
from tests.drawing.reading import pdf_pages, rendered
from tests.plates.overlaps import clashes

TOLERANCE_MM = 0.02
RIM_MM = 6.0


@pytest.fixture(params=CARD_PAPERS)
def paper(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def cut_boxes(paper: str) -> list[shapely.Polygon]:
    layer = next(x for x in cards_drawing(PAPERS[paper]).layers if x.name == "cut")
    return [shapely.Polygon(i.points) for i in layer.items if isinstance(i, Line)]


def test_cut_lines_are_the_cards_outlines_and_keep_apart(paper: str) -> None:
    boxes = cut_boxes(paper)
    sizes = [(b.bounds[2] - b.bounds[0], b.bounds[3] - b.bounds[1]) for b in boxes]
    assert sizes == [pytest.approx((p.width, p.height)) for p in card_panels()]
    page = PAPERS[paper]
    reach = shapely.box(RIM_MM, RIM_MM, page.width_mm - RIM_MM, page.height_mm - RIM_MM)
    assert all(reach.contains(b) for b in boxes)
    assert all(a.distance(b) >= 4.0 for a, b in itertools.combinations(boxes, 2))


def test_nothing_but_the_card_is_printed_on_a_card(paper: str) -> None:
    from profiler.drawing.extent import item_shape

    boxes = cut_boxes(paper)
    for layer in cards_drawing(PAPERS[paper]).layers:
        if layer.name in ("targets", "cut"):
            continue
        for item in layer.items:
            shape = item_shape(item)
            assert not any(shape.intersects(b) for b in boxes), item


def test_pdf_cut_lines_and_bars_measure_true(paper: str) -> None:
    (page,) = pdf_pages(cards_files(PAPERS[paper])["cards.pdf"])
    thin = [p for p in page.paths if p.stroked and not p.filled and abs(p.width - 0.1) < 0.01]
    sizes = sorted(tuple(np.ptp(p.points, axis=0).round(3)) for p in thin)
    for panel in card_panels():
        assert any(
            abs(w - panel.width) < TOLERANCE_MM and abs(h - panel.height) < TOLERANCE_MM
            for w, h in sizes
        )
    spans = [np.ptp(p.points, axis=0) for p in page.paths if p.filled and len(p.points) in (12, 13)]
    assert any(abs(s[0] - BAR_X_MM) < TOLERANCE_MM for s in spans)
    assert any(abs(s[1] - BAR_Y_MM) < TOLERANCE_MM for s in spans)


def test_a_detector_finds_every_card(paper: str) -> None:
    dpi = 150.0
    page = PAPERS[paper]
    data = pdf_bytes([cards_drawing(page)], "cards")
    grey = cv2.cvtColor(rendered(data, 0, dpi), cv2.COLOR_RGB2GRAY)
    scale = np.array([grey.shape[1] / page.width_mm, grey.shape[0] / page.height_mm])
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    found, ids, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(grey)
    by_code = {int(i): c.reshape(4, 2) for i, c in zip(np.ravel(ids), found, strict=True)}
    for panel, box in zip(card_panels(), cut_boxes(paper), strict=True):
        for cluster in panel.clusters:
            want = (cluster.tag_corners() + np.array(box.bounds[:2])) * scale
            want[:, 1] = grey.shape[0] - want[:, 1]
            assert np.abs(by_code[cluster.code] - (want - 0.5)).max() < 1.5
    assert len(by_code) == sum(len(p.clusters) for p in card_panels())


def test_words_are_readable_and_say_what_matters(paper: str) -> None:
    assert clashes(cards_drawing(PAPERS[paper])) == []
    (page,) = pdf_pages(cards_files(PAPERS[paper])["cards.pdf"])
    text = " ".join(page.text.split())
    for words in (
        "100 %",
        "shellac",
        "nitrocellulose",
        "fresh varnish",
        "never slide",
        "clean sheet",
        "soundboard",
        "headstock",
        "not over the edge",
        "stiff card",
        "thickness",
        "steel rule",
        "cards.json --bar-x 169.6mm --bar-y 219.8mm",
    ):
        assert words in text, words
    for number in range(1, len(card_panels()) + 1):
        assert f"card {number}" in text


def test_other_paper_is_refused() -> None:
    with pytest.raises(RequestError, match="A4 or Letter"):
        cards_files(PAPERS["A3"])


def test_the_same_cards_give_the_same_bytes() -> None:
    assert cards_files(PAPERS["A4"]) == cards_files(PAPERS["A4"])
