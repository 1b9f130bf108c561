"""Which of several steps of the light is the edge, and which darkness may be a shadow."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d

from profiler.silhouette import edge, mask
from profiler.silhouette.ground import TINT, Lighting, Plan

#: linear light, blue, green, red: spruce in the light, its rounded rim turned from it, blue mat in
#: the instrument's shadow and in the light
TOP, RIM = (0.13, 0.42, 0.62), (0.026, 0.047, 0.066)
SHADED, LIT = (0.105, 0.079, 0.052), (0.82, 0.62, 0.41)


def _profile(*stretches: tuple[tuple[float, float, float], int]) -> np.ndarray:
    """(1, T, 3), blurred by a px as a lens does."""
    light = np.concatenate([np.tile(colour, (count, 1)) for colour, count in stretches])
    soft = gaussian_filter1d(light, 1.0 / edge._STEP_PX, axis=0, mode="nearest")
    return np.asarray(soft[None], dtype=np.float32)


def test_the_outermost_step_of_hue_is_the_edge_where_the_rim_is_as_dark_as_the_shadow() -> None:
    """The rim is 1.5 mm wide; by light alone the edge would be where the lit top ends."""
    profile = _profile((TOP, 20), (RIM, 11), (SHADED, 20))
    _, by_hue = edge._steepness_and_hue(np.log(profile + edge._DARK))
    assert np.argmax(edge._steepness(profile)[0]) < 23
    (hue,) = edge._clear_peaks(by_hue, edge._LEAST_PROPORTION, edge._OUTERMOST_HUE)
    assert np.flatnonzero(hue).max() in (29, 30, 31, 32)


def test_a_shadow_that_ends_beside_the_edge_is_no_step_of_hue() -> None:
    profile = _profile((TOP, 20), (SHADED, 11), (LIT, 20))
    _, by_hue = edge._steepness_and_hue(np.log(profile + edge._DARK))
    (hue,) = edge._clear_peaks(by_hue, edge._LEAST_PROPORTION, edge._OUTERMOST_HUE)
    assert np.flatnonzero(hue).max() < 23


def test_nearly_black_is_a_shadow_only_where_it_has_the_ground_s_own_hue() -> None:
    lit = np.array(LIT, dtype=np.float32)
    cells = np.array([lit * 0.07, np.full(3, 0.03), lit * 0.04, lit * 0.2], dtype=np.float32)
    shape = (1, len(cells))
    plan = Plan(
        cells[None],
        np.full(shape, TINT, dtype=np.uint8),
        *(np.zeros(shape, dtype=np.float32) for _ in "wb"),
        np.ones(shape, dtype=bool),
        np.zeros(2),
        0.6,
    )
    lighting = Lighting(
        np.tile(lit, (*shape, 1)), np.full(3, 1.3, np.float32), np.full(3, 0.05, np.float32)
    )
    planes = [[cells[None, :, k] for k in range(3)], [lighting.lit[..., k] for k in range(3)]]
    *_, impossible = mask._misfit(plan, lighting, *planes)
    assert impossible[0].tolist() == [False, True, True, False]
