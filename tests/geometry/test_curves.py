"""Polylines: runs of a closed curve, headings, places at lengths."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from profiler.geometry.curves import at_lengths, heading, lengths_along, runs_of

TURN = np.linspace(0, 2 * np.pi, 400, endpoint=False)
CIRCLE = 50.0 * np.column_stack([np.cos(TURN), np.sin(TURN)])


@given(st.lists(st.booleans(), min_size=1, max_size=40))
def test_runs_hold_every_flagged_point_once_and_none_meets_another(flags: list[bool]) -> None:
    given_ = np.array(flags)
    runs = runs_of(given_)
    members = [int(k) for run in runs for k in run]
    assert sorted(members) == np.flatnonzero(given_).tolist()
    for run in runs:
        assert (np.diff(run) % len(given_) == 1).all()
        if not given_.all():  # it goes no further on either side
            assert not given_[run[0] - 1]
            assert not given_[(run[-1] + 1) % len(given_)]


def test_a_heading_looks_along_the_curve_from_either_side() -> None:
    members = np.arange(400)
    for side in (-1, 1):
        told = heading(CIRCLE, members, 0, side)
        assert abs(np.hypot(*told) - 1) < 1e-12
        assert told @ (0.0, 1.0) > 0.99
        assert np.sign(told[0]) == -side  # the circle bends to the left


def test_a_heading_passes_over_what_is_no_member() -> None:
    spoiled = CIRCLE.copy()
    spoiled[397:400] = 0.0
    members = np.setdiff1d(np.arange(400), [397, 398, 399])
    assert heading(spoiled, members, 0, -1) @ (0.0, 1.0) > 0.98


def test_places_at_lengths_lie_on_the_path() -> None:
    path = np.array([(0.0, 0.0), (3.0, 4.0), (3.0, 10.0)])
    along = lengths_along(path)
    assert along.tolist() == [0.0, 5.0, 11.0]
    assert at_lengths(path, along, np.array([2.5, 8.0])).tolist() == [[1.5, 2.0], [3.0, 7.0]]
