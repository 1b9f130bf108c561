"""Necks by a word: sizes kept, neighbours in the hand's order, impossible ones refused."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.errors import RequestError
from profiler.instrument.profile import back_radius
from profiler.instrument.record import Quantity
from profiler.instrument.sections import Section
from profiler.instrument.shapes import SHAPES, ImpossibleSize, shape_named, typed_section


def made(word: str, width: float = 44.0, depth: float = 22.0, **more: float) -> Section:
    return typed_section(
        "n", 400.0, shape_named(word), Quantity(width, 0.6), Quantity(depth, 0.4), **more
    )


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(list(SHAPES)),
    st.floats(30, 70),
    st.floats(14, 35),
    st.floats(-3, 3),
)
def test_sizes_are_as_typed(word: str, width: float, depth: float, apex: float) -> None:
    points = made(word, width, depth, apex=apex).points
    assert points[0] == pytest.approx((-width / 2, 0.0), abs=1e-6)
    assert points[-1] == pytest.approx((width / 2, 0.0), abs=1e-6)
    assert -points[:, 1].min() == pytest.approx(depth, abs=0.06)
    assert shapely.Polygon(points).is_valid
    lowest = points[np.argmin(points[:, 1]), 0]
    assert lowest == pytest.approx(apex, abs=1.2)


def test_round_is_half_an_ellipse() -> None:
    """Area of a half ellipse, πab/2, and its radius at the end of an axis, a²/b (geometry)."""
    a, b, side = 22.0, 17.0, 5.0
    section = made("round", 2 * a, b + side, side=side)
    area = shapely.Polygon(section.points).area
    assert area == pytest.approx(np.pi * a * b / 2 + 2 * a * side, rel=2e-3)
    # over a fifth of the width the ellipse bends a little away from its circle
    assert section.radius.value == pytest.approx(a * a / b, rel=0.06)


def test_the_words_are_in_the_order_of_the_hand() -> None:
    areas = [shapely.Polygon(made(word).points).area for word in SHAPES]
    assert list(SHAPES) == ["V", "soft V", "round", "D", "flat oval"]
    assert areas == sorted(areas)
    radii = [made(w).radius.value or 0.0 for w in ("V", "soft V", "round", "D")]
    assert radii == sorted(radii)


def test_a_word_leaves_more_open_than_calipers() -> None:
    section = made("D")
    bottom = section.u95[np.argmin(section.points[:, 1])]
    assert section.u95.max() > 1.5 * bottom
    assert bottom >= 0.4


def test_a_circle_is_measured_as_one() -> None:
    angle = np.linspace(np.pi * 1.1, np.pi * 1.9, 400)
    arc = np.column_stack([25 * np.cos(angle), 25 * np.sin(angle) + 5.0])
    radius = back_radius(arc, np.full(400, 0.2))
    assert radius.value == pytest.approx(25.0, abs=0.01)
    assert not back_radius(arc * (1.0, 0.0) - (0.0, 10.0), np.full(400, 0.2))


@pytest.mark.parametrize("width", [8.0, 200.0])
def test_impossible_widths(width: float) -> None:
    with pytest.raises(ImpossibleSize, match="width"):
        made("D", width)


def test_impossible_depth_side_and_apex() -> None:
    with pytest.raises(ImpossibleSize, match="depth"):
        made("D", depth=120.0)
    with pytest.raises(ImpossibleSize, match="back below"):
        made("D", side=21.0)
    with pytest.raises(ImpossibleSize, match="lowest point"):
        made("D", apex=30.0)
    with pytest.raises(RequestError, match="soft V"):
        shape_named("square")
