"""A faired outline is smoother and no further from the truth; corners stay."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.geometry.curves import evenly_spaced
from profiler.outline.fairing import faired


def _round(radius: float) -> np.ndarray:
    angle = np.linspace(0, 2 * np.pi, int(2 * np.pi * radius), endpoint=False)
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


@pytest.mark.parametrize("radius", [12.0, 40.0, 120.0])
def test_an_arc_keeps_its_radius_and_loses_its_noise(radius: float) -> None:
    true = _round(radius)
    rough = true + np.random.default_rng(1).normal(0, 0.12, true.shape)
    fair = faired(rough, np.zeros(len(true), dtype=bool))
    off = np.hypot(*fair.T) - radius
    assert abs(off.mean()) < 0.05
    assert off.std() < 0.75 * (np.hypot(*rough.T) - radius).std()


def test_a_point_that_strays_is_not_followed() -> None:
    true = _round(80.0)
    rough = true.copy()
    rough[100] *= 1 + 1.5 / 80
    fair = faired(rough, np.zeros(len(true), dtype=bool))
    assert np.abs(np.hypot(*fair.T) - 80).max() < 0.3


def test_a_corner_stays_where_it_is() -> None:
    square = evenly_spaced(np.array([(0.0, 0.0), (200, 0), (200, 120), (0, 120)]), 1.0)
    fair = faired(square, np.zeros(len(square), dtype=bool))
    assert np.abs(fair - square).max() < 0.02


def test_what_is_held_does_not_move() -> None:
    rough = _round(60.0) + np.random.default_rng(2).normal(0, 0.2, (376, 2))
    held = np.arange(376) < 50
    fair = faired(rough, held)
    assert np.array_equal(fair[:50], rough[:50])
    assert not np.allclose(fair[60:], rough[60:])
