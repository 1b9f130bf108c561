"""Misread needles are told from a back's shape; no shape that a back has is taken for one."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from profiler.instrument.misread import misread
from profiler.instrument.shapes import SHAPES, shape_curve

Array = NDArray[np.float64]


def ends(
    shape: str, pitch: float, noise: float, seed: int, hollow: float = 0.0
) -> tuple[Array, Array]:
    """Places and ends of the needles on a back of our own, at their tops."""
    curve = shape_curve(SHAPES[shape], 44.0, 21.0, 5.0, 0.0)
    order = np.argsort(curve[:, 0], kind="stable")
    at = np.arange(-21.6, 21.7, pitch)
    row = np.interp(at, curve[order, 0], curve[order, 1])
    row = row + hollow * np.sin(2.2 * np.pi * at / 22.0)
    return at, row + np.random.default_rng(seed).normal(0.0, noise, len(at))


@pytest.mark.parametrize("shape", sorted(SHAPES))
@pytest.mark.parametrize("pitch", [0.8, 1.27])
def test_no_back_is_taken_for_a_misreading(shape: str, pitch: float) -> None:
    at, row = ends(shape, pitch, 0.08, 3, hollow=0.3)
    bad, bow = misread(at, row, pitch, 0.08)
    assert bad.mean() < 0.1
    assert np.abs(bow - row)[2:-2].max() < 0.45


@pytest.mark.parametrize("off", [-1.0, 1.0])
@pytest.mark.parametrize("shape", sorted(SHAPES))
def test_a_group_that_was_misread_is_left_out(shape: str, off: float) -> None:
    # all along a V, where a group at the ridge looks like a ridge elsewhere
    for first in range(4, 35, 1 if shape == "V" else 3):
        at, row = ends(shape, 1.0, 0.05, first)
        wrong = row.copy()
        wrong[first : first + 3] += off
        bad, _ = misread(at, wrong, 1.0, 0.05)
        assert bad[first : first + 3].all(), first
        assert bad.sum() <= 6, first


@pytest.mark.parametrize("seed", range(6))
def test_a_ridge_is_no_misreading_however_few_needles_stand_on_it(seed: int) -> None:
    at, row = ends("V", 1.27, 0.03, seed, hollow=0.3)
    bad, bow = misread(at, row, 1.27, 0.03)
    assert bad.sum() <= 3
    assert np.abs(bow - row)[2:-2].max() < 0.4


def test_at_the_edges_of_the_hollow_too() -> None:
    at, row = ends("round", 1.0, 0.05, 1)
    row[-4:-1] += 4.0
    bad, _ = misread(at, row, 1.0, 0.05)
    assert bad[-4:-1].all() and bad.mean() < 0.12
