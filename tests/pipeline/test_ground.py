"""A photo whose bare ground is hardly seen: refused, in words that fit what lies there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from profiler.paper import paper_named
from profiler.pipeline.check_points import refused
from profiler.pipeline.ground import TooLittleGround, ground_of
from profiler.pipeline.scene import look, solve_photos
from profiler.scene.record import LensPrior, PrintScale
from profiler.target.mat import MatDesign
from tests.painter import camera_over, paint
from tests.silhouette.flat import LENS


def test_a_mat_of_which_three_targets_are_seen_is_refused() -> None:
    design = MatDesign(paper_named("A3"), True, 1, 1)
    camera = camera_over(210.0, 148.0, 420.0, LENS, tilt=(0.0, 0.0))
    photo = paint(camera, design, [], [])
    prior = LensPrior(LENS, np.full(9, 1e-6), "record")
    scene = solve_photos([look("bare", photo)], design, prior, PrintScale(1.0, 1.0), None)
    ground_of(photo, "p.jpg", scene)

    first = np.isin(scene.observations[0].code, [c.code for c in design.sheets[0].clusters[:3]])
    scene = replace(scene, used=scene.used & first)
    with pytest.raises(TooLittleGround, match=r"p\.jpg: .* round the gauge") as told:
        ground_of(photo, "p.jpg", scene, "gauge")
    assert refused(told.value, "").do
