"""The fit of a saddle: rendered here pixel by pixel, so that its true place is known."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import erf

from profiler.detection.crossing import Crossings, blurred_step, fit_crossings
from profiler.detection.saddles import refine

Array = NDArray[np.float64]

SIZE, FINER, CHECK_PX = 61, 8, 10.0


def check(place: Array, turn: float, noise: float, rng: np.random.Generator) -> NDArray[np.uint8]:
    """A 2 by 2 check, gamma-coded: white up right of its middle, in uneven light."""
    rows, columns = np.mgrid[0 : SIZE * FINER, 0 : SIZE * FINER]
    x, y = (columns + 0.5) / FINER - 0.5 - place[0], (rows + 0.5) / FINER - 0.5 - place[1]
    u = x * np.cos(turn) + y * np.sin(turn)
    v = x * np.sin(turn) - y * np.cos(turn)
    light = np.where(u * v > 0, 0.6, 0.06)
    light = cv2.GaussianBlur(light, (0, 0), 0.8 * FINER)
    light = light.reshape(SIZE, FINER, SIZE, FINER).mean(axis=(1, 3))
    light = light * (1 + 0.004 * (np.arange(SIZE) - SIZE / 2)) + rng.normal(0, noise, light.shape)
    value = np.clip(light, 0, 1)
    coded = np.where(value <= 0.0031308, 12.92 * value, 1.055 * value ** (1 / 2.4) - 0.055)
    return np.rint(255 * coded).astype(np.uint8)


def sides(turn: float) -> tuple[Array, Array]:
    across = CHECK_PX * np.array([[np.cos(turn), np.sin(turn)]])
    up = CHECK_PX * np.array([[np.sin(turn), -np.cos(turn)]])
    return across, up


def test_grain_moves_the_fit_less_than_half_as_far_as_the_gradients() -> None:
    rng = np.random.default_rng(5)
    fitted, by_gradients, told = [], [], []
    for _ in range(40):
        place, turn = 30 + rng.uniform(-0.5, 0.5, 2), rng.uniform(-0.6, 0.6)
        gray = check(place, turn, 0.01, rng)
        guess = place[None] + rng.normal(0, 0.15, (1, 2))
        seen = fit_crossings(gray, guess, *sides(turn))
        assert seen.sound[0]
        fitted.append(seen.pixels[0] - place)
        told.append(seen.sigma[0])
        by_gradients.append(refine(gray, guess, CHECK_PX)[0] - place)
    error = np.std(fitted)
    assert error < 0.02
    assert error < 0.5 * np.std(by_gradients)
    # what it says of itself is true, and rather too large than too small
    assert 0.8 < float(np.mean(told)) / error < 2.5
    assert np.abs(np.mean(fitted, axis=0)).max() < 0.01


def test_without_grain_it_is_exact_in_light_that_changes() -> None:
    rng = np.random.default_rng(6)
    place = np.array([30.31, 29.77])
    seen = fit_crossings(check(place, 0.3, 0.0, rng), place[None] + 0.2, *sides(0.3))
    assert np.abs(seen.pixels[0] - place).max() < 0.006


@pytest.mark.parametrize("what", ["nothing", "an edge", "the other colours"])
def test_what_is_no_check_keeps_its_guess(what: str) -> None:
    gray = np.full((SIZE, SIZE), 120, dtype=np.uint8)
    if what == "an edge":
        gray[:, 30:] = 240
    if what == "the other colours":
        gray = 255 - check(np.array([30.0, 30.0]), 0.0, 0.0, np.random.default_rng(7))
    guess = np.array([[30.2, 29.9]])
    seen: Crossings = fit_crossings(gray, guess, *sides(0.0))
    assert not seen.sound[0]
    assert (seen.pixels == guess).all()


def test_no_points_are_no_trouble() -> None:
    none = np.zeros((0, 2))
    assert len(fit_crossings(np.zeros((9, 9), dtype=np.uint8), none, none, none).pixels) == 0


def test_the_step_and_its_slope_are_those_of_the_library() -> None:
    d = np.linspace(-6, 6, 4001)
    step, slope = blurred_step(d)
    assert np.abs(step - erf(d / np.sqrt(2))).max() < 1.6e-7
    assert np.abs(slope - np.exp(-(d**2) / 2)).max() < 1e-15
