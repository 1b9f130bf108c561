"""Which of several steps of the light is the edge, and which darkness may be a shadow."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d

from profiler.silhouette import mask, peaks
from profiler.silhouette.ground import TINT, Lighting, Plan

#: linear light, blue, green, red: spruce in the light, its rounded rim turned from it, blue mat in
#: the instrument's shadow and in the light
TOP, RIM = (0.13, 0.42, 0.62), (0.026, 0.047, 0.066)
SHADED, LIT = (0.105, 0.079, 0.052), (0.82, 0.62, 0.41)


def _profile(*stretches: tuple[tuple[float, float, float], int]) -> np.ndarray:
    """(1, T, 3), blurred by a px as a lens does."""
    light = np.concatenate([np.tile(colour, (count, 1)) for colour, count in stretches])
    soft = gaussian_filter1d(light, 1.0 / peaks.STEP_PX, axis=0, mode="nearest")
    return np.asarray(soft[None], dtype=np.float32)


def test_the_outermost_step_of_hue_is_the_edge_where_the_rim_is_as_dark_as_the_shadow() -> None:
    """The rim is 1.5 mm wide; by light alone the edge would be where the lit top ends."""
    profile = _profile((TOP, 20), (RIM, 11), (SHADED, 20))
    _, by_hue, _ = peaks.steepness_and_hue(np.log(profile + peaks.DARK))
    assert np.argmax(peaks.steepness(profile)[0]) < 23
    (hue,) = peaks.clear_peaks(by_hue, peaks.LEAST_PROPORTION, peaks.OUTERMOST_HUE)
    assert np.flatnonzero(hue).max() in (29, 30, 31, 32)


def test_a_shadow_that_ends_beside_the_edge_is_no_step_of_hue() -> None:
    profile = _profile((TOP, 20), (SHADED, 11), (LIT, 20))
    _, by_hue, _ = peaks.steepness_and_hue(np.log(profile + peaks.DARK))
    (hue,) = peaks.clear_peaks(by_hue, peaks.LEAST_PROPORTION, peaks.OUTERMOST_HUE)
    assert np.flatnonzero(hue).max() < 23


def _ends(profile: np.ndarray) -> np.ndarray:
    """(T,) where a shadow ends by `shadow_ends`, of peaks of light or proportion only."""
    light = peaks.steepness(profile)
    proportion, hue, brighter = peaks.steepness_and_hue(np.log(profile + peaks.DARK))
    (ends,) = peaks.shadow_ends(light, proportion, hue, brighter)
    is_peak = peaks.clear_peaks(light, peaks.LEAST_LIGHT)
    is_peak |= peaks.clear_peaks(proportion, peaks.LEAST_PROPORTION)
    return ends & is_peak[0]


def test_where_a_shadow_ends_beside_dark_wood_is_no_edge() -> None:
    """The wood's own edge is less of a step of light than the end of its shadow."""
    wood, deep = (0.03, 0.06, 0.12), (0.20, 0.15, 0.10)
    profile = _profile((wood, 20), (deep, 11), (tuple(1.5 * c for c in deep), 20))
    assert 28 < np.flatnonzero(_ends(profile)).mean() < 34
    assert _ends(profile)[:26].sum() == 0


def test_a_pale_or_a_black_binding_is_an_edge_and_no_shadow() -> None:
    """White beside a dark body, and black beside a pale one, both before the mat in a shadow."""
    for body, binding in (((0.02, 0.02, 0.03), (0.6, 0.6, 0.6)), (TOP, (0.012, 0.012, 0.012))):
        assert not _ends(_profile((body, 20), (binding, 11), (SHADED, 20))).any()


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
