"""Measuring points of targets: what they rest on."""

from __future__ import annotations

import cv2
import numpy as np

from profiler.detection.observe import observe
from profiler.detection.saddles import refine
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


def test_checks_on_one_side_of_a_tag_do_not_lead_astray_on_its_other_side() -> None:
    """A small card from afar, 1.4 px a millimetre: the next check but one looks the same, and is 8
    px away. Where the tag's corners are a little out, the checks of one side are found first."""
    design, panel = MatDesign(paper_named("A4"), True, 1, 1), card_panels()[4]
    tilt = np.radians(16.0)
    lean = np.array([[np.cos(tilt), 0, np.sin(tilt)], [0, 1, 0], [-np.sin(tilt), 0, np.cos(tilt)]])
    card = Pose(lean, np.array([250.0, 90.0, 40.0]))
    camera = camera_over(60.0, 100.0, 850.0, LENS)
    photo = paint(camera, design, [], [(4, card)])
    gray = np.asarray(cv2.cvtColor(photo, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
    (cluster,) = panel.clusters

    def seen_at(local: np.ndarray) -> np.ndarray:
        return camera.project(card.apply(np.column_stack([local, np.zeros(len(local))])))

    rng, many = np.random.default_rng(5), []
    for _ in range(38):
        corners = seen_at(cluster.tag_corners()) + rng.uniform(-1.0, 1.0, (4, 2)) * 1.2
        seen = observe(gray, {cluster.code: corners}, [panel])
        many.append(len(seen))
        assert (np.hypot(*(seen.pixels - seen_at(seen.local)).T) < 1.5).all()
    assert np.median(many) > 35


def test_a_guess_outside_the_photo_stays_where_it_is() -> None:
    """A tag seen small and askew leads to places far outside; those are no error."""
    gray = np.full((300, 400), 128, dtype=np.uint8)
    guesses = np.array([(-5.0, 3.0), (50.0, 60.0), (500.0, 3.0), (np.nan, 1.0)])
    assert refine(gray, guesses, 4.0)[[0, 2, 3]].tobytes() == guesses[[0, 2, 3]].tobytes()
