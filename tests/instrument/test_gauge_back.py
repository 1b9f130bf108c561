"""From needle tips to the back: a needle's own touch is undone; what is no profile is refused."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from profiler.instrument.gauge import GaugeTooNarrow, NoHollow, Tips, back_from_tips
from profiler.instrument.record import Quantity, missing
from profiler.instrument.sections import Section
from profiler.instrument.shapes import ImpossibleSize
from profiler.instrument.traced import Known, section_from_back

Array = NDArray[np.float64]

HALF, DEPTH, SIDE = 22.0, 21.0, 5.0


def wood(y: Array) -> Array:
    """The back's z at y, the face at 0; nothing beyond the edges."""
    t = np.clip(np.abs(y) / HALF, 0, 1)
    z = -SIDE - (DEPTH - SIDE) * (1 - t**2.4) ** (1 / 2.4)
    return np.where(np.abs(y) <= HALF, z, np.inf)


def tips(
    form: str = "round",
    pitch: float = 1.0,
    count: int = 90,
    shift: float = 0.0,
    noise: float = 0.02,
) -> Tips:
    """Every needle rises until it touches the wood: the same rule as at the bench."""
    r = 0.93 * pitch / 2 if form != "sharp" else 1e-6
    at = (np.arange(count) - (count - 1) / 2) * pitch + 0.13 + shift
    across = np.linspace(-r, r, 81)
    rise = r - np.sqrt(np.maximum(r**2 - across**2, 0)) if form == "round" else 0 * across
    ends = np.array([min((wood(u + across) + rise).min(), 4.0) for u in at])
    ends = ends + np.random.default_rng(5).normal(0, noise, count)
    return Tips(at, ends, ends - 80.0, pitch, noise, 0.15, 0.001)


def known(depth: Quantity | None = None) -> Known:
    nothing = missing("not measured")
    return Known("n", 400.0, nothing, False, 0.0, depth, nothing, True, "gauge", "g.jpg", "0" * 64)


def error(section: Section) -> float:
    y = np.linspace(-HALF, HALF, 4001)
    line = shapely.LineString(np.column_stack([y, wood(y)]))
    inner = section.points[np.abs(section.points[:, 0]) < HALF - 1]
    return float(np.sqrt((shapely.distance(line, shapely.points(inner)) ** 2).mean()))


@pytest.mark.parametrize("form", ["round", "flat", "sharp"])
@pytest.mark.parametrize("pitch", [0.8, 1.27])
def test_the_touch_of_the_tips_is_undone(form: str, pitch: float) -> None:
    back = back_from_tips(tips(form, pitch), form, False, "g.jpg")
    section = section_from_back(back, known(Quantity(DEPTH, 0.2)), ())
    assert error(section) < 0.2
    assert section.width.value == pytest.approx(2 * HALF, abs=section.width.u95)
    assert section.depth.value == DEPTH


def test_a_wrong_form_shows() -> None:
    """Were the touch not undone, round tips would leave the flanks too full."""
    right, wrong = (
        error(
            section_from_back(
                back_from_tips(tips("round", 1.27), form, False, "g"),
                known(Quantity(DEPTH, 0.2)),
                (),
            )
        )
        for form in ("round", "sharp")
    )
    assert right < 0.6 * wrong


def test_without_a_depth_the_face_is_not_known() -> None:
    section = section_from_back(back_from_tips(tips(), "round", False, "g"), known(), ())
    assert not section.depth and "--depth" in section.depth.reason
    assert [f.code for f in section.findings] == [614]
    flush = back_from_tips(tips(), "round", True, "g")
    told = section_from_back(flush, known(), ())
    assert told.depth.value == pytest.approx(DEPTH + 4.0, abs=0.4)


def test_turned_by_half_a_turn_it_is_the_same_back() -> None:
    here = tips()
    there = Tips(
        -here.at[::-1], -here.lower[::-1], -here.upper[::-1], here.pitch, here.sigma, 0.15, 0.001
    )
    a, b = (back_from_tips(t, "round", False, "g") for t in (here, there))
    assert not a.upside_down and b.upside_down
    assert np.allclose(a.curve, b.curve, atol=1e-9)


def test_a_stray_needle_is_left_out() -> None:
    clean = tips()
    upper = clean.upper.copy()
    upper[45] -= 0.8
    upper[30] = np.nan
    stray = Tips(clean.at, upper, clean.lower, 1.0, 0.02, 0.15, 0.001)
    sections = [
        section_from_back(back_from_tips(t, "round", False, "g"), known(Quantity(DEPTH, 0.2)), ())
        for t in (clean, stray)
    ]
    assert error(sections[1]) < error(sections[0]) + 0.03


def test_what_is_no_profile_is_refused() -> None:
    flat = tips()
    level = np.zeros(len(flat.at))
    with pytest.raises(NoHollow, match="hollow"):
        back_from_tips(Tips(flat.at, level, level - 80, 1.0, 0.02, 0.15, 0.0), "round", False, "g")
    with pytest.raises(GaugeTooNarrow, match="wider"):
        back_from_tips(tips(count=52, shift=8.0), "round", False, "g")
    back = back_from_tips(tips(), "round", False, "g")
    with pytest.raises(ImpossibleSize, match="cannot be only"):
        section_from_back(back, known(Quantity(10.0, 0.2)), ())


def test_seen_from_the_other_end_it_is_mirrored() -> None:
    back = back_from_tips(tips(), "round", False, "g")
    head = section_from_back(back, known(Quantity(DEPTH, 0.2)), ())
    from dataclasses import replace

    tail = section_from_back(back, replace(known(Quantity(DEPTH, 0.2)), from_head=False), ())
    assert np.allclose(tail.points, (head.points * (-1, 1))[::-1], atol=1e-6)


def test_ends_beside_the_neck_that_are_read_off_widen_it_not() -> None:
    """Beside a print some needles that nothing touched seem to end a millimetre further in."""
    plain = tips()
    ends = plain.upper.copy()
    beside = np.abs(plain.at) > HALF + 0.5
    out = np.flatnonzero(beside)
    next_to_it = out[np.argsort(np.abs(plain.at[out]))[:2]]
    ends[np.union1d(out[::5], next_to_it)] -= 1.3
    off = Tips(plain.at, ends, ends - 80.0, 1.0, 0.02, 0.15, 0.001)
    back = back_from_tips(off, "round", False, "g")
    assert back.edges[1] - back.edges[0] == pytest.approx(2 * HALF, abs=1.0)
