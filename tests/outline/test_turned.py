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
from profiler.outline.rims import edge_z_at
from profiler.outline.rise import UPRIGHT, rises_for
from profiler.outline.triangulate import Matches, Responses, triangulate
from profiler.outline.turned import END_MM, HALF_THICK_MM, seen_wider

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
    assert seen_wider(np.array([-0.75, 0.0, 0.75]), radius=4.0) == pytest.approx([1.0, 0.0, 1.0])


@pytest.mark.parametrize("inside", [-350.0, 250.0])
def test_a_strap_buttons_end_comes_back_where_it_is(inside: float) -> None:
    """A disc that stands up across the line of sight: its upper edge is seen from over the
    instrument, its lower one from beyond."""
    across, z = np.linspace(-4.0, 4.0, 41), 40.0
    seen = z + (END_MM if inside < 0 else -END_MM)
    rim = np.column_stack([np.full(41, inside), -across, np.full(41, seen)])
    rest = np.array([(inside + 30, -4.0, z), (inside + 30, 4.0, z)])
    pixels = CAMERA.project(np.vstack([rim, rest]))
    labels = np.full(len(pixels), "button")
    parts = Parts(Frame2D(0.0, (0.0, 0.0)), 700.0, 700.0, 700.0, labels, np.zeros(701))
    level = EdgeHeight(0.0, z, 0.0, 0.0, 0.0, "made up", True)
    plan = lift_points(
        pixels, CAMERA, np.ones(len(pixels)), parts, {"button": PartEdges(level, level)}
    )
    assert np.abs(plan[8:33, 0] - inside).max() < 0.1


def test_pegs_are_level_each_at_the_height_of_its_middle() -> None:
    labels = np.array(["tuners"] * 5 + ["headstock"] + ["tuners"] * 5)
    x = np.array([0.0, 1, 2, 3, 4, 10, 20, 21, 22, 23, 24])
    parts = Parts(Frame2D(0.0, (0.0, 0.0)), 40.0, 0.0, 0.0, labels, np.zeros(41))
    line = EdgeHeight(0.0, 30.0, -0.2, 0.0, 0.0, "made up", True)
    upper, lower = edge_z_at(x, parts, {"tuners": PartEdges(line, line, each_level=True)})
    assert upper[:5] == pytest.approx(29.6) and upper[6:] == pytest.approx(25.6)
    assert (lower == upper).all()
    sloping, _ = edge_z_at(x, parts, {"tuners": PartEdges(line, line)})
    assert sloping[[0, 4]] == pytest.approx([30.0, 29.2])


_PER_SIDE = 41


def seen_box(camera: Camera, middle: np.ndarray, half: np.ndarray) -> np.ndarray:
    """(N, 2) px along the sides of an upright box, where each is seen furthest out: its upper edge
    on the far side, its lower one on the near."""
    t = np.linspace(-1.0, 1.0, _PER_SIDE)
    out = []
    for nx, ny in ((1, 0), (0, 1), (-1, 0), (0, -1)):
        side = middle[:2] + half[:2] * (
            np.array([nx, ny]) + np.outer(t, [-ny, nx])  # anticlockwise
        )
        beyond = (side - camera.centre[:2]) @ np.array([nx, ny]) > 0
        out.append(np.column_stack([side, middle[2] + np.where(beyond, half[2], -half[2])]))
    return camera.project(np.vstack(out))


def test_two_photos_tell_how_upright_the_sides_of_a_button_are() -> None:
    half, z = np.array([8.0, 7.0, 4.0]), 25.0
    middles = [np.array([x, y, z]) for x in (300.0, 340.0) for y in (-45.0, 45.0)]
    cameras = [
        Camera(CAMERA.lens, Pose(np.diag([1.0, -1.0, -1.0]), np.array([-x, y, HIGH])))
        for x, y in ((-50.0, -120.0), (150.0, 140.0))
    ]
    pixels = [np.vstack([seen_box(c, m, half) for m in middles]) for c in cameras]
    count = len(pixels[0])
    labels = np.full(count, "tuners")
    parts = Parts(Frame2D(0.0, (0.0, 0.0)), 400.0, 0.0, 0.0, labels, np.zeros(401))
    level = EdgeHeight(320.0, z - 2.0, 0.0, 5.0, 0.01, "assumed", False)
    believed = {"tuners": PartEdges(level, level)}
    rises = rises_for(believed, {"tuners": (290.0, 350.0)})
    assert [p.side for p in rises.pieces] == ["upper", UPRIGHT]

    def curves_at(rise: np.ndarray) -> list[np.ndarray]:
        heights = rises.on(believed, rise, np.ones(rises.count))
        return [
            lift_points(p, c, np.ones(count), parts, heights)
            for p, c in zip(pixels, cameras, strict=True)
        ]

    sides = np.repeat([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]], _PER_SIDE, axis=0)
    normal = np.tile(sides, (len(middles), 1))
    middle_of_side = np.arange(_PER_SIDE // 3, 2 * _PER_SIDE // 3)  # corners have no normal
    at = np.flatnonzero(np.isin(np.arange(count) % _PER_SIDE, middle_of_side))
    matches = Matches(
        np.repeat([0, 1], len(at)),
        np.tile(at, 2),
        np.tile(np.arange(len(at)), 2),
        np.vstack([normal[at], normal[at]]),
        np.full(2 * len(at), 1 / 0.1**2 / 8),
        8.0,
    )
    nought = np.zeros(rises.count)
    by_rise = [
        [a - b for a, b in zip(curves_at(one), curves_at(nought), strict=True)]
        for one in np.eye(rises.count)
    ]
    found = triangulate(rises, matches, curves_at, Responses(by_rise, []), nought)
    true = np.repeat([m[:2] for m in middles], len(sides), axis=0) + normal * half[:2]

    def out(rise: np.ndarray) -> np.ndarray:
        return np.abs([((c - true) * normal).sum(axis=1)[at] for c in curves_at(rise)])

    as_round = np.append(found.rise[:-1], 0.0)
    assert out(nought).max() > 1.0
    assert out(found.rise).max() < 0.25
    assert out(as_round).max() > 0.7
