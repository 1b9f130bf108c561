"""What a hand drew inside a gap parts it: beyond the drawn line the rim is still sought."""

from __future__ import annotations

import numpy as np

from profiler.outline.gaps import Gap, beside_drawn


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
