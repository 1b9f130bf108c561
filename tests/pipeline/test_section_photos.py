"""Photos of a gauge, a tracing and a cut card, painted exactly, and photos that show none."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from profiler.errors import ProfilerError
from profiler.instrument.record import missing
from profiler.instrument.sections import Section
from profiler.pipeline.gauge import NoGauge
from profiler.pipeline.scene import NoMat
from profiler.pipeline.section import Place
from profiler.pipeline.traced import (
    NothingLies,
    OverTheEdge,
    TracedWishes,
    TwoThings,
    section_from_photo,
)
from tests.painted_necks import BOARD, card_on_bar, cut_card, gauge, photographed, profile, tracing
from tests.painter import Slab

Array = NDArray[np.float64]

#: a back whose flanks differ
LOPSIDED = np.where(profile()[:, :1] > 0, profile(power=2.0), profile(power=2.9))


def section(photo: Path, is_gauge: bool, **wishes: object) -> Section:
    nothing = missing("not looked at here")
    place = Place(400.0, "neck", nothing, 0.0, nothing)
    return section_from_photo(place, TracedWishes(photo, is_gauge, **wishes))  # type: ignore[arg-type]


def rms(made: Section, true: Array) -> float:
    line = shapely.LineString(true)
    inner = made.points[np.abs(made.points[:, 0]) < 20.0]
    return float(np.sqrt((shapely.distance(line, shapely.points(inner)) ** 2).mean()))


def test_a_gauge(tmp_path: Path) -> None:
    photo = photographed(gauge(LOPSIDED, (395, 245), 13), tmp_path)
    made = section(photo, True, depth=(20.0, 0.2), needle_height=(6.0, 0.5))
    assert rms(made, LOPSIDED) < 0.2
    assert made.source == "gauge" and made.detail == "photo.png" and len(made.photo_sha256) == 64
    said = {f.code: f.message for f in made.findings}
    assert "100 needles, 1.00 mm apart" in said[617] and "upper side" in said[617]
    # mirrored, it is another neck: the two sides are not mixed up
    other = section(photo, True, depth=(20.0, 0.2), needle_height=(6.0, 0.5), from_head=True)
    assert rms(other, LOPSIDED) > 2 * rms(made, LOPSIDED)


def test_the_needles_height_matters(tmp_path: Path) -> None:
    """Needles 6 mm above the mat look 6/470 larger; not knowing that must show."""
    photo = photographed(gauge(profile(), (395, 245), 100), tmp_path)
    right = section(photo, True, depth=(20.0, 0.2), needle_height=(6.0, 0.5))
    wrong = section(photo, True, depth=(20.0, 0.2), needle_height=(30.0, 0.5))
    wide = [float(np.ptp(s.points[:, 0])) for s in (right, wrong)]
    assert wide[0] / wide[1] == pytest.approx((470 - 6) / (470 - 30), rel=0.025)
    unsure = section(photo, True, depth=(20.0, 0.2))
    assert any(f.code == 615 for f in unsure.findings)
    assert np.median(unsure.u95) >= np.median(right.u95)


def test_a_card_on_the_bar_tells_the_needles_height(tmp_path: Path) -> None:
    where = ((395.0, 245.0), 13.0)
    slabs = gauge(profile(), *where, length=95.0)
    photo = photographed(slabs, tmp_path, cards=[card_on_bar(*where)])
    made = section(photo, True, depth=(20.0, 0.2))
    told = next(f.message for f in made.findings if f.code == 615)
    high = float(told.split(" mm high")[0].rsplit(" ", 1)[1])
    assert "card 4" in told and high == pytest.approx(12.0, abs=1.5)
    assert rms(made, profile()) < 0.2


@pytest.mark.parametrize("closed", [False, True])
def test_a_tracing(tmp_path: Path, closed: bool) -> None:
    photo = photographed(tracing(LOPSIDED, (395, 245), -20, closed=closed), tmp_path)
    made = section(photo, False)
    assert rms(made, LOPSIDED) < 0.25
    assert made.depth.value == pytest.approx(20.0, abs=made.depth.u95)
    assert "drawn line" in made.findings[-1].message


@pytest.mark.parametrize("notch", [False, True])
def test_a_cut_card(tmp_path: Path, notch: bool) -> None:
    photo = photographed(cut_card(LOPSIDED, (390, 240), 33, notch), tmp_path)
    made = section(photo, False)
    # the small card's edge crosses a printed target
    assert rms(made, LOPSIDED) < (0.25 if notch else 0.4)
    assert made.width.value == pytest.approx(42.0, abs=made.width.u95)


def block(x0: float, y0: float, x1: float, y1: float) -> Slab:
    return Slab(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]), 0.0, 8.0, BOARD, BOARD)


@pytest.mark.parametrize(
    ("things", "is_gauge", "error", "word"),
    [
        ([], True, NothingLies, "no gauge"),
        ([], False, NothingLies, "no tracing"),
        ([block(340, 200, 460, 280)], True, NoGauge, "row of needles"),
        (
            [
                *gauge(profile(), (330, 245), 5, count=60),
                *gauge(profile(), (480, 245), 5, count=60),
            ],
            True,
            TwoThings,
            "second gauge",
        ),
        (gauge(profile(), (395, 45), 5), True, OverTheEdge, "reaches"),
    ],
)
def test_what_cannot_be_read_says_why(
    tmp_path: Path, things: list[Slab], is_gauge: bool, error: type[ProfilerError], word: str
) -> None:
    photo = photographed(things, tmp_path)
    with pytest.raises(error, match=word):
        section(photo, is_gauge)


def test_no_mat(tmp_path: Path) -> None:
    import cv2

    grey = np.random.default_rng(1).normal(120, 12, (1500, 2000, 3)).clip(0, 255).astype(np.uint8)
    grey[..., 0] = grey[..., 0] // 2
    cv2.imwrite(str(tmp_path / "p.png"), grey)
    with pytest.raises(NoMat, match="no mat"):
        section(tmp_path / "p.png", True)


def test_without_its_record_the_mat_is_recognised(tmp_path: Path) -> None:
    photo = photographed(gauge(profile(), (395, 245), 13), tmp_path)
    (tmp_path / "mat.json").unlink()
    made = section(photo, True, depth=(20.0, 0.2), needle_height=(6.0, 0.5))
    assert [f.code for f in made.findings][:1] == [202]  # the doubt comes first
    assert 201 in {f.code for f in made.findings}
