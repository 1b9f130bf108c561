"""A strap button on a body's side is told from the body by its shape."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.geometry.curves import evenly_spaced
from profiler.outline.heights import edge_heights
from profiler.outline.parts import split
from profiler.outline.side_button import SIDE_BUTTON, buttons_on_side

PLACES = (0.6, 1.9, 2.6, 4.0)


def body(*buttons: tuple[float, float, float], noise: float = 0.0) -> np.ndarray:
    """An egg of 340 by 300 mm, about a mm between its points, with buttons on it: each at an angle,
    so broad and standing out so far, mm."""
    t = np.linspace(0, 2 * np.pi, 2400, endpoint=False)
    radius = np.full_like(t, 160.0) + 10 * np.cos(t)
    for at, broad, out in buttons:
        beside = np.abs((t - at + np.pi) % (2 * np.pi) - np.pi) * 160.0
        # steep sides, a rounded tip
        radius += out * np.clip((broad / 2 + 0.6 - beside) / 1.2, 0.0, 1.0)
    curve = evenly_spaced(np.column_stack([radius * np.cos(t), radius * np.sin(t)]), 1.0)
    rough = noise * np.random.default_rng(3).standard_normal((len(curve), 1))
    return curve + rough * curve / np.hypot(*curve.T)[:, None]


def all_wall(curve: np.ndarray) -> np.ndarray:
    return np.ones(len(curve), dtype=bool)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(PLACES), st.floats(8.0, 15.0), st.floats(2.5, 9.0))
def test_it_is_found_and_nothing_beside_it(at: float, broad: float, out: float) -> None:
    curve = body((at, broad, out))
    found = buttons_on_side(curve, all_wall(curve))
    radius = np.hypot(*curve.T) - 10 * curve[:, 0] / np.hypot(*curve.T)
    assert found[radius > 160.0 + 0.7 * out].all()
    tip = 160.0 * np.array([np.cos(at), np.sin(at)])
    assert not found[np.hypot(*(curve - tip).T) > broad / 2 + out + 14.0].any()


@pytest.mark.parametrize(
    "curve",
    [
        body(),
        body(noise=0.2),
        body((1.9, 10.0, 0.8)),
        body((1.9, 45.0, 5.0)),
        body((1.9, 2.0, 4.0)),
        body(*((at, 10.0, 4.0) for at in PLACES)),
    ],
    ids=["smooth", "rough", "too low", "too broad", "a splinter", "brackets all round"],
)
def test_what_is_no_strap_button(curve: np.ndarray) -> None:
    assert not buttons_on_side(curve, all_wall(curve)).any()


def test_none_is_in_a_hollow() -> None:
    """What stands out of a waist or a cutaway's pocket is a fault of the edge."""
    t = np.linspace(0, 2 * np.pi, 2400, endpoint=False)
    away = (t - 1.9 + np.pi) % (2 * np.pi) - np.pi
    for depth, wanted in ((0.0, True), (45.0, False)):
        radius = 160.0 - depth * np.exp(-0.5 * (away / 0.25) ** 2)
        radius += 4.0 * np.clip((5.6 - np.abs(away) * (160.0 - depth)) / 1.2, 0.0, 1.0)
        curve = evenly_spaced(np.column_stack([radius * np.cos(t), radius * np.sin(t)]), 1.0)
        assert buttons_on_side(curve, all_wall(curve)).any() == wanted


def test_beside_what_is_not_wall_nothing_is_told() -> None:
    curve = body((1.9, 10.0, 4.0))
    assert not buttons_on_side(curve, curve[:, 0] > 0).any()


def test_its_height_is_the_middle_of_the_side_or_what_was_typed() -> None:
    t = np.linspace(0, 2 * np.pi, 900, endpoint=False)
    x, y = 150 - 150 * np.cos(t), -110 * np.sin(t)
    neck = (x > 250) & (np.abs(y) < 25)
    x[neck] = 500 - np.abs(y[neck]) * 2
    parts = split(np.column_stack([x, y]))
    mine = edge_heights(parts, [], {"body": (44.0, 0.3)})[SIDE_BUTTON].upper
    assert float(mine.at(np.array([parts.join / 2]))[0]) == pytest.approx(22.5, abs=1.0)
    assert not mine.known
    assert mine.u >= 4.0
    typed = edge_heights(parts, [], {"body": (44.0, 0.3), SIDE_BUTTON: (25.0, 0.5)})[SIDE_BUTTON]
    assert typed.upper.known
    assert typed.upper.z0 == 25.0


def _with_knob(neck: float, head: float) -> np.ndarray:
    """The egg with a knob of 15 mm on its end, so broad at its neck and at its head, mm."""
    curve = body()
    k = int(np.argmax(curve[:, 0]))
    curve = np.roll(curve, -k, axis=0)
    out = curve[0, 0]
    knob = [(-1, -neck), (9, -neck), (11, -head), (15, -head), (15, head), (11, head), (9, neck)]
    right = np.array([(out + x, y / 2) for x, y in knob] + [(out - 1, neck / 2)])
    kept = curve[(np.abs(curve[:, 1]) > neck / 2) | (curve[:, 0] < 0)]
    return evenly_spaced(np.vstack([right, kept]), 1.0)


def test_what_is_broader_at_its_tip_is_a_button_wherever_the_wall_shows() -> None:
    flared = buttons_on_side(_with_knob(6.0, 15.0), all_wall(_with_knob(6.0, 15.0)), flared=True)
    assert flared.any()
    straight = _with_knob(10.0, 10.0)
    assert buttons_on_side(straight, all_wall(straight)).any()
    assert not buttons_on_side(straight, all_wall(straight), flared=True).any()
