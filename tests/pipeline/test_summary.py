"""The summary page, read back by a library that did not write it."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pdfplumber
import pytest

from profiler.findings import Finding, Level
from profiler.instrument.record import Measurement
from profiler.pipeline.report import camera_sentence
from profiler.pipeline.summary import Provenance, summary_pdf
from profiler.pipeline.wording import Wording
from tests.made_up import made_up_measurement, made_up_scene, without_doubt

MEASUREMENT = made_up_measurement()
SOURCE = Provenance(("top-1.jpg",), "abcdef012345", "Camera 1050 mm above the mat.")
MM = 72 / 25.4


def page_of(measurement: Measurement, wording: Wording | None = None) -> pdfplumber.page.Page:
    data = summary_pdf(measurement, SOURCE, wording or Wording("Räkkä", "Maarit Aalto"))
    document = pdfplumber.open(io.BytesIO(data))
    assert len(document.pages) == 1
    return document.pages[0]


def words_of(page: pdfplumber.page.Page) -> str:
    return " ".join(page.extract_text().split())


def test_the_numbers_stand_in_both_units() -> None:
    """Length 605.6 mm is 23.84 in: 23 27/32 to the nearest 1/64."""
    words = words_of(page_of(MEASUREMENT))
    length = MEASUREMENT.length.value
    assert length is not None
    assert f"{length:.1f} ± 0.5 mm" in words  # 0.41 is rounded up
    steps = round(length / 25.4 * 64)
    assert abs(steps / 64 * 25.4 - length) <= 25.4 / 128
    assert f"{steps // 64} " in words
    assert "66.0 ± 0.4 mm" in words and "2 19/32 ± 1/32 in" in words


def test_what_is_not_known_says_why() -> None:
    words = words_of(page_of(MEASUREMENT))
    assert "nobody measured the thickest place" in words
    assert "the body has no second bout" in words


def test_doubt_stands_above_the_numbers() -> None:
    page = page_of(MEASUREMENT)
    words = page.extract_words()
    warned = next(w for w in words if w["text"] == "check" and w["top"] < page.height / 3)
    numbers = next(w for w in words if w["text"] == "inches")
    assert warned["top"] < numbers["top"]
    text = words_of(page)
    assert "The mat's check bars were not read." in text
    assert "The height of the tuners is assumed." in text
    assert "measure again with --force" in text


def test_without_doubt_there_is_no_box() -> None:
    words = words_of(page_of(without_doubt(MEASUREMENT)))
    assert "doubt:" not in words and "--force" not in words and "Less certain" not in words
    assert "88.0 ± 1.0 mm" in words


def test_names_and_sources_are_there() -> None:
    words = words_of(page_of(MEASUREMENT))
    for said in ("Räkkä", "for Maarit Aalto", "top-1.jpg", "card 1 and card 2", "abcdef012345"):
        assert said in words
    assert "steel rule" in words and "profiler template" in words


@pytest.mark.parametrize(("units", "size"), [("mm", (210.0, 297.0)), ("in", (215.9, 279.4))])
def test_paper_and_unit_go_together(units: str, size: tuple[float, float]) -> None:
    page = page_of(MEASUREMENT, Wording(units=units, inch_step=16))
    assert (page.width / MM, page.height / MM) == pytest.approx(size, abs=0.01)
    rows = [w["text"] for w in page.extract_words() if w["text"] in ("mm", "inches")]
    assert rows[0] == ("inches" if units == "in" else "mm")
    text = words_of(page)
    assert "2 5/8 ± 1/16 in" in text and "10/16" not in text
    assert ("B 6 1/16 in" if units == "in" else "B 154.2 mm") in text  # 6.0709 in


def test_the_small_drawing_is_to_scale() -> None:
    """Its outline is a rectangle to pdfplumber: as long and wide as the scale that is written."""
    page = page_of(MEASUREMENT)
    outlines = [c for c in page.curves if len(c["pts"]) > 100 and c["stroke"]]
    points = np.array(outlines[0]["pts"]) / MM
    spread = np.ptp(points, axis=0)
    real = np.ptp(MEASUREMENT.outline, axis=0)
    assert spread[0] / spread[1] == pytest.approx(real[0] / real[1], rel=1e-3)
    text = words_of(page)
    stated = float(text.split("Drawn at 1 : ")[1].split(",")[0])
    assert real[0] / spread[0] == pytest.approx(stated, rel=0.02)
    bar = [r for r in page.rects + page.curves if abs(r["height"] / MM - 1.0) < 0.05]
    left = min(r["x0"] for r in bar)
    right = max(r["x1"] for r in bar)
    assert (right - left) / MM * real[0] / spread[0] == pytest.approx(100.0, rel=0.01)


def test_the_tail_is_left_and_left_is_up() -> None:
    """A lopsided body shows that nothing was mirrored."""
    lopsided = MEASUREMENT.outline.copy()
    bulge = (lopsided[:, 1] > 0) & (lopsided[:, 0] < 200)
    lopsided[bulge, 1] += 15.0
    page = page_of(replace(MEASUREMENT, outline=lopsided))
    points = np.array(next(c for c in page.curves if len(c["pts"]) > 100)["pts"])
    # pdfplumber's y runs down the page
    wide = points[np.abs(points[:, 0] - points[:, 0].min()) < 0.3 * np.ptp(points[:, 0])]
    narrow = points[points[:, 0] > points[:, 0].max() - 0.1 * np.ptp(points[:, 0])]
    axis = np.median(narrow[:, 1])
    assert axis - wide[:, 1].min() > (wide[:, 1].max() - axis) + 0.05 * np.ptp(points[:, 1])


@pytest.mark.parametrize("count", [0, 1, 8, 9, 40])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_any_number_of_warnings_fits_one_page(count: int, units: str) -> None:
    message = "Something that takes a long sentence to say is wrong with the photo. " * 3
    findings = tuple(Finding(400 + i, Level.DOUBT, message) for i in range(count))
    long_name = Wording("W" * 90, "M" * 90, units=units)
    page = page_of(replace(MEASUREMENT, findings=findings), long_name)
    for char in page.chars:
        assert char["x0"] > 8 * MM and char["x1"] < page.width - 8 * MM
        assert char["top"] > 8 * MM and char["bottom"] < page.height - 8 * MM
    foot = max(c["bottom"] for c in page.chars)
    body = sorted({round(c["bottom"], 1) for c in page.chars if c["bottom"] < foot - 1})
    assert body[-1] < foot - 3 * MM
    if count > 8:
        assert "more in measurement.json" in words_of(page)


def test_the_same_page_has_the_same_bytes() -> None:
    one, other = (summary_pdf(MEASUREMENT, SOURCE, Wording("A")) for _ in range(2))
    assert one == other


def test_the_camera_in_words() -> None:
    words = camera_sentence(made_up_scene())
    assert "1050 mm above the mat" in words and "lens from its record" in words


def test_no_width_s_label_lies_over_another() -> None:
    """Three widths within a few millimetres of each other, as at a small head's tuners."""
    widths = {
        name: replace(width, x=490.0 + 3.0 * k)
        for k, (name, width) in enumerate(MEASUREMENT.widths.items())
        if width.value is not None
    }
    assert len(widths) >= 3
    page = page_of(replace(MEASUREMENT, widths=widths))
    # letters over the drawing; those of the table stand further down
    drawn = [w for w in page.extract_words() if w["text"] in "ABCDEFG" and w["x0"] > 60 * MM]
    drawn = drawn[: len(widths)]
    assert len(drawn) == len(widths)
    rows = {round(w["top"]) for w in drawn}
    assert len(rows) == len(widths)
