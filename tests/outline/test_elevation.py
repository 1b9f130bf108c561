"""Heights from a side view: points of a made-up instrument come back from where they are seen."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.outline.elevation import (
    floor_under,
    lifted_lower,
    lifted_upper,
    upper_and_lower,
)
from profiler.outline.heights import EdgeHeight
from profiler.outline.planview import PlanView

RIM, HALF = 70.0, 100.0
#: a box of a body, 300 by 200 mm, a neck of 44 mm, a headstock of 70 mm
PLAN = np.array(
    [(0, -HALF), (300, -HALF), (300, -22), (500, -22), (500, -35), (600, -35)], dtype=float
)


def plan(flat_back: bool = True) -> PlanView:
    ring = np.concatenate([PLAN, PLAN[::-1] * [1, -1]])
    points = []
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        n = max(1, int(np.hypot(*(b - a))))
        points.append(a + np.arange(n)[:, None] / n * (b - a))
    outline = np.concatenate(points)
    part = np.where(
        outline[:, 0] <= 300, "body", np.where(outline[:, 0] < 500, "neck", "headstock")
    )
    rim = EdgeHeight(150.0, RIM, 0.0, 0.3, 0.0, "card", True)
    return PlanView(outline, part, rim, flat_back, 20.0)


def seen_from(centre: np.ndarray, points: np.ndarray) -> np.ndarray:
    """(N, 3) mm to where their rays cross the plane through the centreline."""
    share = -centre[1] / (points[:, 1] - centre[1])
    crossed = centre + share[:, None] * (points - centre)
    return crossed[:, [0, 2]]


@pytest.mark.parametrize("side", [-1.0, 1.0])
@pytest.mark.parametrize("height", [40.0, 95.0])
def test_the_rim_is_the_far_one_from_above_and_the_near_one_from_below(
    side: float, height: float
) -> None:
    centre = np.array([280.0, side * 700.0, height])
    edge = -side * HALF if height > RIM else side * HALF
    x = np.arange(40.0, 260.0, 3.0)
    rim = np.column_stack([x, np.full(len(x), edge), np.full(len(x), RIM)])
    seen = lifted_upper(seen_from(centre, rim), np.full(len(x), 0.1), centre, plan())
    assert set(seen.kind) == {"rim"}
    np.testing.assert_allclose(seen.z, RIM, atol=0.05)
    np.testing.assert_allclose(seen.x, x, atol=0.05)


def test_a_bridge_stands_over_the_centreline_and_its_width_is_doubt() -> None:
    centre = np.array([280.0, -700.0, 95.0])
    x = np.arange(80.0, 100.0)
    for y in (-25.0, 0.0, 25.0):
        bridge = np.column_stack([x, np.full(len(x), y), np.full(len(x), 84.0)])
        seen = lifted_upper(seen_from(centre, bridge), np.full(len(x), 0.1), centre, plan())
        assert set(seen.kind) == {"over"}
        assert np.abs(seen.z - 84.0).max() < 0.65
    assert (seen.depth > 0.05).all()


@pytest.mark.parametrize("height", [30.0, 120.0])
def test_above_a_neck_the_outer_string_that_is_seen_lies_within_its_doubt(height: float) -> None:
    centre = np.array([280.0, -700.0, height])
    x = np.arange(320.0, 480.0, 3.0)
    # from above a flat row of strings shows the far one, from below the near one; a round one any
    for y in (0.0, 20.0 if height > 75.0 else -20.0):
        strings = np.column_stack([x, np.full(len(x), y), np.full(len(x), 75.0)])
        seen = lifted_upper(seen_from(centre, strings), np.full(len(x), 0.1), centre, plan())
        assert set(seen.kind) == {"neck"}
        assert (np.abs(seen.z - 75.0) <= 2 * seen.depth + 1e-9).all()
        assert seen.depth.max() < 0.5


def test_beside_a_strap_button_there_is_no_rim() -> None:
    whole = plan()
    t = np.arange(1.0, 12.0)
    button = np.concatenate([np.column_stack([-t, np.full(len(t), y)]) for y in (-4.0, 4.0)])
    part = np.concatenate([whole.part, np.full(len(button), "button")])
    core = PlanView(
        np.concatenate([whole.outline, button]), part, whole.rim, True, whole.half_neck
    ).core()
    assert core.bounds[0] > -1.0


def test_the_bench_below_a_flat_back_and_the_near_edge_of_a_headstock() -> None:
    centre = np.array([280.0, -700.0, 95.0])
    x = np.arange(30.0, 270.0, 3.0)
    back = np.column_stack([x, np.full(len(x), -HALF), np.zeros(len(x))])
    x_head = np.arange(515.0, 590.0, 3.0)
    head = np.column_stack([x_head, np.full(len(x_head), -35.0), 40 - 0.2 * (x_head - 500)])
    points = seen_from(centre, np.concatenate([back, head]))
    seen = lifted_lower(points, np.full(len(points), 0.1), centre, plan())
    bench = seen.kind == "bench"
    np.testing.assert_allclose(seen.z[bench], 0.0, atol=0.02)
    assert bench.sum() == len(x)
    np.testing.assert_allclose(
        seen.z[seen.kind == "head"], 40 - 0.2 * (seen.x[seen.kind == "head"] - 500), atol=0.05
    )


def test_a_shoulder_of_the_body_is_not_taken_for_the_back_of_the_neck() -> None:
    # from beside the headstock the far corner of the body lies behind the first of the neck
    centre = np.array([550.0, -700.0, 95.0])
    corner = np.array([(299.0, HALF, 0.0)])
    x = np.arange(380.0, 480.0, 3.0)
    neck = np.column_stack([x, np.zeros(len(x)), np.full(len(x), 50.0)])
    points = seen_from(centre, np.concatenate([corner, neck]))
    assert 301.0 < points[0, 0] < 370.0
    seen = lifted_lower(points, np.full(len(points), 0.1), centre, plan())
    assert set(seen.kind) == {"neck"} and len(seen.x) == len(x)
    np.testing.assert_allclose(seen.z, 50.0, atol=0.05)


def test_under_a_round_back_nothing_is_said() -> None:
    centre = np.array([280.0, -700.0, 95.0])
    x = np.arange(30.0, 270.0, 3.0)
    back = np.column_stack([x, np.full(len(x), -HALF), np.zeros(len(x))])
    points = seen_from(centre, back)
    seen = lifted_lower(points, np.full(len(points), 0.1), centre, plan(flat_back=False))
    assert len(seen.x) == 0


def test_the_floor_is_where_the_near_edge_meets_the_bench() -> None:
    centre = np.array([280.0, -700.0, 95.0])
    # a little before the edge, as far as the plan may be off
    expected = 95.0 - 95.0 * 700.0 / (700.0 - HALF - 1.5)
    np.testing.assert_allclose(floor_under(plan(), centre, np.array([150.0])), expected, atol=0.01)
    assert np.isinf(floor_under(plan(), centre, np.array([-200.0])))


def test_an_unsound_highest_point_leaves_its_column_empty() -> None:
    contour = np.array([(0.5, 0.0), (0.5, 50.0), (1.5, 0.0), (1.5, 70.0)])
    sound = np.array([True, True, True, False])
    (upper, _), (lower, _) = upper_and_lower(contour, sound, np.ones(4))
    assert upper.tolist() == [[0.5, 50.0]]
    assert lower.tolist() == [[0.5, 0.0], [1.5, 0.0]]
