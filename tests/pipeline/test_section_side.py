"""What a photo from the side adds to sections and cradle, and that what was typed goes first."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from profiler.errors import RequestError
from profiler.instrument.neck import underside_at
from profiler.instrument.record import Measurement, Quantity, SideProfile, missing
from profiler.pipeline.section import headstock_of, place_on, section_by_word
from tests.made_up import made_up_measurement

#: underside at 390 mm and its fall per mm, mm; its u95
LOW, FALL, U95 = 44.0, -0.03, 0.8


def with_side(slip: float = 0.0, gap: bool = False) -> Measurement:
    """The underside of the neck is seen from 300 to 500 mm, with a little noise and one slip."""
    x = np.arange(0.0, 620.0, 2.0)
    low = LOW + FALL * (x - 390.0) + np.random.default_rng(5).normal(0, 0.1, len(x))
    on_neck = (x > 300) & (x < 500)
    if gap:
        on_neck &= np.abs(x - 390.0) > 15.0
    low[np.argmin(np.abs(x - 392.0))] += slip
    empty = np.full(len(x), np.nan)
    nothing = missing("not told")
    side = SideProfile(
        "side-1.jpg", x, empty, empty, np.where(on_neck, low, np.nan),
        np.where(on_neck, U95, np.nan), ("",) * len(x),
        tuple("neck" if on else "" for on in on_neck), nothing, nothing, nothing, nothing, nothing,
        nothing,
    )  # fmt: skip
    return replace(made_up_measurement(), side=side)


@pytest.mark.parametrize("slip", [0.0, 6.0])
def test_the_underside_is_read_past_a_slip(slip: float) -> None:
    seen = underside_at(with_side(slip), 390.0)
    assert seen.value == pytest.approx(LOW, abs=0.15) and seen.u95 == U95


def test_nothing_is_carried_across_a_gap_or_past_the_end() -> None:
    assert not underside_at(with_side(gap=True), 390.0)
    assert not underside_at(with_side(), 505.0)
    assert "measure --side" in underside_at(made_up_measurement(), 390.0).reason


def test_face_and_underside_give_the_depth() -> None:
    section = section_by_word(place_on(with_side(), (), 390.0), "round")
    assert section.depth.value == pytest.approx(66.0 - LOW, abs=0.15)
    assert section.depth.u95 == pytest.approx(np.hypot(1.5, U95), rel=0.01)
    assert [f.code for f in section.findings] == [610, 619]
    with pytest.raises(RequestError, match="measure --side"):
        section_by_word(place_on(made_up_measurement(), (), 390.0), "round")


def test_a_typed_depth_goes_first_and_lifts_the_face_where_that_is_surer() -> None:
    section = section_by_word(place_on(with_side(), (), 390.0), "round", (21.0, 0.3))
    assert section.depth.value == 21.0 and section.depth.u95 == 0.3
    assert section.face_height.value == pytest.approx(LOW + 21.0, abs=0.15)
    assert "side-1.jpg" in section.face_height.mostly
    # a card that knows the face better than that stays
    unsure = section_by_word(place_on(with_side(), (), 390.0), "round", (21.0, 4.0))
    assert unsure.face_height.value == 66.0


def test_a_typed_height_goes_first() -> None:
    place = place_on(with_side(), (), 390.0, face_height=(64.0, 3.0))
    section = section_by_word(place, "round", (21.0, 0.3))
    assert section.face_height.value == 64.0
    assert [f.code for f in section.findings] == [610]


def test_a_headstock_without_a_card_is_laid_by_its_face_in_the_side_view() -> None:
    bare = made_up_measurement()
    end = float(bare.outline[:, 0].max())
    side = with_side().side
    assert side is not None
    seen = replace(side, tilt=Quantity(12.0, 0.6), face=Quantity(30.0, 1.0, x=end - 30.0))
    head = headstock_of(replace(bare, side=seen), (), thickness=(13.0, 0.2))
    assert head.tilt.value == pytest.approx(12.0)
    assert head.face_height.value == pytest.approx(
        30.0 + np.tan(np.radians(12.0)) * (end - 30.0 - head.start), abs=0.01
    )
    assert head.lowest_wood.value is not None and head.lowest_wood.value < 20.0
    assert not headstock_of(bare, (), thickness=(13.0, 0.2)).tilt
