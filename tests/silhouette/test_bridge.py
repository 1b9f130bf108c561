"""Bridges over print: carried where an edge goes on smoothly, not where they cut something off."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import shapely

from profiler.geometry.curves import evenly_spaced, outward_normals, signed_area
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.silhouette.bridge import (
    carried_across,
    cuts_off_more_than_ground,
    filled_notches,
    fills_bare_ground,
    without_slivers,
)

TURNED = np.diag([1.0, -1.0, -1.0])
CAMERA = Camera(
    Lens(1600, 1200, 3000, 799.5, 599.5), Pose(TURNED, -TURNED @ np.array([0.0, 0.0, 1000.0]))
)
RADIUS, N = 100.0, 628
TURN = np.linspace(0, 2 * np.pi, N, endpoint=False)
CIRCLE = RADIUS * np.column_stack([np.cos(TURN), np.sin(TURN)])
RUN = np.arange(100, 120)


def test_a_hidden_run_is_carried_on_along_the_curve() -> None:
    seen = CIRCLE.copy()
    seen[RUN] *= 1.02
    bridged, carried = carried_across(seen, ~np.isin(np.arange(N), RUN))
    assert (np.flatnonzero(carried) == RUN).all()
    assert np.abs(np.hypot(*bridged.T) - RADIUS).max() < 0.2


def test_a_knob_is_not_bridged() -> None:
    seen = CIRCLE.copy()
    seen[RUN] *= 1 + 0.08 * np.sin(np.linspace(0, np.pi, len(RUN)))[:, None]
    bridged, carried = carried_across(seen, ~np.isin(np.arange(N), RUN))
    assert not carried.any()
    assert (bridged == seen).all()


@pytest.mark.parametrize(("deep", "bridged"), [(4.0, True), (6.0, False), (-4.0, False)])
def test_a_bite_is_bridged_deeper_than_what_stands_out(deep: float, bridged: bool) -> None:
    seen = CIRCLE.copy()
    seen[RUN] *= 1 - deep / RADIUS * np.sin(np.linspace(0, np.pi, len(RUN)))[:, None]
    _, carried = carried_across(seen, ~np.isin(np.arange(N), RUN))
    assert carried.any() == bridged


def _told(colour: int, known: bool = True) -> np.ndarray:
    """A bridge 3 mm inside a contour, with some grey between the two and grey 200 outside."""
    photo = np.full((1200, 1600, 3), 200, np.uint8)
    rows, columns = np.mgrid[0:1200, 0:1600]
    x, y = (columns - 799.5) / 3.0, (599.5 - rows) / 3.0
    photo[np.hypot(x, y) < RADIUS] = colour
    cut_off = np.where(np.isin(np.arange(N), RUN), 3.0, 0.0)

    def divisor(places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return np.ones((*places.shape[:-1], 3)), np.full(places.shape[:-1], not known)

    normals = outward_normals(CIRCLE, 2.5)
    return cuts_off_more_than_ground(photo, CAMERA, CIRCLE, normals, cut_off, divisor)


def test_what_looks_like_the_ground_may_be_cut_off_and_wood_may_not() -> None:
    assert not _told(200).any()
    assert (np.flatnonzero(_told(90)) == RUN).all()


def test_where_the_print_is_not_known_nothing_is_told() -> None:
    assert not _told(90, known=False).any()


@pytest.mark.parametrize(
    ("colour", "printed", "told"),
    [(200, 1.0, True), (90, 1.0, False), (200, 0.3, False)],
    ids=["bare tint", "wood", "print"],
)
def test_a_bridge_does_not_fill_bare_tint_in_plain_sight(
    colour: int, printed: float, told: bool
) -> None:
    """A bite of 4 mm, of some grey, where tint or black is printed; grey 200 outside."""
    bitten = CIRCLE.copy()
    bitten[RUN] *= 1 - 4.0 / RADIUS * np.sin(np.linspace(0, np.pi, len(RUN)))[:, None]
    photo = np.full((1200, 1600, 3), 200, dtype=np.uint8)
    corners = CAMERA.project(np.column_stack([CIRCLE, np.zeros(N)]))
    cv2.fillPoly(photo, [np.rint(corners).astype(np.int32)], (colour,) * 3)

    def divisor(places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        inside = np.hypot(places[..., 0], places[..., 1]) < RADIUS
        light = np.where(inside, printed, 1.0)[..., None] * np.ones(3)
        return light, np.zeros(places.shape[:-1], dtype=bool)

    carried = np.isin(np.arange(N), RUN)
    found = fills_bare_ground(photo, CAMERA, bitten, CIRCLE, carried, divisor)
    assert found.any() == told and not found[~carried].any()


@pytest.mark.parametrize(
    ("inside", "told"),
    [("print", True), ("black wood", False), ("white binding", False)],
)
def test_a_bridge_does_not_fill_print_that_shows_both_its_inks(inside: str, told: bool) -> None:
    """A bite of 4 mm where black and white squares are printed, each 1.5 mm, on and on outside."""
    tint, white, black = 0.35, 1.7, 0.1
    bitten = CIRCLE.copy()
    bitten[RUN] *= 1 - 4.0 / RADIUS * np.sin(np.linspace(0, np.pi, len(RUN)))[:, None]

    def ink(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.where((np.floor(x / 1.5) + np.floor(y / 1.5)) % 2 == 0, white, black)

    rows, columns = np.mgrid[0:1200, 0:1600]
    x, y = (columns - 799.5) / 3.0, (599.5 - rows) / 3.0
    light = tint * ink(x, y)
    there = {"black wood": tint * black, "white binding": tint * white}.get(inside)
    if there is not None:
        light[np.hypot(x, y) < RADIUS] = there
    grey = np.rint(
        255 * np.where(light < 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    )
    photo = np.repeat(grey.astype(np.uint8)[..., None], 3, axis=2)

    def divisor(places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        px, py = places[..., 0], places[..., 1]
        near = [np.abs(v / 1.5 - np.rint(v / 1.5)) < 0.2 for v in (px, py)]
        return ink(px, py)[..., None] * np.ones(3), near[0] | near[1]

    carried = np.isin(np.arange(N), RUN)
    assert fills_bare_ground(photo, CAMERA, bitten, CIRCLE, carried, divisor).any() == told


def _neck_with_a_notch(wide: float, deep: float) -> tuple[np.ndarray, np.ndarray]:
    """A bar 300 by 40, anticlockwise, a notch in its upper side; and which points are in it."""
    left, right = 150 + wide / 2, 150 - wide / 2
    corners = [(0, 0), (300, 0), (300, 40), (left, 40), (left, 40 - deep), (right, 40 - deep)]
    curve = evenly_spaced(np.array([*corners, (right, 40), (0, 40)], dtype=float), 1.0)
    notch = (np.abs(curve[:, 0] - 150) < wide / 2 + 0.5) & (curve[:, 1] > 20)
    return curve, notch


@pytest.mark.parametrize(
    ("wide", "deep", "closed"), [(5.0, 5.0, True), (5.0, 2.0, False), (12.0, 10.0, False)]
)
def test_a_white_nut_over_white_print_leaves_no_notch(
    wide: float, deep: float, closed: bool
) -> None:
    curve, notch = _neck_with_a_notch(wide, deep)
    filled, where = filled_notches(curve, notch, notch)
    assert where.any() == closed
    assert (np.abs(filled[notch, 1] - 40).max() < 0.6) == closed
    assert (filled[~where] == curve[~where]).all()


def test_a_notch_beside_tint_is_one() -> None:
    curve, notch = _neck_with_a_notch(5.0, 5.0)
    half = notch & (curve[:, 0] > 150)
    filled, where = filled_notches(curve, half, half)
    assert not where.any()
    assert (filled == curve).all()


@pytest.mark.parametrize(
    ("wide", "deep", "closed"),
    [(2.5, 11.0, True), (4.0, 8.0, True), (4.0, 4.0, False), (7.0, 11.0, False)],
)
def test_over_a_tag_only_a_slit_is_closed(wide: float, deep: float, closed: bool) -> None:
    """A fret has the white of the tag that it lies over; a notch of another shape may be one."""
    curve, notch = _neck_with_a_notch(wide, deep)
    filled, where = filled_notches(curve, np.zeros(len(curve), dtype=bool), notch)
    assert where.any() == closed
    assert (np.abs(filled[notch, 1] - 40).max() < 0.6) == closed


def test_a_gap_beside_a_step_is_none_to_close() -> None:
    """The edge does not go on behind it as it came: between a shaft and a head's shoulder."""
    corners = [(0, 0), (300, 0), (300, 40), (153, 40), (153, 34), (148, 34), (148, 60), (0, 60)]
    curve = evenly_spaced(np.array(corners, dtype=float), 1.0)
    near = np.abs(curve[:, 0] - 150) < 6
    _, where = filled_notches(curve, near, near)
    assert not where.any()


def _wall_with(*more: tuple[float, float]) -> np.ndarray:
    """A body's straight side, the wall's foot beyond it for 20 mm, and more corners there."""
    corners = [(0, 0), (300, 0), (300, 40), (160, 40), *more, (140, 50), (140, 40), (0, 40)]
    return np.array(corners, dtype=float)


def test_a_lit_edge_that_hangs_on_by_one_end_is_no_outline() -> None:
    contour = _wall_with((160, 49), (200, 49), (200, 50))
    left = without_slivers(contour)
    assert not shapely.contains_xy(shapely.Polygon(left), 180.0, 49.5)
    wall = shapely.Polygon(_wall_with((160, 50)))
    assert shapely.hausdorff_distance(shapely.Polygon(left), wall) < 1.0
    assert signed_area(left) > 0


@pytest.mark.parametrize(
    "more",
    [
        [(160, 46), (200, 46), (200, 50)],  # a shaft, 4 thick
        [(160, 49), (200, 49), (200, 42), (215, 42), (215, 57), (200, 57), (200, 50)],  # ties two
        [(160, 50)],
    ],
)
def test_shafts_and_what_ties_two_things_together_are_left(more: list[tuple[float, float]]) -> None:
    contour = _wall_with(*more)
    left = shapely.Polygon(without_slivers(contour))
    assert left.symmetric_difference(shapely.Polygon(contour)).area < 2.0


def test_a_contour_that_touches_itself_is_no_stumbling_block() -> None:
    body = [(0, 0), (100, 0), (100, 40), (60, 40), (60, 80), (60, 40), (50, 40), (50, 49), (80, 49)]
    contour = np.array([*body, (80, 50), (40, 50), (40, 40), (0, 40)], dtype=float)
    left = shapely.Polygon(without_slivers(contour))
    assert left.is_valid
    assert left.area > 3900
