"""Side plates of a slotted head are told from tuners on shafts and from a head's own shape."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from profiler.geometry.curves import evenly_spaced
from profiler.outline.parts import split
from profiler.outline.plates import on_side_plates

SAMPLES = Path(__file__).parents[2] / "samples"


def _head(middles: list[float], high: float = 6.0) -> tuple[np.ndarray, np.ndarray]:
    """A head from x = 800 to 990, 76 broad, with rounded bumps 18 long on both sides; its points
    and which of them are on bumps."""
    x = np.arange(800.0, 990.0)
    bump = np.zeros(len(x))
    for middle in middles:
        bump = np.maximum(bump, high * np.sqrt(np.clip(1 - ((x - middle) / 9) ** 2, 0, None)))
    left = np.column_stack([x, 38 + bump])
    points = np.vstack([left * (1, -1), left[::-1]])
    return points, np.concatenate([bump, bump[::-1]]) > 2.0


def _labelled(points: np.ndarray) -> np.ndarray:
    return np.full(len(points), "headstock")


def test_three_bumps_in_a_row_are_plates() -> None:
    points, bumps = _head([860, 895, 930])
    found = on_side_plates(points, _labelled(points))
    assert found[bumps].mean() > 0.9
    assert found[~bumps].mean() < 0.1


@pytest.mark.parametrize(
    ("middles", "high"),
    [([860, 895], 6.0), ([830, 860, 925], 6.0), ([860, 895, 930], 1.5), ([860, 871, 882], 6.0)],
)
def test_two_or_unevenly_apart_or_low_they_are_none(middles: list[float], high: float) -> None:
    points, _ = _head(middles, high)
    assert not on_side_plates(points, _labelled(points)).any()


def test_tuners_on_shafts_are_none() -> None:
    points, bumps = _head([860, 895, 930])
    labels = np.where(bumps, "tuners", "headstock")
    assert not on_side_plates(points, labels).any()


@pytest.mark.parametrize("name", ["wren", "moor", "skerry", "dunlin", "heron"])
def test_heads_of_our_own_have_none(name: str) -> None:
    truth = json.loads((SAMPLES / name / "truth.json").read_text())
    outline = evenly_spaced(np.array(truth["outline"]), 1.0)
    parts = split(outline)
    assert not on_side_plates(parts.frame.from_mat(outline), parts.labels).any()
