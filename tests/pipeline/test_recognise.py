"""A mat without a record is recognised by its tags, also among papers of nearly the same shape."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from profiler.optics.lens import Lens
from profiler.paper import PAPERS
from profiler.pipeline.scene import View, recognise_mat
from profiler.target.mat import MatDesign, design_mat
from tests.painter import camera_over

LENS = Lens(4000, 3000, 2900.0, 2020.0, 1490.0, k1=0.05, k2=-0.06)


def seen(design: MatDesign, scale: tuple[float, float], seed: int = 3, lens: Lens = LENS) -> View:
    """Tag corners of a mat whose sheets were laid a few millimetres out, a third of them hidden."""
    rng = np.random.default_rng(seed)
    centre = (design.width / 2, design.height / 2)
    camera = camera_over(*centre, 1.9 * design.width, lens, (0.12, -0.08))
    tags: dict[int, NDArray[np.float64]] = {}
    for index, sheet in enumerate(design.sheets):
        laid = np.array(design.origin(index)) + rng.normal(0, 2.5, 2)
        for cluster in sheet.clusters:
            if rng.random() < 0.33:
                continue
            flat = cluster.tag_corners() * np.array(scale) + laid
            pixels = camera.project(np.column_stack([flat, np.zeros(4)]))
            tags[cluster.code] = pixels + rng.normal(0, 0.3, (4, 2))
    return View("p.jpg", np.zeros((4, 4), dtype=np.uint8), tags)


@pytest.mark.parametrize("scale", [(1.0, 1.0), (0.99, 1.005)])
@pytest.mark.parametrize("paper", ["A4", "Letter", "A3", "Tabloid", "A2", "A1", "A0"])
def test_the_right_paper_is_recognised(paper: str, scale: tuple[float, float]) -> None:
    design = design_mat(PAPERS[paper])
    found = recognise_mat(seen(design, scale))
    assert found is not None and found.paper.name == paper


@pytest.mark.parametrize("k1", [-0.1, 0.12])
@pytest.mark.parametrize("paper", ["A4", "Letter", "A3", "Tabloid", "A2", "A1"])
def test_also_through_a_lens_that_bends_more_than_most(paper: str, k1: float) -> None:
    lens = Lens(4000, 3000, 2900.0, 2020.0, 1490.0, k1=k1)
    found = recognise_mat(seen(design_mat(PAPERS[paper]), (1.0, 1.0), lens=lens))
    assert found is not None and found.paper.name == paper


def test_a_mat_of_another_size_is_not_taken_for_a_default_one() -> None:
    stretched = replace(PAPERS["A3"], name="other", width_mm=330.0, height_mm=440.0)
    assert recognise_mat(seen(MatDesign(stretched, False, 2, 2), (1.0, 1.0))) is None
