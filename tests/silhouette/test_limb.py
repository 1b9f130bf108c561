"""A rounded edge ends where the ground begins, not where its shade changes most."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from profiler.silhouette.limb import past_the_rounding

STEP = 0.4
#: linear light, blue first: a pale blue body, peach ground
BODY, GROUND = np.array((0.46, 0.39, 0.27)), np.array((0.08, 0.14, 0.24))
TOLD = np.ones(40, dtype=bool)


def profile(ramp_px: float, ends_px: float, ground: np.ndarray = GROUND) -> np.ndarray:
    """(40, T, 3): a face whose shade falls to a fifth over so many px, and ends there; blurred by
    a px, with noise. The middle stands for the steepest change."""
    fine = np.arange(-12.0, 12.0 + STEP / 2, STEP)
    shade = np.interp(fine, (ends_px - ramp_px - 1e-9, ends_px), (1.0, 0.2)) if ramp_px else 1.0
    light = np.where(
        (fine < ends_px)[:, None],
        np.multiply.outer(shade, BODY) if ramp_px else BODY[None],
        ground[None],
    )
    soft = gaussian_filter1d(light, 1.0 / STEP, axis=0, mode="nearest")
    noise = np.random.default_rng(5).normal(0, 0.004, (40, *soft.shape))
    return (soft[None] + noise).astype(np.float32)


@pytest.mark.parametrize("ends", [0.8, 1.6, 2.4])
def test_a_rounding_is_followed_to_its_end(ends: float) -> None:
    """The light's own steepest change lies within the ramp."""
    seen = profile(5.0, ends)
    steepest = np.abs(np.diff(seen.mean(axis=0), axis=0)).sum(axis=1).argmax() * STEP - 12.0
    assert steepest < ends - 0.3
    # the last place before the end is half a place before it
    assert np.abs(past_the_rounding(seen, STEP, TOLD) - (ends - STEP / 2)).max() < 0.25


def test_a_sharp_edge_stays_where_it_is() -> None:
    assert np.abs(past_the_rounding(profile(0.0, 0.0), STEP, TOLD)).max() < 0.35


def test_a_face_of_the_ground_s_own_hue_tells_nothing() -> None:
    alike = 0.4 * BODY
    assert not past_the_rounding(profile(5.0, 2.0, alike), STEP, TOLD).any()


def test_where_no_edge_is_told_nothing_moves() -> None:
    assert not past_the_rounding(profile(5.0, 2.0), STEP, ~TOLD).any()
