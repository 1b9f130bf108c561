"""A neck that was turned is told as turned; a body that was not, not; and the ± decides."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pypdfium2
import pytest

from profiler.archive.compare import Comparison, compare
from profiler.instrument.record import Measurement
from profiler.pipeline.comparison import Headings, comparison_files, verdict
from profiler.pipeline.wording import Wording
from tests.docs.comparison import JOINT_MM, neck_turned
from tests.made_up import made_up_measurement


def laid_elsewhere(m: Measurement, angle: float, by: tuple[float, float]) -> Measurement:
    c, s = np.cos(angle), np.sin(angle)
    return replace(m, outline=m.outline @ np.array([[c, s], [-s, c]]) + by)


def part(found: Comparison, name: str) -> tuple[float, float, bool]:
    one = next(p for p in found.parts if p.part == name)
    return one.along, one.sideways, one.moved


@pytest.mark.parametrize("angle", [0.0, 0.02, -0.05])
def test_the_same_laid_elsewhere_is_the_same(angle: float) -> None:
    m = made_up_measurement()
    found = compare(m, laid_elsewhere(m, angle, (4.0, -3.0)))
    assert found.same and found.laid_by == "body"
    assert np.abs(found.difference).max() < 0.05
    assert verdict(found).startswith("Nothing differs")


@pytest.mark.parametrize("degrees", [0.4, -0.6])
def test_a_turned_neck_is_told_with_its_way(degrees: float) -> None:
    """The head's middle goes sideways by sin(angle) times its distance from the joint."""
    m = made_up_measurement()
    now = laid_elsewhere(neck_turned(degrees), 0.01, (1.5, 0.7))
    found = compare(m, now)
    head = m.outline[np.array(m.outline_part) == "headstock"][:, 0]
    wanted = np.sin(np.radians(degrees)) * ((head.min() + head.max()) / 2 - JOINT_MM)
    along, sideways, moved = part(found, "headstock")
    assert sideways == pytest.approx(wanted, abs=0.3) and abs(along) < 0.4 and moved
    assert not part(found, "body")[2] and abs(part(found, "body")[1]) < 0.1
    assert "headstock" in verdict(found) and "body" not in verdict(found)
    assert not found.same


def test_the_uncertainty_decides() -> None:
    """The same half degree is nothing to speak of where both measurements are worse."""
    m = made_up_measurement()
    vague = replace(m, outline_u95=np.full(len(m.outline), 6.0))
    found = compare(vague, neck_turned(0.4))
    assert found.same and not any(p.moved for p in found.parts)
    # u of the difference is the root of the sum of squares (JCGM 100, 5.1.2)
    assert found.u95.min() >= 6.0 and found.u95.max() < np.hypot(6.0, 0.7)


def test_numbers_that_are_not_known_are_not_compared() -> None:
    m = made_up_measurement()
    found = {n.name: n for n in compare(m, m).numbers}
    assert "width, upper bout" not in found and "thickest height" not in found
    grown = replace(m, length=replace(m.length, value=(m.length.value or 0) + 2.0))
    length = next(n for n in compare(m, grown).numbers if n.name == "length")
    assert length.difference == pytest.approx(2.0) and length.exceeds
    assert length.u95 == pytest.approx(np.hypot(0.41, 0.41))
    known = replace(m, height=replace(m.length, value=80.0))
    height = next(n for n in compare(m, known).numbers if n.name == "thickest height")
    assert height.difference is None and height.exceeds is None


def test_the_page_is_drawn_in_either_unit() -> None:
    found = compare(made_up_measurement(), neck_turned(0.4))
    for units, size in (("mm", (297, 210)), ("in", (279.4, 215.9))):
        files = comparison_files(found, Headings("W", "A", "old", "new"), Wording("W", "A", units))
        page = pypdfium2.PdfDocument(files["comparison.pdf"])[0]
        assert np.array(page.get_size()) * 25.4 / 72 == pytest.approx(size, abs=0.1)
        text = page.get_textpage().get_text_bounded()
        assert "more than ±" in text and "headstock" in text
        assert files["comparison.svg"].startswith(b"<")
