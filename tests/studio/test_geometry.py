"""The studio's geometry by other paths: OpenCV's projection, vertical rays, prints read back."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import shapely

pytest.importorskip("open3d", reason="the studio extra is not installed")
pytest.importorskip("numba", reason="the studio extra is not installed")

import open3d as o3d

from profiler.paper import paper_named
from profiler.target.card import card_panels
from profiler.target.mat import design_mat
from tests.studio import bodies, kernels
from tests.studio.bodies.body import Body
from tests.studio.phone import held
from tests.studio.printing import printed_cards, printed_sheets
from tests.studio.samples import NOVA, POCKET, TERN
from tests.studio.truth import outline_of, width_at

pytestmark = pytest.mark.studio


@pytest.mark.parametrize("phone", [POCKET, NOVA, TERN], ids=lambda p: p.model)
def test_a_ray_comes_back_to_its_pixel_through_opencv(phone) -> None:
    """Rays of the renderer, projected by `cv2.projectPoints` (OpenCV), meet their pixel."""
    camera = held(phone.lens, (420.0, 210.0), 1040.0, (380.0, 300.0), 7.0)
    rng = np.random.default_rng(4)
    px = rng.uniform((0, 0), (phone.lens.width - 1, phone.lens.height - 1), (500, 2))
    rays, exact = np.empty((500, 6), np.float32), np.empty((500, 3))
    pose = camera.camera_from_mat
    lens = phone.lens
    kernels.primary(
        px[:, 0].copy(), px[:, 1].copy(),
        np.array([lens.f, lens.f * lens.aspect, lens.cx, lens.cy]),
        lens.distortion, np.ascontiguousarray(pose.rotation), camera.centre, rays, exact,
    )  # fmt: skip
    points = camera.centre + exact * 900.0
    turn, _ = cv2.Rodrigues(pose.rotation)
    back, _ = cv2.projectPoints(points, turn, pose.translation, lens.matrix, lens.distortion)
    assert np.abs(back.reshape(-1, 2) - px).max() < 1e-6
    # single precision, which the ray caster works in, is far below a tenth of a pixel as well
    rough = rays[:, :3].astype(float) + rays[:, 3:].astype(float) * 900.0
    back, _ = cv2.projectPoints(rough, turn, pose.translation, lens.matrix, lens.distortion)
    assert np.abs(back.reshape(-1, 2) - px).max() < 2e-3


def _struck(body: Body, plan: np.ndarray) -> np.ndarray:
    """Which vertical rays from above meet the instrument."""
    scene = o3d.t.geometry.RaycastingScene(nthreads=1)
    for p in body.parts:
        scene.add_triangles(
            o3d.core.Tensor(p.points.astype(np.float32)), o3d.core.Tensor(p.faces.astype(np.uint32))
        )
    rays = np.zeros((len(plan), 6), np.float32)
    rays[:, :2] = plan
    rays[:, 2] = 500.0
    rays[:, 5] = -1.0
    return np.isfinite(scene.cast_rays(o3d.core.Tensor(rays), 1)["t_hit"].numpy())


@pytest.mark.parametrize("name", ["wren", "skerry", "dunlin"])
def test_vertical_rays_agree_with_the_outline(name: str) -> None:
    """Embree strikes just inside the outline that shapely joined, and misses just outside it."""
    body = bodies.named(name)
    outline = outline_of(body)
    along = np.linspace(0, outline.length, 4000, endpoint=False)
    for offset, inside in ((-0.02, True), (0.02, False)):
        ring = shapely.Polygon(outline.buffer(offset).exterior).exterior
        share = along / outline.length * ring.length
        at = np.array([p.coords[0] for p in shapely.line_interpolate_point(ring, share)])
        struck = _struck(body, at)
        assert np.mean(struck == inside) > 0.995
    # and the check sees an outline that is a fifth of a millimetre off
    moved = np.array(shapely.affinity.translate(outline, 0.2, 0.0).buffer(-0.02).exterior.coords)
    assert np.mean(_struck(body, moved)) < 0.9


@pytest.mark.parametrize("name", ["wren", "moor", "skerry", "dunlin"])
def test_an_instrument_lies_on_the_bench(name: str) -> None:
    body = bodies.named(name)
    points = np.vstack([p.points for p in body.parts])
    assert abs(points[:, 2].min()) < 1e-6
    assert abs(points[:, 0].min()) < 1e-6
    # it stands on places fore and aft, not on a point
    low = points[points[:, 2] < 0.02]
    assert np.ptp(low[:, 0]) > 100.0


def test_width_of_a_known_shape() -> None:
    shape = shapely.Polygon([(0, -10), (100, -30), (100, 20), (0, 10)])
    assert width_at(shape, 50.0) == pytest.approx(35.0, abs=1e-9)


def _print_error(picture: np.ndarray, at: np.ndarray, dots: tuple[float, float]) -> float:
    """mm: the largest distance between saddles found in a picture and where they should be."""
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    start = at.astype(np.float32).reshape(-1, 1, 2)
    found = cv2.cornerSubPix(grey, start.copy(), (15, 15), (-1, -1), (3, 100, 1e-5))
    return float(np.abs((found - start).reshape(-1, 2) / dots).max())


def test_prints_are_where_the_design_says() -> None:
    """The program's PDF, rasterised by PDFium and read back by OpenCV, within 0.01 mm."""
    for picture, panel in zip(printed_cards("#b4d2ee", 400.0), card_panels(), strict=True):
        local = np.vstack([c.saddles() for c in panel.clusters]) + picture.origin
        at = np.column_stack(
            [local[:, 0] * picture.dots[0], (picture.height - local[:, 1]) * picture.dots[1]]
        )
        assert _print_error(picture.face, at - 0.5, picture.dots) < 0.01
    design = design_mat(paper_named("Letter"))
    page = printed_sheets(design, 300.0)[2]
    h, w = page.shape[:2]
    dots = (w / design.sheet_width, h / design.sheet_height)
    local = np.vstack([c.saddles() for c in design.sheets[2].clusters])
    at = np.column_stack([local[:, 0] * dots[0], (design.sheet_height - local[:, 1]) * dots[1]])
    assert _print_error(page, at - 0.5, dots) < 0.01
