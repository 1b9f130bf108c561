"""A ball seen aslant comes back as large as it is."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.geometry.frames import Frame2D
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.outline.heights import EdgeHeight, PartEdges
from profiler.outline.lift import lift_points
from profiler.outline.parts import Parts
from profiler.outline.turned import HALF_THICK_MM, seen_wider

HIGH, RADIUS = 1000.0, HALF_THICK_MM
CAMERA = Camera(
    Lens(4000, 3000, 3000.0, 1999.5, 1499.5),
    Pose(np.diag([1.0, -1.0, -1.0]), np.array([-0.0, 0.0, HIGH])),
)


def rim_of_ball(middle: np.ndarray) -> np.ndarray:
    """(N, 3) where lines of sight from the camera touch a ball: the circle on which its surface is
    square to them, at r² / d from the middle towards the camera."""
    away = np.array([0.0, 0.0, HIGH]) - middle
    d = float(np.linalg.norm(away))
    axis = away / d
    side = np.cross(axis, [0.0, 1.0, 0.0])
    side /= np.linalg.norm(side)
    t = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    ring = np.outer(np.cos(t), side) + np.outer(np.sin(t), np.cross(axis, side))
    return middle + RADIUS**2 / d * axis + RADIUS * np.sqrt(1 - (RADIUS / d) ** 2) * ring


@pytest.mark.parametrize("aside", [(0.0, 0.0), (350.0, 0.0), (-250.0, 300.0)])
def test_a_ball_seen_aslant_is_no_larger(aside: tuple[float, float]) -> None:
    middle = np.array([*aside, 25.0])
    level = EdgeHeight(0.0, middle[2], 0.0, 0.0, 0.0, "made up", True)
    pixels = CAMERA.project(rim_of_ball(middle))
    count = len(pixels)
    parts = Parts(
        Frame2D(0.0, (-500.0, 0.0)), 1000.0, 300.0, 800.0, np.full(count, "tuners"), np.zeros(1001)
    )
    heights = {"tuners": PartEdges(level, level)}
    lifted = lift_points(pixels, CAMERA, np.ones(count), parts, heights)
    off = np.hypot(*(lifted - middle[:2]).T) - RADIUS
    assert np.abs(off).max() < 0.03


def test_it_is_seen_wider_on_both_sides_alike() -> None:
    # 3-4-5: at the slope 3/4 the hypotenuse is 5/4
    assert seen_wider(np.array([-0.75, 0.0, 0.75]), 4.0) == pytest.approx([1.0, 0.0, 1.0])
