"""A slotted head is told by what is seen through it; its sides are then in doubt."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.geometry.frames import Frame2D
from profiler.outline.parts import Parts
from profiler.outline.slots import slots_reach
from profiler.pipeline.slotted import beside_slots
from profiler.silhouette.edge import Edge


def box(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    t = np.arange(0.0, 1.0, 0.02)[:, None]
    corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    return np.vstack(
        [a + t * (b - a) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)]
    )


HEAD = box(800, -38, 990, 38)
#: two slots of 95 by 14 mm (common practice, no source)
SLOTS = [box(820, 12, 915, 26), box(820, -26, 915, -12)]


def test_two_slots_are_told_from_end_to_end() -> None:
    assert slots_reach(HEAD, SLOTS) == pytest.approx((820, 915))


def test_strings_and_rollers_may_leave_pieces_of_them() -> None:
    pieces = [box(852, 14, 874, 27), box(882, 14, 901, 26), box(852, -27, 873, -14)]
    assert slots_reach(HEAD, pieces) == pytest.approx((852, 901))


@pytest.mark.parametrize(
    "holes",
    [
        [],
        SLOTS[:1],
        [box(x, y, x + 14, y + 14) for x in (820, 850, 880) for y in (12, -26)],
        [box(820, -20, 915, 20)],
        [box(120, 12, 215, 26), box(120, -26, 215, -12)],
        [box(820, 30, 915, 36), box(820, -36, 915, -30)],
    ],
    ids=["none", "one side", "washers", "across the axis", "in the body", "at the very edge"],
)
def test_what_is_no_slotted_head(holes: list[np.ndarray]) -> None:
    assert slots_reach(HEAD, holes) is None


def test_the_head_s_sides_are_in_doubt_there_and_what_a_hand_drew_is_not() -> None:
    body = box(0, -150, 400, 150)
    edge = Edge(
        np.vstack([body, HEAD]),
        np.vstack([body, HEAD]),
        np.ones(len(body) + len(HEAD), dtype=bool),
        np.full(len(body) + len(HEAD), 0.1),
        drawn=np.concatenate([np.zeros(len(body)), HEAD[:, 1] > 37.9]) > 0,
    )
    labels = np.array(["body"] * len(body) + ["headstock"] * len(HEAD))
    parts = Parts(Frame2D(0.0, (0.0, 0.0)), 990.0, 400.0, 790.0, labels, np.full(991, 40.0))
    doubted, told = beside_slots(edge, parts, SLOTS)
    assert told is not None
    assert told.code == 513
    x, y = edge.on_mat.T
    side = (x > 810) & (x < 930) & (y < -37.9) & (labels == "headstock")
    assert (doubted.sigma[side] > 5.9).all()
    assert np.array_equal(doubted.sigma[labels == "body"], edge.sigma[labels == "body"])
    assert not doubted.measured[side].any()
    assert (doubted.sigma[edge.drawn] == 0.1).all()
    assert (doubted.sigma[x > 965] == 0.1).all()
    assert beside_slots(edge, parts, SLOTS[:1]) == (edge, None)
