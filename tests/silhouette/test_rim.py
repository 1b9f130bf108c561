"""Upper rim or lower: a disc with binding, its wall seen on one side or mirroring the ground."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from profiler.geometry.curves import evenly_spaced
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.silhouette.edge import Edge
from profiler.silhouette.rim import _by_the_wall, lower_rim_told

HEIGHT, RADIUS, WALL_MM = 1000.0, 100.0, 7.0
GROUND, BINDING, WOOD, WALL = (230, 205, 175), (225, 235, 238), (90, 150, 205), (40, 60, 95)
TURNED = np.diag([1.0, -1.0, -1.0])
CAMERA = Camera(
    Lens(1600, 1200, 3000, 799.5, 599.5), Pose(TURNED, -TURNED @ np.array([0.0, 0.0, HEIGHT]))
)


def _photo(mirrored: bool, wall: float, side: float = 0.0, plain: bool = False) -> np.ndarray:
    photo = np.full((1200, 1600, 3), GROUND, np.uint8)

    def disc(x: float, radius: float, colour: tuple[int, int, int]) -> None:
        ring = np.linspace(0, 2 * np.pi, 720, endpoint=False)
        points = np.column_stack(
            [x + radius * np.cos(ring), radius * np.sin(ring), np.zeros(len(ring))]
        )
        cv2.fillPoly(
            photo, [np.rint(CAMERA.project(points) * 256).astype(np.int32)], colour, shift=8
        )

    disc(wall, RADIUS, GROUND if mirrored else WOOD if plain else WALL)
    # the side of the binding, which only a camera beside it sees
    disc(side, RADIUS, WOOD if plain else BINDING)
    disc(0.0, RADIUS, WOOD if plain else BINDING)
    disc(0.0, RADIUS - 2.5, WOOD)
    noisy = cv2.GaussianBlur(photo, (0, 0), 0.8) + np.random.default_rng(3).normal(
        0, 2, photo.shape
    )
    return np.clip(noisy, 0, 255).astype(np.uint8)


def _told(
    mirrored: bool,
    wall: float = WALL_MM,
    side: float = 0.0,
    plain: bool = False,
    tag: bool = False,
    astray: bool = False,
) -> tuple[np.ndarray, np.ndarray]:
    turn = np.linspace(0, 2 * np.pi, 2000, endpoint=False)
    rim = RADIUS * np.column_stack([np.cos(turn), np.sin(turn)])
    shown = rim[:, 0] > 0
    out = side if mirrored else wall
    outer = rim + np.where(shown, out, 0.0)[:, None] * (1.0, 0.0)
    curve = evenly_spaced(outer, 1.0)
    shown = curve[:, 0] > out
    edge = Edge(
        CAMERA.project(np.column_stack([curve, np.zeros(len(curve))])),
        curve,
        np.ones(len(curve), dtype=bool),
        np.full(len(curve), 0.1),
    )
    photo = _photo(mirrored, wall, side, plain)
    if tag:
        # a tag in its mirror hangs on the rim, between what is sure and what is asked
        edge = replace(edge, plain=np.abs(curve[:, 0] + 10) > 20)
        near = np.abs(curve[:, 0] + 10) < 20
        for x, y in np.rint(edge.pixels[near]).astype(int):
            cv2.circle(photo, (int(x), int(y)), 14, (40, 40, 40), -1)
    if astray:
        # beside bare tint too: grey where the silhouette went out to a shadow's border
        for x, y in np.rint(edge.pixels[np.abs(curve[:, 0] + 12) < 8]).astype(int):
            cv2.circle(photo, (int(x), int(y)), 16, (90, 88, 86), -1)
    places = curve - np.where(shown, wall, 0.0)[:, None] * (1.0, 0.0)
    labels = np.full(len(curve), "body")
    sure = curve[:, 0] < (5 if tag or astray else -20)
    told = lower_rim_told(photo, CAMERA, edge, places, sure, labels)
    return told, curve


def test_a_wall_that_is_seen_makes_the_silhouette_the_lower_rim() -> None:
    told, curve = _told(mirrored=False)
    assert np.median(told[curve[:, 0] > 70]) > 0.9


def test_a_wall_that_mirrors_the_ground_leaves_the_upper_rim() -> None:
    told, curve = _told(mirrored=True)
    assert np.median(told[curve[:, 0] > 70]) < 0.1


def test_a_mirrored_tag_on_the_rim_teaches_nothing() -> None:
    """It is the nearest that is sure to be the upper rim to what is asked, and lies over print."""
    for mirrored, least, most in ((True, 0.0, 0.1), (False, 0.9, 1.0)):
        told, curve = _told(mirrored, tag=True)
        assert least <= np.median(told[(curve[:, 0] > 40) & (curve[:, 0] < 80)]) <= most


def test_a_few_points_of_another_colour_teach_nothing() -> None:
    """The silhouette had left the rim there; the next ones are a wall of that very colour."""
    told, curve = _told(mirrored=False, astray=True)
    facing = curve[:, 0] > WALL_MM + 40
    assert told[facing].mean() > 0.9


def test_the_side_of_a_binding_outside_its_face_is_no_wall() -> None:
    """The wall mirrors the ground, all but the upper 2 mm of what is seen of it."""
    told, curve = _told(mirrored=True, wall=25.0, side=2.0)
    assert np.median(told[curve[:, 0] > 70]) < 0.3
    # a wall of the binding's own colour is broader
    told, curve = _told(mirrored=False, wall=25.0, side=25.0)
    assert np.median(told[curve[:, 0] > 90]) > 0.6


def test_one_colour_down_to_the_bench_tells_nothing() -> None:
    """No binding, and the wall is seen in the face's own colour: it looks nowhere otherwise than
    inside its upper rim, whichever rim that is."""
    told, curve = _told(mirrored=False, plain=True)
    assert 0.3 < np.median(told[curve[:, 0] > 70]) < 0.7


def test_a_strip_of_wall_narrower_than_the_binding_is_told_too() -> None:
    for mirrored in (False, True):
        told, curve = _told(mirrored, wall=1.4)
        assert abs(np.median(told[curve[:, 0] > 80]) - (not mirrored)) < 0.2


def test_where_the_rims_are_close_nothing_is_told() -> None:
    told, curve = _told(mirrored=False)
    assert (told[np.abs(curve[:, 0]) < 8] == 0.5).all()


def test_a_wall_in_other_light_says_nothing_of_this_one() -> None:
    """One wall of a head was told by its look; another, which faces away from it, is as dark as the
    face. That it does not look like the first is no reason to take it for the face's rim."""
    deep, count = 18, 40
    face, lit = np.full((deep, 3), -2.4), np.full((deep, 3), -1.0)
    dark = np.full((deep, 3), -2.3)
    here = np.concatenate([np.repeat(lit[None], count, 0), np.repeat(dark[None], count, 0)])
    usual = (np.repeat(face[None], 2 * count, 0),) * 2
    told = np.concatenate([np.full(count, 1.0), np.full(count, 0.6)])
    unlike = np.abs(here - face).mean(axis=(1, 2))
    across = np.concatenate([np.tile([0.0, 1.0], (count, 1)), np.tile([0.0, -1.0], (count, 1))])
    apart = _by_the_wall(here, told, usual, unlike, 0.24, across)
    assert (apart[count:] == 0.6).all()
    # where it faces as the first does, and so should look like it, it does say so
    alike = np.tile([0.0, 1.0], (2 * count, 1))
    assert (_by_the_wall(here, told, usual, unlike, 0.24, alike)[count:] < 0.1).all()
