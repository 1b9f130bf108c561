"""How high a strap button's tip is, from how far it would stand out at each height."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from profiler.geometry.frames import Frame2D
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.outline.button import button_seen
from profiler.outline.heights import CardPlace, EdgeHeight, PartEdges, edge_heights
from profiler.outline.parts import Parts
from profiler.outline.turned import END_MM

RIM, EYE = 60.0, np.array([350.0, 0.0, 1000.0])


def seen(tip: tuple[float, float], wall: float = 12.0) -> tuple[np.ndarray, Camera, Parts]:
    """A straight tail wall with a button whose tip (x, z) is given, in a camera over the body.

    The tip stands up like a wall: the camera sees its upper edge.
    """
    y = np.linspace(50, -50, 101)
    x, z = np.full(101, wall), np.full(101, RIM)
    button = np.abs(y) < 5
    x[button], z[button] = tip[0], tip[1] + END_MM
    turned = np.diag([1.0, -1.0, -1.0])
    camera = Camera(Lens(4000, 3000, 3000, 2000, 1500), Pose(turned, -turned @ EYE))
    labels = np.where(button, "button", "body").astype("<U9")
    parts = Parts(Frame2D(0.0, (0.0, 0.0)), 700, 700, 700, labels, np.full(700, 100.0))
    return camera.project(np.column_stack([x, y, z])), camera, parts


def body() -> PartEdges:
    upper = EdgeHeight(0, RIM, 0.0, 0.3, 0.0, "test", True)
    lower = EdgeHeight(0, 0.0, 0.0, 0.3, 0.0, "test", True)
    return PartEdges(upper, lower)


@pytest.mark.parametrize("z", [20.0, 30.0, 48.0])
def test_a_tip_stands_out_as_far_as_it_does_at_its_own_height(z: float) -> None:
    pixels, camera, parts = seen((0.0, z))
    found = button_seen(pixels, camera, np.ones(len(pixels)), parts, body())
    assert found is not None
    # the wall is carried outward by what its rounded edge hides
    assert found.level + found.by_height * z == pytest.approx(12.0, abs=0.4)
    assert found.by_height < 0


@pytest.mark.parametrize("z", [20.0, 30.0, 48.0])
def test_a_button_of_the_usual_length_is_put_where_it_is(z: float) -> None:
    pixels, camera, parts = seen((-0.5, z))
    found = button_seen(pixels, camera, np.ones(len(pixels)), parts, body())
    typed = {"body": (RIM, 0.3)}
    button = edge_heights(parts, [], typed, found)["button"].upper
    custom = edge_heights(parts, [], typed)["button"].upper
    assert abs(button.z0 - z) < 2 * button.u
    assert button.u < custom.u
    assert abs(button.z0 - z) <= abs(custom.z0 - z) + 2.0
    assert not button.known


def test_what_was_measured_with_calipers_stands() -> None:
    pixels, camera, parts = seen((0.0, 48.0))
    found = button_seen(pixels, camera, np.ones(len(pixels)), parts, body())
    button = edge_heights(parts, [], {"button": (25.0, 0.5)}, found)["button"].upper
    assert button.z0 == 25.0 and button.known


def test_without_a_button_or_a_wall_nothing_is_said() -> None:
    pixels, camera, parts = seen((0.0, 30.0))
    nothing = Parts(parts.frame, 700, 700, 700, np.full(len(pixels), "body"), np.full(700, 100.0))
    assert button_seen(pixels, camera, np.ones(len(pixels)), nothing, body()) is None
    few = np.flatnonzero(np.abs(np.arange(101) - 50) < 12)
    short = Parts(parts.frame, 700, 700, 700, parts.labels[few], np.full(700, 100.0))
    assert button_seen(pixels[few], camera, np.ones(len(few)), short, body()) is None


def test_an_arched_guitar_has_a_strap_button_and_only_a_violin_an_end_pin() -> None:
    """An archtop's stands out as far as any guitar's; the length is told in words."""
    pixels, camera, flat = seen((-0.5, 30.0))
    found = button_seen(pixels, camera, np.ones(len(pixels)), flat, body())
    falling = CardPlace("card 1", 300.0, 60.0, RIM + 6.0, 0.0, -0.1, np.diag([0.1, 1e-4]), 12)
    for cornered, length in ((False, "12 mm"), (True, "8 mm")):
        parts = replace(flat, cornered=cornered)
        button = edge_heights(parts, [falling], {}, found)["button"].upper
        assert length in button.source, button.source
