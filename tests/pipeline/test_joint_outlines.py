"""Steps that cross what no photo followed get points of their own, as carried across."""

from __future__ import annotations

import numpy as np

from profiler.outline.lift import Lifted
from profiler.pipeline.joint_outlines import stands_out_from, with_crossings


def test_a_long_step_gets_points_and_they_are_carried_across() -> None:
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 9.0], [0.0, 9.0]])
    joined = Lifted(square, np.arange(4) + 10, np.zeros(4, dtype=bool))
    filled, crossed = with_crossings(joined)
    assert np.array_equal(filled.points[~crossed], square)
    assert not filled.bridged[~crossed].any() and filled.bridged[crossed].all()
    steps = np.hypot(*(np.roll(filled.points, -1, axis=0) - filled.points).T)
    assert steps.max() <= 2.5 and crossed.sum() == 6
    # each is the nearer end's, and lies on the step that it crosses
    assert set(filled.source[crossed]) == {10, 11, 12, 13}
    assert np.isin(filled.points[crossed][:, 0], (0.0, 1.0)).all()


def test_an_outline_without_long_steps_stays_as_it_is() -> None:
    t = np.linspace(0, 2 * np.pi, 100, endpoint=False)
    joined = Lifted(
        30 * np.column_stack([np.cos(t), np.sin(t)]), np.arange(100), np.zeros(100, dtype=bool)
    )
    filled, crossed = with_crossings(joined)
    assert filled is joined and not crossed.any()


def test_a_back_stands_out_of_its_top_by_more_than_its_height_leaves_open() -> None:
    """An arched back's edge, 3 mm of height in doubt, would else win over a top seen to 0.2 mm."""
    back = np.array([True, True, False, False])
    least = stands_out_from(back, np.array([0.0, 1.0, 0.0, 1.0]))
    # a strap button is seen to stand out, however little is known of how high it sits
    assert least[0] == least[2] == least[3] <= 0.5
    assert least[1] >= 2.0
