"""The rim sought by its look, where a wall mirrors the print or the face has no binding."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.silhouette.looks import NEIGHBOURS, look_inward
from profiler.silhouette.seek import DEPTHS_MM, seek_rim

TURNED = np.diag([1.0, -1.0, -1.0])
CAMERA = Camera(
    Lens(1600, 1200, 3000, 799.5, 599.5), Pose(TURNED, -TURNED @ np.array([0.0, 0.0, 1000.0]))
)
GROUND, BLACK, WHITE = (230, 205, 175), (30, 30, 30), (235, 238, 240)
BINDING, WOOD, FACE = WHITE, (90, 150, 205), (35, 32, 30)
X = np.arange(-60.0, 60.0)


def rim(x: np.ndarray) -> np.ndarray:
    """y of the rim, mm; the instrument lies below it."""
    return 12.0 + 4.0 * np.sin(x / 30.0)


def _photo(binding: bool, mirrored: bool) -> np.ndarray:
    """Drawn four times as fine, made coarse and soft in linear light, as a lens does."""
    rows, columns = np.mgrid[0:4800, 0:6400] / 4 - 0.375
    x, y = (columns - 799.5) / 3.0, (599.5 - rows) / 3.0
    depth = rim(x) - y
    kind = np.where(depth < 0, 0, 1 if binding else 2)
    kind[depth > 2.5] = 2
    if mirrored:  # chequers of the print, as dark and bright as they come, up to the rim itself
        check = (np.floor(x / 5) + np.floor(y / 5)) % 2 == 0
        kind = np.where((depth < 0) & (np.abs(x) < 30), np.where(check, 3, 4), kind)
    inner = WOOD if binding else FACE
    colours = np.array([GROUND, BINDING, inner, BLACK, WHITE], dtype=np.float32) / 255
    light = (colours**2.2)[kind]
    light = cv2.GaussianBlur(
        cv2.resize(light, None, fx=0.25, fy=0.25, interpolation=3), (0, 0), 0.8
    )
    noisy = 255 * light ** (1 / 2.2) + np.random.default_rng(4).normal(0, 2, light.shape)
    return np.clip(noisy, 0, 255).astype(np.uint8)


def _seek(photo: np.ndarray, off: float = 1.5) -> tuple[np.ndarray, np.ndarray]:
    """How far the rim found lies from the true one, and where it was found."""
    inner = np.abs(X) < 40
    curve = np.column_stack([X, rim(X)])
    normals = np.tile([0.0, 1.0], (len(X), 1))
    looks = look_inward(photo, CAMERA, curve, normals, DEPTHS_MM)
    before, after = looks[X <= -40][-NEIGHBOURS:], looks[X >= 40][:NEIGHBOURS]
    bump = off * np.cos(X[inner] / 40 * np.pi / 2)
    expected = curve[inner] + bump[:, None] * (0.0, 1.0)
    # the curve runs clockwise about what lies below it, its outward side is up
    sought = seek_rim(photo, CAMERA, expected, normals[inner], before, after, 0.03, 5.0)
    return bump + sought.offsets, sought.found


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("off", [-3.0, 0.0, 3.0])
def test_a_bound_rim_is_found_from_mm_away_whatever_the_wall_shows(mirrored, off) -> None:
    away, found = _seek(_photo(binding=True, mirrored=mirrored), off)
    assert found.mean() > 0.8
    # white checks beside a white binding leave only its inner side to go by
    assert np.percentile(np.abs(away[found]), 95) < (0.4 if mirrored else 0.1)


def test_a_face_of_one_colour_ends_where_its_look_ends() -> None:
    away, found = _seek(_photo(binding=False, mirrored=False), -3.0)
    assert found.mean() > 0.9
    assert np.percentile(np.abs(away[found]), 95) < 0.1


def test_a_black_face_on_black_print_is_not_said_to_be_found() -> None:
    _, clear = _seek(_photo(binding=False, mirrored=False), 0.0)
    _, found = _seek(_photo(binding=False, mirrored=True), 0.0)
    assert found.sum() < clear.sum()


def test_nothing_is_found_where_the_look_is_nowhere() -> None:
    photo = _photo(binding=True, mirrored=False)
    strange = photo.copy()
    strange[:, 700:900] = (60, 180, 60)
    _, found = _seek(strange)
    inner = X[np.abs(X) < 40]
    assert not found[np.abs(inner) < 25].any()
    assert found[np.abs(inner) > 36].all()
