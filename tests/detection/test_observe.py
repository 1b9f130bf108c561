"""Measuring points of targets: what they rest on."""

from __future__ import annotations

import cv2
import numpy as np

from profiler.detection.observe import observe
from profiler.detection.tags import find_tags
from profiler.optics.camera import Pose
from profiler.optics.lens import Lens
from profiler.paper import paper_named
from profiler.target.card import card_panels
from profiler.target.mat import MatDesign
from tests.painter import Slab, camera_over, paint

LENS = Lens(1600, 1200, 1250.0, 800.0, 600.0)


def test_saddles_do_not_hang_on_the_tags_rough_corners() -> None:
    """A detector finds a corner a pixel here or there; the checks are measured, from whichever."""
    design = MatDesign(paper_named("A4"), True, 1, 1)
    # the plate hides a check or two of the targets in the middle column
    middle = design.sheets[0].clusters[1]
    left = middle.x - 14.0
    plate = np.array([(left - 8, -5), (left, -5), (left, 300), (left - 8, 300.0)])
    card = Pose(np.eye(3), np.array([228.0, 60.0, 8.0]))
    camera = camera_over(150.0, 100.0, 330.0, LENS, tilt=(0.12, -0.2))
    photo = paint(camera, design, [Slab(plate, 0.0, 6.0)], [(0, card)])
    gray = np.asarray(cv2.cvtColor(photo, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
    panels = [*design.sheets, *card_panels()]
    tags = find_tags(gray)
    first = observe(gray, tags, panels)
    of_middle = (first.code == middle.code).sum()
    assert len(tags) >= 5 and of_middle == 3

    rng = np.random.default_rng(3)
    for _ in range(3):
        rough = {code: corners + rng.uniform(-1.2, 1.2, (4, 2)) for code, corners in tags.items()}
        again = observe(gray, rough, panels)
        assert (again.code == first.code).all() and (again.local == first.local).all()
        assert np.hypot(*(again.pixels - first.pixels).T).max() < 5e-4
