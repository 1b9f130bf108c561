"""What an outline's own shape says against it: the made-up four-string, its side moved."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from profiler.findings import Finding
from profiler.geometry.curves import evenly_spaced
from profiler.instrument.assemble import BY_HAND
from profiler.instrument.record import Measurement, Stretch
from profiler.pipeline.measure import NOT_TO_BE_RELIED_ON
from profiler.pipeline.suspect import suspected
from tests.made_up import made_up_measurement

Array = NDArray[np.float64]


def codes(findings: list[Finding]) -> set[int]:
    return {f.code for f in findings}


def with_side(out: Callable[[Array], Array], side: int = 1) -> Measurement:
    """With so many mm outward, by x, on its left (1) or right (-1) side; its points a mm apart."""
    made = made_up_measurement()
    points = evenly_spaced(np.asarray(made.outline), 1.0)
    nearest = [np.argmin(np.hypot(*(np.asarray(made.outline) - p).T)) for p in points]
    parts = np.asarray(made.outline_part)[nearest]
    mine = (parts == "body") & (np.sign(points[:, 1]) == side)
    points[mine, 1] += side * out(points[mine, 0])
    return replace(
        made,
        outline=points,
        outline_part=tuple(map(str, parts)),
        outline_u95=np.full(len(points), 0.5),
        doubtful=(),
    )


def pushed(x: Array) -> Array:
    """As the edge of a shadow: 8 mm further out between two places."""
    return np.where((x > 130) & (x < 195), 8.0, 0.0)


def swollen(x: Array) -> Array:
    """The same without a step."""
    return 8.0 * np.exp(-(((x - 165) / 25) ** 2))


def test_a_sound_outline_is_left_alone() -> None:
    sound = with_side(np.zeros_like)
    same, findings = suspected(sound)
    assert same is sound and not findings


def test_a_step_is_in_doubt_by_its_height_and_makes_the_result_unreliable() -> None:
    measurement, findings = suspected(with_side(pushed))
    step = next(f for f in findings if f.code == 308)
    assert 308 in NOT_TO_BE_RELIED_ON
    assert "130 mm from the tail on the left" in step.message
    x, y = np.asarray(measurement.outline).T
    u95 = np.asarray(measurement.outline_u95)
    here = (np.abs(x - 130) < 5) & (y > 0)
    assert u95[here].min() > 6.0
    assert u95[(x < 90) & (y > 0)].max() == 0.5
    assert any("jumps aside" in s.reason for s in measurement.doubtful)


def bracketed(x: Array) -> Array:
    """As with brackets all along: 8 mm further out here and there."""
    return np.where((x > 50) & (x % 60 < 24), 8.0, 0.0)


def test_a_body_that_jumps_all_over_is_in_doubt_all_over() -> None:
    """Also where nothing jumps, its widths and its length: nobody knows which stretches are it."""
    jumping = with_side(bracketed)
    measurement, findings = suspected(jumping)
    told = next(f for f in findings if f.code == 308)
    assert "the rest of the body is in doubt as well" in told.message
    body = np.asarray(measurement.outline_part) == "body"
    assert np.asarray(measurement.outline_u95)[body].min() > 3.5
    assert np.median(np.asarray(measurement.outline_u95)[~body]) == 0.5
    assert measurement.length.u95 > 3.5 > jumping.length.u95
    taken = [width for width in measurement.widths.values() if width.value and width.x < 290]
    assert len(taken) > 1 and all(width.u95 > 3.5 for width in taken)
    # one step is one place
    once, _ = suspected(with_side(pushed))
    assert once.length == jumping.length


@pytest.mark.parametrize("side", [1, -1])
def test_sides_that_differ_in_one_place_are_in_doubt_by_that(side: int) -> None:
    """Which of the two is wrong nothing tells, so both are; and so is a width taken there."""
    measurement, findings = suspected(with_side(swollen, side))
    assert codes(findings) == {309}
    assert "8 mm at 16" in findings[0].message
    x, y = np.asarray(measurement.outline).T
    u95 = np.asarray(measurement.outline_u95)
    for mine in (y > 20, y < -20):
        assert u95[mine & (np.abs(x - 165) < 8)].min() > 6.0
    waist = measurement.widths["waist"]
    assert waist.u95 is not None and waist.u95 == pytest.approx(np.hypot(0.35, 8.0), abs=0.5)
    assert measurement.widths["lower_bout"].u95 == 0.32


def test_what_a_person_drew_is_believed() -> None:
    made = with_side(pushed)
    x, y = np.asarray(made.outline).T
    drawn = np.flatnonzero((x > 115) & (x < 210) & (y > 0))
    stretch = Stretch(int(drawn[0]), int(drawn[-1]), f"the edge of the body was {BY_HAND}")
    assert not suspected(replace(made, doubtful=(stretch,)))[1]


def test_a_body_made_with_horns_or_a_cutaway_is_not_compared() -> None:
    cut = with_side(lambda x: -np.clip((x - 200) * 0.8, 0.0, 40.0))
    assert 309 not in codes(suspected(cut)[1])


def test_a_strap_button_on_a_side_is_no_step() -> None:
    button = with_side(lambda x: np.where(np.abs(x - 100) < 4.5, 11.0, 0.0))
    assert 308 not in codes(suspected(button)[1])


def test_where_the_doubt_is_wide_already_there_is_no_word() -> None:
    wide = with_side(swollen)
    wide = replace(wide, outline_u95=np.full(len(wide.outline), 9.0))
    assert not suspected(wide)[1]


def test_one_sides_wide_doubt_explains_what_they_differ_by() -> None:
    made = with_side(swollen)
    left = np.asarray(made.outline)[:, 1] > 0
    assert not suspected(replace(made, outline_u95=np.where(left, 9.0, 0.5)))[1]
    assert not suspected(replace(made, outline_u95=np.where(left, 0.5, 9.0)))[1]


def test_the_envelopes_width_is_in_doubt_where_its_widest_place_is() -> None:
    """A case is made to it."""
    made = with_side(lambda x: 8.0 * np.exp(-(((x - 85) / 25) ** 2)))
    doubted, _ = suspected(made)
    for before, after in ((made.width, doubted.width), (made.box[1], doubted.box[1])):
        assert before.u95 is not None and after.u95 is not None
        assert before.u95 < 1.0
        assert after.u95 > 6.0
    assert doubted.length == made.length


def test_a_body_that_differs_all_along_was_made_so() -> None:
    offset = with_side(lambda x: 6.0 * np.sin(np.pi * np.clip(x / 280, 0, 1)))
    assert not suspected(offset)[1]


def test_where_the_neck_begins_sides_may_differ_a_little() -> None:
    """The corner is seen further down on one side than on the other."""
    cut = with_side(lambda x: np.where(x > 279, -5.0, 0.0))
    assert not suspected(cut)[1]
