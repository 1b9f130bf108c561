"""A tuner button is alike on both sides of its shaft: one half tells what the other has lost."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import distance, points, unary_union
from shapely.affinity import translate
from shapely.geometry import LinearRing, MultiPoint, Polygon

from profiler.geometry.curves import evenly_spaced
from profiler.geometry.frames import Frame2D
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.outline.halves import with_whole_buttons
from profiler.outline.parts import Parts
from profiler.silhouette.edge import Edge

#: over the body, 400 mm from the tuner along the neck and 15 aside
FLIP = np.diag([1.0, -1.0, -1.0])
CAMERA = Camera(
    Lens(4000, 3000, 3000.0, 1999.5, 1499.5), Pose(FLIP, -FLIP @ np.array([-400.0, 15.0, 1000.0]))
)
#: the head's side runs along y = 0, the tuner stands out from it upwards, at x = 0
SHAFT, REACH = 2.0, 8.0


def _button(turn_deg: float) -> np.ndarray:
    """(N, 3) of a button 16 long, 13 and 7 thick, turned about its shaft, middle 25 high."""
    u, v = np.meshgrid(np.linspace(0, np.pi, 40), np.linspace(0, 2 * np.pi, 80))
    ball = np.stack([8 * np.sin(u) * np.cos(v), 6.5 * np.cos(u), 3.5 * np.sin(u) * np.sin(v)], -1)
    x, y, z = ball.reshape(-1, 3).T
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    return np.column_stack([c * x - s * z, y + REACH + 6.5, s * x + c * z + 25.0])


def _alone(turn_deg: float) -> Polygon:
    """The silhouette of shaft and button on the mat plane."""
    flat = CAMERA.at_height(CAMERA.project(_button(turn_deg)), 0.0)[:, :2]
    shaft = CAMERA.at_height(
        CAMERA.project(np.array([(x, y, 25.0) for x in (-SHAFT, SHAFT) for y in (0.0, REACH + 2)])),
        0.0,
    )[:, :2]
    return MultiPoint(flat).convex_hull.union(MultiPoint(shaft).convex_hull)


def _tuner(turn_deg: float = 0.0, *sisters: tuple[float, float]) -> Edge:
    """The silhouette of a head's side with one tuner, on the mat plane, a point every mm; sisters
    stand so far beside it, mm, and are turned so much, degrees."""
    outline = _alone(turn_deg)
    low, middle = outline.bounds[1], (outline.bounds[0] + outline.bounds[2]) / 2
    head = MultiPoint([(middle + x, low + y) for x in (-90, 90) for y in (-40, 1)]).convex_hull
    things = [outline, head]
    things += [translate(_alone(turned), aside) for aside, turned in sisters]
    curve = evenly_spaced(np.array(unary_union(things).exterior.coords)[::-1][:-1], 1.0)
    if LinearRing(curve).is_ccw is False:
        curve = curve[::-1]
    n = len(curve)
    pixels = CAMERA.project(np.column_stack([curve, np.zeros(n)]))
    return Edge(pixels, curve, np.ones(n, bool), np.full(n, 0.1), plain=np.ones(n, bool))


def _parts(edge: Edge) -> Parts:
    low = edge.on_mat[:, 1].min() + 41.5
    labels = np.where(edge.on_mat[:, 1] > low, "tuners", "headstock")
    return Parts(Frame2D(0.0, (-500.0, 0.0)), 1000.0, 300.0, 450.0, labels, np.zeros(1001))


def _bitten(edge: Edge, left: float, deep: float) -> tuple[Edge, np.ndarray]:
    """What lies over the shaft and right of the middle by `left` mm, pulled in over print."""
    x, y = edge.on_mat.T
    tuner = _parts(edge).labels == "tuners"
    middle = (x[tuner].min() + x[tuner].max()) / 2
    lost = tuner & (x > middle + left) & (y > y[tuner].min() + 14)
    curve = edge.on_mat.copy()
    curve[lost, 0] -= deep * np.sin(np.linspace(0, np.pi, lost.sum()))
    pixels = CAMERA.project(np.column_stack([curve, np.zeros(len(curve))]))
    return replace(edge, on_mat=curve, pixels=pixels, plain=~lost), lost


def _cut_flat(edge: Edge) -> tuple[Edge, np.ndarray]:
    """The first tuner's outer 3 mm lost over print, on both sides of its shaft."""
    x, y = edge.on_mat.T
    mine = (_parts(edge).labels == "tuners") & (x < x.min() + 90 + 15)
    lost = mine & (y > y.max() - 3.0)
    curve = edge.on_mat.copy()
    curve[lost, 1] = y.max() - 3.0
    pixels = CAMERA.project(np.column_stack([curve, np.zeros(len(curve))]))
    return replace(edge, on_mat=curve, pixels=pixels, plain=~lost), lost


def _off(edge: Edge, true: Edge) -> np.ndarray:
    return np.asarray(distance(points(edge.on_mat), LinearRing(true.on_mat)))


@pytest.mark.parametrize("turn_deg", [0.0, 35.0, 90.0])
def test_a_bite_is_filled_however_the_button_is_turned(turn_deg: float) -> None:
    true = _tuner(turn_deg)
    bitten, lost = _bitten(true, 1.0, 3.0)
    assert _off(bitten, true).max() > 1.5
    whole = with_whole_buttons(bitten, CAMERA, _parts(bitten))
    assert _off(whole, true).max() < 0.45
    told = (whole.on_mat != bitten.on_mat).any(axis=1)
    assert told.any()
    assert lost[told].mean() > 0.9
    assert not whole.measured[told].any()
    assert (whole.sigma[told] > bitten.sigma[told]).all()
    assert np.abs(CAMERA.at_height(whole.pixels, 0.0)[:, :2] - whole.on_mat).max() < 1e-6


def test_what_both_halves_have_lost_a_sister_shows() -> None:
    true = _tuner(20.0, (45.0, 80.0), (75.0, 20.0))
    cut, lost = _cut_flat(true)
    assert _off(cut, true).max() > 2.5
    whole = with_whole_buttons(cut, CAMERA, _parts(cut))
    assert _off(whole, true).max() < 0.5
    told = (whole.on_mat != cut.on_mat).any(axis=1)
    assert lost[told].all()
    assert not whole.measured[told].any()


def test_a_half_that_is_lost_whole_a_sister_shows() -> None:
    """A white button half over a white seam, half over tint: the seam's side and what lies beyond
    are gone, straight down along the shaft."""
    true = _tuner(20.0, (45.0, 80.0), (75.0, 20.0))
    x, y = true.on_mat.T
    mine = (_parts(true).labels == "tuners") & (x < x.min() + 90 + 15)
    middle = (x[mine].min() + x[mine].max()) / 2
    lost = mine & (x > middle) & (y > y[mine].min() + 6)
    curve = true.on_mat.copy()
    curve[lost, 0] = middle
    pixels = CAMERA.project(np.column_stack([curve, np.zeros(len(curve))]))
    halved = replace(true, on_mat=curve, pixels=pixels, plain=~lost)
    assert _off(halved, true).max() > 6
    whole = with_whole_buttons(halved, CAMERA, _parts(halved))
    assert _off(whole, true).max() < 1.0
    assert not whole.measured[(whole.on_mat != halved.on_mat).any(axis=1)].any()


def test_a_sister_that_is_turned_otherwise_shows_nothing() -> None:
    cut, _ = _cut_flat(_tuner(0.0, (45.0, 90.0)))
    assert with_whole_buttons(cut, CAMERA, _parts(cut)) is cut


def test_what_is_seen_beside_bare_tint_is_left_as_it_is() -> None:
    bitten, _ = _bitten(_tuner(), 1.0, 3.0)
    seen = replace(bitten, plain=np.ones(len(bitten.on_mat), bool))
    assert with_whole_buttons(seen, CAMERA, _parts(seen)) is seen


def test_what_stands_out_is_no_bite() -> None:
    bulging, _ = _bitten(_tuner(), 1.0, -3.0)
    assert with_whole_buttons(bulging, CAMERA, _parts(bulging)) is bulging


def test_the_edges_own_noise_is_left() -> None:
    rough, _ = _bitten(_tuner(), 1.0, 0.6)
    assert with_whole_buttons(rough, CAMERA, _parts(rough)) is rough


def test_what_a_hand_drew_is_left() -> None:
    bitten, lost = _bitten(_tuner(), 1.0, 3.0)
    drawn = replace(bitten, drawn=lost)
    whole = with_whole_buttons(drawn, CAMERA, _parts(drawn))
    assert (whole.on_mat[lost] == drawn.on_mat[lost]).all()


def test_a_thing_that_is_unlike_on_its_sides_tells_nothing() -> None:
    """A lever that reaches far to one side only."""
    edge = _tuner()
    x, y = edge.on_mat.T
    tuner = _parts(edge).labels == "tuners"
    curve = edge.on_mat.copy()
    far = tuner & (y > y[tuner].min() + 8)
    curve[far, 0] += 1.6 * (y[far] - y[far].min())
    lever = replace(edge, on_mat=curve, plain=~(tuner & (x < x[tuner].mean())))
    assert with_whole_buttons(lever, CAMERA, _parts(edge)) is lever
