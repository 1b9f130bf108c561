"""Needles' ends over a print that is known: made up row by row, no photo needed."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from profiler.silhouette.beneath import Beneath
from profiler.silhouette.needle_or_mat import looks
from profiler.silhouette.tips import Ends, trace_tips

Array = NDArray[np.float64]

CELL, BLUR = 0.08, 0.2
#: rows and needles; mm of a needle
ROWS, NEEDLES, LONG = 900, 70, 46.0
TINT, WHITE, BLACK = np.array(
    [[0.75, 0.62, 0.50], [0.84, 0.86, 0.85], [0.04, 0.04, 0.04]]
)  # fmt: skip


def true_ends() -> tuple[Array, Array]:
    """(K,) mm of the upper and lower ends: a round hollow from below a row of level ends."""
    k = np.arange(NEEDLES) - NEEDLES / 2
    hollow = np.where(np.abs(k) < 20, 11.0 * np.sqrt(np.maximum(1 - (k / 20.0) ** 2, 0)), 0.0)
    upper = 58.0 - hollow
    return upper, upper - LONG


def seen(needle: Array) -> tuple[Array, Beneath, Array]:
    """Light (H, K, 3), the mat beneath it, and what a careless silhouette takes for needles."""
    rng = np.random.default_rng(4)
    v = np.arange(ROWS)[:, None] * CELL
    upper, lower = true_ends()
    ink = np.zeros((ROWS, NEEDLES), dtype=np.intp)
    k = np.arange(NEEDLES)[None, :]
    ink[np.abs(v - 30.0 - 0.55 * k) < 3.0] = 1  # a seam, aslant through the hollow
    inks = np.stack([TINT, WHITE, BLACK])
    inside = (v < upper) & (v > lower)
    shade = np.where(inside, 1.0, 1 - 0.4 * np.exp(-np.maximum(v - upper, 0) / 1.5))
    light = np.where(inside[..., None], needle, inks[ink] * shade[..., None])
    light = gaussian_filter1d(light, BLUR / CELL, axis=0)
    grain = gaussian_filter1d(rng.normal(0, 0.12, (ROWS, NEEDLES)), 2.0, axis=0) * 2.0
    light = light * np.exp(grain * np.where(inside, 1.0, 0.2))[..., None]
    chance = np.full((ROWS, NEEDLES, 3), 0.01)
    np.put_along_axis(chance, ink[..., None], 0.98, axis=2)
    beneath = Beneath(
        np.broadcast_to(inks, (ROWS, NEEDLES, 3, 3)).copy(), chance, np.ones((ROWS, NEEDLES), bool)
    )
    # paper in the needles' shade is taken for needles, 2 mm of it
    careless = inside | ((ink == 1) & (v < upper + 2.0) & (v > lower - 2.0))
    return light, beneath, careless


def traced(light: Array, beneath: Beneath, inside: Array) -> tuple[Ends, Ends]:
    look = looks(light, beneath, inside.astype(bool), CELL, BLUR)
    assert look is not None
    return trace_tips(look, inside.astype(bool), 0.0, CELL, BLUR)


@pytest.mark.parametrize(
    ("needle", "within"),
    [
        ((0.20, 0.20, 0.20), 0.08),
        ((0.08, 0.19, 0.32), 0.10),
        ((0.03, 0.03, 0.03), 0.08),
        ((0.60, 0.68, 0.70), 0.25),
    ],
    ids=["steel", "bronze", "black", "pale"],
)
def test_ends_are_found_over_a_seam(needle: tuple[float, float, float], within: float) -> None:
    for found, true in zip(traced(*seen(np.array(needle))), true_ends(), strict=True):
        off = found.v - true
        assert np.isfinite(off).mean() > 0.9
        assert float(np.sqrt(np.nanmean(off**2))) < within
        # along the row they are known far better than altogether
        assert float(np.nanstd(off)) < 0.05
