"""Sides that lean with the face or stand upright: photos from both sides of a wall tell."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.geometry.frames import Frame2D
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.outline.heights import EdgeHeight, PartEdges
from profiler.outline.leaning import _LEAST, _MOST, _weighed, lean_doubt, lean_seen
from profiler.outline.lift import leans_out, lift_points, with_lean
from profiler.outline.parts import Parts
from profiler.outline.rims import LOWER, UPPER
from profiler.outline.sight import Sight
from profiler.silhouette.edge import Edge

COUNT, HIGH, SLOPE = 720, 1000.0, -0.03
T = np.linspace(0, 2 * np.pi, COUNT, endpoint=False)
ROUND = np.column_stack([150 - 150 * np.cos(T), -110 * np.sin(T)])
OUT = np.column_stack([-np.cos(T) / 150, -np.sin(T) / 110])
OUT /= np.linalg.norm(OUT, axis=1)[:, None]
PARTS = Parts(
    Frame2D(0.0, (0.0, 0.0)), 300.0, 300.0, 300.0, np.full(COUNT, "body"), 110 * np.ones(301)
)
FACE = EdgeHeight(0.0, 85.0, SLOPE, 0.3, 0.0, "made up", True)
BENCH = EdgeHeight(0.0, 0.0, 0.0, 0.3, 0.0, "made up", True)
HEIGHTS = {"body": PartEdges(FACE, BENCH)}


def photo(index: int, x: float, y: float, share: float) -> tuple[Sight, np.ndarray]:
    """What a camera above (x, y) sees of a body whose sides lean by a share of what is square to
    the face, and its edge at the heights believed."""
    camera = Camera(
        Lens(4000, 3000, 3000.0, 1999.5, 1499.5),
        Pose(np.diag([1.0, -1.0, -1.0]), np.array([-x, y, HIGH])),
    )
    z = FACE.at(ROUND[:, 0])
    rim = np.where(((ROUND - [x, y]) * OUT).sum(axis=1) > 0, UPPER, LOWER)
    upper = np.column_stack([ROUND, z])
    lower = np.column_stack([ROUND[:, 0] + share * SLOPE * z, ROUND[:, 1], np.zeros(COUNT)])
    pixels = camera.project(np.where((rim == UPPER)[:, None], upper, lower))
    edge = Edge(
        pixels, camera.at_height(pixels, 0.0), np.ones(COUNT, dtype=bool), np.full(COUNT, 0.1)
    )
    sight = Sight(
        f"photo {index}", index, edge, PARTS, 1 - rim, rim == UPPER, rim, edge.on_mat.copy()
    )
    return sight, lift_points(pixels, camera, rim, PARTS, HEIGHTS)


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_photos_from_both_sides_of_a_wall_tell_how_it_leans(share: float) -> None:
    # the first looks at the neck's end of the body from outside, the second from over it
    seen = [photo(0, 400.0, 0.0, share), photo(1, 100.0, 40.0, share)]
    told, u = lean_seen([s for s, _ in seen], [c for _, c in seen], HEIGHTS)
    # a lean that is neither is less likely, and told less surely
    assert told == pytest.approx(share, abs=0.25 if share == 0.5 else 0.12)
    assert abs(told - share) < 2 * u < (0.6 if share == 0.5 else 0.4)


def test_more_photos_from_the_same_two_places_tell_hardly_more() -> None:
    """The wall is the same, and so is what heights and rounding leave open of it."""
    seen = [photo(k, x, y, 0.5) for k, (x, y) in enumerate([(400.0, 0.0), (100.0, 40.0)] * 3)]
    two, u_two = lean_seen([s for s, _ in seen[:2]], [c for _, c in seen[:2]], HEIGHTS)
    six, u_six = lean_seen([s for s, _ in seen], [c for _, c in seen], HEIGHTS)
    assert six == pytest.approx(two, abs=0.03)
    assert u_six > 0.7 * u_two
    assert abs(six - 0.5) < 2 * u_six


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_an_edge_that_lies_further_in_all_along_is_no_lean(share: float) -> None:
    (outside, lower), (over, upper) = photo(0, 400.0, 0.0, share), photo(1, 100.0, 40.0, share)
    told, u = lean_seen([outside, over], [lower - 0.4 * OUT, upper], HEIGHTS)
    assert abs(told - share) < 2 * u < 0.6


def test_no_side_leans_further_than_the_face_slopes() -> None:
    for seen in (-30.0, -1.0, 0.0, 0.4, 1.0, 3.0, 30.0):
        share, u = _weighed(float(np.clip(seen, _LEAST, _MOST)), 0.2)
        assert _LEAST <= share <= _MOST and 0.0 < u < 0.5


def test_a_round_back_has_no_sides_that_lean() -> None:
    seen = [photo(0, 400.0, 0.0, 1.0), photo(1, 100.0, 40.0, 1.0)]
    one_edge = {"body": PartEdges(FACE, FACE)}
    assert lean_seen([s for s, _ in seen], [c for _, c in seen], one_edge) == (1.0, 0.5)


def test_photos_that_see_no_wall_from_both_sides_leave_what_was_believed() -> None:
    seen = [photo(0, 150.0, 10.0, 0.0), photo(1, 155.0, -10.0, 0.0)]
    told = lean_seen([s for s, _ in seen], [c for _, c in seen], HEIGHTS)
    assert told == (1.0, 0.5)


def test_a_side_that_leans_may_stand_upright() -> None:
    sight, _ = photo(0, 150.0, 0.0, 1.0)
    outer = leans_out(ROUND, PARTS, HEIGHTS)
    leant = with_lean(ROUND, PARTS, HEIGHTS, outer) - ROUND
    doubt = lean_doubt(ROUND, sight, HEIGHTS, outer).shift
    # at the tail the back's edge stands out by slope times height; the neck's end shows the face's
    assert leant[0, 0] == pytest.approx(SLOPE * 85.0)
    # two standard uncertainties reach from the usual side to one that stands upright
    assert doubt[0, 0] / leant[0, 0] == pytest.approx(0.5)
    assert not doubt[360].any()


def test_what_was_seen_on_the_outer_edge_is_not_in_doubt_and_on_the_inner_one_is() -> None:
    outer = leans_out(ROUND, PARTS, HEIGHTS)
    beyond_the_tail, _ = photo(0, -100.0, 0.0, 1.0)
    assert not lean_doubt(ROUND, beyond_the_tail, HEIGHTS, outer).shift[0].any()
    # the back's edge, seen from beyond the neck's end, lies inside the face's by what it leans
    beyond_the_neck, _ = photo(0, 400.0, 0.0, 1.0)
    inside = lean_doubt(ROUND, beyond_the_neck, HEIGHTS, outer).shift[360]
    assert inside[0] == pytest.approx(-0.5 * SLOPE * (85.0 + 300 * SLOPE))
