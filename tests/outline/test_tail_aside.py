"""The place for a strap button in plain sight: what stands there, and that nothing does."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from profiler.outline.tail_aside import tail_seen
from tests.outline.test_button_aside import round_tail

TAIL = np.array([0.0, -600.0, 95.0])
#: a body's silhouette, and a strap button's of 12 mm: x along, z up
BODY = np.column_stack([np.repeat([0.0, 300.0], 30), np.tile(np.linspace(1.0, 70.0, 30), 2)])
BUTTON = np.column_stack([np.tile(-np.arange(1.0, 13.0), 2), np.repeat([34.0, 46.0], 12)])


def everywhere(points: np.ndarray) -> np.ndarray:
    return np.ones(len(points), dtype=bool)


def test_nothing_stands_out_where_none_is_seen() -> None:
    seen = tail_seen(BODY, TAIL, round_tail(), everywhere)
    assert seen is not None and seen.bare


def test_a_button_is_what_stands_out() -> None:
    seen = tail_seen(np.concatenate([BODY, BUTTON]), TAIL, round_tail(), everywhere)
    assert seen is not None and seen.out[:, 0].min() == -12.0
    assert (seen.out[:, 0] < 0).all() and seen.reach == 12.0
    assert seen.button is not None
    (tip, z), half = seen.button
    assert (tip, z, half) == (-12.0, 40.0, 6.0)


@pytest.mark.parametrize(
    "thing",
    [BUTTON * [2.95, 1.0], BUTTON * [1.0, 0.2] + [0.0, 30.0], BUTTON * [1.0, 2.5]],
    ids=["longer than one", "a wire", "a hip"],
)
def test_what_is_no_button_is_not_taken_for_one(thing: np.ndarray) -> None:
    """Nor is the tail bare."""
    seen = tail_seen(np.concatenate([BODY, thing]), TAIL, round_tail(), everywhere)
    assert seen is not None and seen.button is None and not seen.bare


@pytest.mark.parametrize(
    "shadow", [BUTTON * [1.0, 0.2], BUTTON * [3.0, 1.0] - [17.0, 0.0]], ids=["low", "far"]
)
def test_shadows_on_the_mat_and_things_far_off_are_none(shadow: np.ndarray) -> None:
    seen = tail_seen(np.concatenate([BODY, shadow]), TAIL, round_tail(), everywhere)
    assert seen is not None and seen.bare


def test_from_before_the_middle_nothing_is_said() -> None:
    centre = np.array([320.0, -500.0, 95.0])
    assert tail_seen(BODY, centre, round_tail(), everywhere) is None


@pytest.mark.parametrize(
    "known",
    [lambda p: p[:, 0] > -8.0, lambda p: p[:, 1] > 30.0],
    ids=["sheets end at the tail", "print known above 30 mm only"],
)
def test_nor_where_no_print_is_known_behind(known: Callable[[np.ndarray], np.ndarray]) -> None:
    assert tail_seen(BODY, TAIL, round_tail(), known) is None
