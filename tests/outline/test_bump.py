"""A strap button that looks out past the rim by a millimetre or two is still a strap button."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.outline.bump import bump_at_tail, stands_out_at_tail
from profiler.outline.parts import split


def tail(height: float, width: float, middle: float, noise: float = 0.0) -> np.ndarray:
    """A pear 300 mm long with a neck of 200 mm; a bump of that height (mm) on its tail."""
    t = np.linspace(0, 2 * np.pi, 900, endpoint=False)
    x, y = 150 - 150 * np.cos(t), -110 * np.sin(t)
    neck = (x > 250) & (np.abs(y) < 25)
    x[neck] = 500 - np.abs(y[neck]) * 2
    bump = (x < 35) & (np.abs(y - middle) < width / 2)
    x[bump] -= height
    x += noise * np.random.default_rng(5).standard_normal(len(x))
    return np.column_stack([x - x.min(), y])


@settings(max_examples=40, deadline=None)
@given(st.floats(1.3, 8.0), st.floats(7.0, 18.0), st.floats(-6.0, 6.0))
def test_a_narrow_bump_is_found_and_nothing_else(height: float, width: float, mid: float) -> None:
    points = tail(height, width, mid)
    found = bump_at_tail(points)
    there = np.abs(points[:, 1] - mid) < width / 2
    assert found[there & (points[:, 0] < 35)].all()
    assert not found[np.abs(points[:, 1] - mid) > width / 2 + 2.5].any()


@pytest.mark.parametrize(
    ("height", "width", "middle", "noise"),
    [(0.0, 10.0, 0.0, 0.05), (0.6, 10.0, 0.0, 0.0), (2.0, 40.0, 0.0, 0.0), (1.3, 10.0, 0.0, 0.5)],
    ids=["smooth", "too low", "too wide", "an edge as rough as it is high"],
)
def test_what_is_no_button(height: float, width: float, middle: float, noise: float) -> None:
    assert not bump_at_tail(tail(height, width, middle, noise)).any()


def test_the_split_calls_it_a_button() -> None:
    assert (split(tail(2.0, 11.0, 0.0)).labels == "button").any()
    assert not (split(tail(0.0, 11.0, 0.0)).labels == "button").any()


def test_a_saddle_with_an_end_pin_stands_out_and_a_smooth_tail_does_not() -> None:
    points = tail(3.0, 36.0, 0.0)
    x, y = points.T
    pin = (x < 35) & (np.abs(y) < 6)
    points[pin, 0] -= 2.0
    found = stands_out_at_tail(points)
    assert found[(x < 35) & (np.abs(y) < 16)].all()
    assert not found[np.abs(y) > 20].any()
    assert not stands_out_at_tail(tail(0.0, 12.0, 0.0)).any()


def saddled(pin: float) -> np.ndarray:
    """A tail with a saddle 36 mm broad that stands out by 2, and an end pin by so much more."""
    points = tail(2.0, 36.0, 0.0)
    points[(points[:, 0] < 35) & (np.abs(points[:, 1]) < 6), 0] -= pin
    points[:, 0] -= points[:, 0].min()
    return points


@pytest.mark.parametrize("pin", [1.3, 6.0], ids=["its tip alone", "all of it"])
def test_an_end_pin_is_told_from_the_saddle_beside_it(pin: float) -> None:
    points = saddled(pin)
    x, y = points.T
    found = bump_at_tail(points)
    assert found[(x < 35) & (np.abs(y) < 5)].all()
    assert not found[np.abs(y) > 8].any()


def test_a_saddle_alone_is_no_end_pin() -> None:
    assert not bump_at_tail(saddled(0.0)).any()
