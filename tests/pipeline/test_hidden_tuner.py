"""A tuner without a partner: the missing one is drawn where print could hide it, and told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.outline.heights import PARTS, EdgeHeight, PartEdges
from profiler.outline.parts import split
from profiler.outline.splice import Rimmed
from profiler.pipeline.hidden_tuner import with_hidden_tuner
from profiler.silhouette.edge import Edge
from profiler.silhouette.ground import TINT, WHITE, Plan
from tests.drawn import Tuner, drawn_instrument

FLIP = np.diag([1.0, -1.0, -1.0])
#: 60 mm above the bench, and a camera 1 m above it, aside of the head
HIGH = 60.0
CAMERA = Camera(
    Lens(4000, 3000, 2500.0, 1999.5, 1499.5), Pose(FLIP, -FLIP @ np.array([400.0, 60.0, 1000.0]))
)
EVERYONE = [Tuner(x, side) for x in (540, 570, 600) for side in (1, -1)]
LOST = EVERYONE[2]
#: cells of a mm, from (-100, -200) on
PLAN_SHAPE = (400, 900)


def edge_of(tuners: list[Tuner]) -> Rimmed:
    points = drawn_instrument(tuners)[0]
    pixels = CAMERA.project(np.column_stack([points, np.full(len(points), HIGH)]))
    on_mat = CAMERA.at_height(pixels, 0.0)[:, :2]
    n = len(points)
    yes = np.ones(n, dtype=bool)
    edge = Edge(pixels, on_mat, yes, np.full(n, 0.1), plain=yes)
    return Rimmed(edge, split(points), np.zeros(n), yes, np.ones(n))


def heights() -> dict[str, PartEdges]:
    level = EdgeHeight(0.0, HIGH, 0.0, 1.0, 0.0, "typed", True)
    return {part: PartEdges(level, level) for part in PARTS}


def mat(print_from: float, print_to: float) -> Plan:
    """Bare tint, but for a white strip across it."""
    printed = np.full(PLAN_SHAPE, TINT, np.uint8)
    printed[:, int(print_from) + 100 : int(print_to) + 100] = WHITE
    none = np.zeros(PLAN_SHAPE, np.float32)
    return Plan(
        np.dstack([none] * 3), printed, none, none, none == 0, np.array([-100.0, -200.0]), 1.0
    )


def test_over_a_white_strip_it_is_drawn_in_doubt_and_told() -> None:
    few = [tuner for tuner in EVERYONE if tuner is not LOST]
    # the mat shows 6 % larger there than what is 60 mm nearer to the camera
    seen, told = with_hidden_tuner("top-1.jpg", edge_of(few), CAMERA, mat(570, 590), heights())
    assert told is not None and told.code == 311
    assert "on the right of the head 3" in told.message and "on the left 2" in told.message
    rays = CAMERA.at_height(seen.edge.pixels, HIGH)[:, :2]
    whole = shapely.Polygon(drawn_instrument(EVERYONE)[0])
    # without it 25
    assert shapely.hausdorff_distance(shapely.LinearRing(rays), whole.exterior) < 2.5
    drawn = ~seen.edge.measured
    assert drawn.sum() > 30 and (seen.parts.labels[drawn] == "tuners").all()
    assert (seen.edge.sigma[drawn] >= 2.0).all() and (seen.edge.sigma[~drawn] < 0.2).all()


def test_over_bare_tint_it_would_have_been_seen() -> None:
    few = edge_of([tuner for tuner in EVERYONE if tuner is not LOST])
    assert with_hidden_tuner("top-1.jpg", few, CAMERA, mat(100, 120), heights()) == (few, None)


def test_what_a_person_drew_there_stands() -> None:
    few = edge_of([tuner for tuner in EVERYONE if tuner is not LOST])
    at = np.hypot(*(CAMERA.at_height(few.edge.pixels, HIGH)[:, :2] - (570.0, LOST.side * 30.0)).T)
    by_hand = replace(few, edge=replace(few.edge, drawn=at < 5.0))
    same, told = with_hidden_tuner("top-1.jpg", by_hand, CAMERA, mat(570, 590), heights())
    assert same is by_hand and told is None


@pytest.mark.parametrize("strip", [(570, 590), (0, 700)])
def test_where_all_have_partners_nothing_is_drawn(strip: tuple[float, float]) -> None:
    whole = edge_of(EVERYONE)
    assert with_hidden_tuner("top-1.jpg", whole, CAMERA, mat(*strip), heights()) == (whole, None)
