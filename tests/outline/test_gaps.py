"""What a hand drew inside a gap parts it: beyond the drawn line the rim is still sought."""

from __future__ import annotations

import numpy as np

from profiler.outline.gaps import Gap, beside_drawn, on_to


def _gap(begins: bool = True, ends: bool = True) -> Gap:
    return Gap(10, 41, np.arange(11, 41), begins, ends)


def test_a_gap_without_drawn_points_stays_as_it_is() -> None:
    gap = _gap()
    assert beside_drawn(gap, np.zeros(60, dtype=bool)) == [gap]


def test_a_drawn_line_leaves_what_lies_before_and_behind_it() -> None:
    drawn = np.zeros(60, dtype=bool)
    drawn[20:30] = True
    before, behind = beside_drawn(_gap(), drawn)
    assert before.between.tolist() == list(range(11, 20)) and before.begins and not before.ends
    assert (before.first, before.last) == (10, 20)
    assert behind.between.tolist() == list(range(30, 41)) and behind.ends and not behind.begins
    assert (behind.first, behind.last) == (29, 41)


def test_only_ends_beside_trusted_points_are_left_and_no_crumbs() -> None:
    drawn = np.zeros(60, dtype=bool)
    drawn[20:39] = True
    (before,) = beside_drawn(_gap(), drawn)
    assert before.begins
    assert beside_drawn(_gap(begins=False), drawn) == []


def test_a_rim_that_ends_far_from_the_next_part_goes_on_as_round_as_it_was() -> None:
    angle = np.radians(np.arange(0, 90, 0.4))
    rim = 143 * np.column_stack([np.cos(angle), np.sin(angle)])
    more = on_to(rim[:80], rim[160])
    assert len(more) > 70  # mm from place to place
    assert np.abs(np.hypot(*more.T) - 143).max() < 0.8  # a straight line would be 5.5 inside


def test_what_is_near_or_lies_aside_is_not_reached_by_an_arc() -> None:
    rim = np.column_stack([np.arange(0, 30.0), np.zeros(30)])
    assert len(on_to(rim, np.array([33.0, 2.0]))) == 0
    assert len(on_to(rim, np.array([33.0, 30.0]))) == 0
