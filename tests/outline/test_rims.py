"""Which rim is seen: upright blocks whose silhouette is known in closed form."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LinearRing, Point, Polygon
from shapely.ops import unary_union

from profiler.geometry.curves import evenly_spaced, signed_area
from profiler.geometry.frames import Frame2D
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.outline.heights import EdgeHeight, PartEdges
from profiler.outline.lift import lift_points
from profiler.outline.parts import Parts
from profiler.outline.rims import choose_rims, near_the_board, upper_rim_if_lower
from profiler.outline.rounding import EDGE_RADIUS_MM, EDGE_RADIUS_U_MM
from profiler.outline.together import lay_together

#: uncertainties of the edges' radius that leave none of it
SHARP = -EDGE_RADIUS_MM / EDGE_RADIUS_U_MM
CAMERA_HEIGHT = 1000.0
TOP = 70.0


def shapes() -> dict[str, Polygon]:
    t = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    waist = 90 + 25 * np.cos(2 * t) - 10 * np.cos(4 * t)
    return {
        "round": Point(0, 0).buffer(100, quad_segs=64),
        "waisted": Polygon(np.column_stack([1.6 * waist * np.cos(t), waist * np.sin(t)])),
    }


def silhouette(plan: Polygon, nadir: tuple[float, float]) -> np.ndarray:
    """The union of the plan scaled about the nadir for every height of the wall."""
    copies = [
        affinity.scale(plan, *[CAMERA_HEIGHT / (CAMERA_HEIGHT - z)] * 2, origin=Point(nadir))
        for z in np.linspace(0, TOP, 300)
    ]
    ring = np.asarray(unary_union(copies).exterior.coords)[:-1]
    return evenly_spaced(ring if signed_area(ring) > 0 else ring[::-1], 1.0)


@pytest.mark.parametrize("name", ["round", "waisted"])
@pytest.mark.parametrize("nadir", [(0.0, 0.0), (40.0, 60.0), (-180.0, 130.0)])
@pytest.mark.parametrize("told", [0.5, 0.32])
def test_an_upright_block_comes_back_from_its_silhouette(name, nadir, told) -> None:
    """Also where the grain makes it look a little like the upper rim all round."""
    plan = shapes()[name]
    on_mat = silhouette(plan, nadir)
    turned = np.diag([1.0, -1.0, -1.0])
    camera = Camera(
        Lens(4000, 3000, 3000, 2000, 1500),
        Pose(turned, -turned @ np.array([*nadir, CAMERA_HEIGHT])),
    )
    upper = EdgeHeight(0, TOP, 0.0, 0.3, 0.0, "test", True)
    lower = EdgeHeight(0, 0.0, 0.0, 0.3, 0.0, "test", True)
    parts = Parts(
        Frame2D(0.0, (0.0, 0.0)), 400, 400, 400, np.full(len(on_mat), "body"), np.ones(400)
    )
    heights = {"body": PartEdges(upper, lower)}
    rim = choose_rims(on_mat, camera, parts, heights, np.full(len(on_mat), told))
    pixels = camera.project(np.column_stack([on_mat, np.zeros(len(on_mat))]))
    joined = lay_together(
        lift_points(pixels, camera, rim, parts, heights, rounder=SHARP), rim, parts.labels
    )
    away = np.array([LinearRing(plan.exterior).distance(Point(p)) for p in joined.points])
    assert np.percentile(away, 95) < 0.3
    assert away.max() < 1.5
    # without telling the rims apart the same block is far off
    naive = on_mat + (np.array(nadir) - on_mat) * TOP / CAMERA_HEIGHT
    wrong = np.array([LinearRing(plan.exterior).distance(Point(p)) for p in naive])
    if nadir == (-180.0, 130.0):
        assert wrong.max() > 5.0


def test_a_rounded_edge_reaches_further_than_where_a_ray_touches_it() -> None:
    """A disc with a quarter-round edge: its silhouette is that of all its level slices."""
    plan, radius = Point(0, 0).buffer(100, quad_segs=256), 3.0
    up = np.linspace(0, radius, 200)
    inset = radius - np.sqrt(radius**2 - up**2)
    slices = [
        affinity.scale(
            plan.buffer(-i), *[CAMERA_HEIGHT / (CAMERA_HEIGHT - z)] * 2, origin=Point(0, 0)
        )
        for i, z in zip(inset, TOP - radius + up, strict=True)
    ]
    ring = np.asarray(unary_union(slices).exterior.coords)[:-1]
    on_mat = evenly_spaced(ring if signed_area(ring) > 0 else ring[::-1], 1.0)
    turned = np.diag([1.0, -1.0, -1.0])
    camera = Camera(
        Lens(4000, 3000, 3000, 2000, 1500), Pose(turned, -turned @ np.array([0, 0, CAMERA_HEIGHT]))
    )
    edge = EdgeHeight(0, TOP, 0.0, 0.3, 0.0, "test", True)
    n = len(on_mat)
    parts = Parts(Frame2D(0.0, (0.0, 0.0)), 400, 400, 400, np.full(n, "body"), np.ones(400))
    pixels = camera.project(np.column_stack([on_mat, np.zeros(n)]))
    heights = {"body": PartEdges(edge, edge)}
    found, sharp = (
        np.hypot(*lift_points(pixels, camera, np.ones(n), parts, heights, rounder=r).T)
        for r in ((radius - EDGE_RADIUS_MM) / EDGE_RADIUS_U_MM, SHARP)
    )
    assert np.abs(found - 100).max() < 0.02
    assert (sharp < 99.75).all()


def test_a_mirrored_wall_stays_on_the_upper_rim() -> None:
    """A varnished wall mirrors the mat: its lower rim is not seen, the silhouette is the top's."""
    plan = shapes()["round"]
    nadir = np.array([-180.0, 130.0])
    ring = evenly_spaced(np.asarray(plan.exterior.coords)[:-1][::-1], 1.0)
    ring = ring if signed_area(ring) > 0 else ring[::-1]
    on_mat = nadir + (ring - nadir) * CAMERA_HEIGHT / (CAMERA_HEIGHT - TOP)
    turned = np.diag([1.0, -1.0, -1.0])
    camera = Camera(
        Lens(4000, 3000, 3000, 2000, 1500),
        Pose(turned, -turned @ np.array([*nadir, CAMERA_HEIGHT])),
    )
    edges = PartEdges(
        EdgeHeight(0, TOP, 0.0, 0.3, 0.0, "test", True),
        EdgeHeight(0, 0.0, 0.0, 0.3, 0.0, "test", True),
    )
    parts = Parts(
        Frame2D(0.0, (0.0, 0.0)), 400, 400, 400, np.full(len(on_mat), "body"), np.ones(400)
    )
    # no second edge is seen inside
    rim = choose_rims(on_mat, camera, parts, {"body": edges}, np.zeros(len(on_mat)))
    assert (rim == 1.0).mean() > 0.97


def test_opencv_and_the_block_agree_on_scaling() -> None:
    """The scaling law itself, against OpenCV's projection."""
    point = np.array([[120.0, -40.0, TOP]])
    turned = np.diag([1.0, -1.0, -1.0])
    nadir = np.array([30.0, 10.0])
    pose = Pose(turned, -turned @ np.array([*nadir, CAMERA_HEIGHT]))
    lens = Lens(4000, 3000, 3000, 2000, 1500)
    pixel, _ = cv2.projectPoints(
        point, cv2.Rodrigues(pose.rotation)[0], pose.translation, lens.matrix, lens.distortion
    )
    seen = Camera(lens, pose).at_height(pixel.reshape(-1, 2), 0.0)[0]
    expected = nadir + (point[0, :2] - nadir) * CAMERA_HEIGHT / (CAMERA_HEIGHT - TOP)
    assert seen == pytest.approx(expected, abs=1e-6)


def test_a_fretboards_edge_is_no_sign_of_a_rim_beside_it() -> None:
    """Seen from over the head, the shoulders' walls are looked at; near the neck the rim would lie
    where the board's own edge is seen, and the further inside it is sought the wider that is."""
    turned = np.diag([1.0, -1.0, -1.0])
    camera = Camera(
        Lens(4000, 3000, 3000, 2000, 1500),
        Pose(turned, -turned @ np.array([500.0, 0.0, CAMERA_HEIGHT])),
    )
    upper = EdgeHeight(0, TOP, 0.0, 0.3, 0.0, "test", True)
    heights = {"body": PartEdges(upper, EdgeHeight(0, 0.0, 0.0, 0.3, 0.0, "test", True))}
    half_width = np.where(np.arange(601) < 300, 100.0, 18.0)
    points = np.array([(290.0, 24.0), (290.0, 60.0), (290.0, -24.0), (100.0, 24.0), (290.0, 24.0)])
    labels = np.array(["body"] * 4 + ["headstock"])
    parts = Parts(Frame2D(0.0, (0.0, 0.0)), 600, 300, 500, labels, half_width)
    places = upper_rim_if_lower(points, camera, parts, heights)
    near = near_the_board(points, places, camera, parts, heights)
    assert near.tolist() == [True, False, True, False, False]
