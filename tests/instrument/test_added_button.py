"""A strap button that only a view from the side shows, put into the plan outline."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from profiler.geometry.frames import Frame2D
from profiler.instrument.added_button import ASIDE_U_MM, AddedButton, with_button
from profiler.instrument.assemble import PlanOutline
from profiler.outline.heights import EdgeHeight
from profiler.outline.spread import Field

HALF, OUT, U = 6.0, 12.0, 0.4
HEIGHT = EdgeHeight(0.0, 40.0, 0.0, 1.0, 0.0, "the side view side-2.jpg", True)


def plan(frame: Frame2D, start: int = 0) -> PlanOutline:
    """A body of 300 by 200 mm with a round tail, from its left corner on or from elsewhere."""
    turn = np.linspace(np.pi / 2, 3 * np.pi / 2, 315, endpoint=False)
    tail = np.column_stack([100 + 100 * np.cos(turn), 100 * np.sin(turn)])
    along = np.arange(100.0, 300.0)
    sides = [np.column_stack([along, np.full(200, -100.0)])]
    sides += [np.column_stack([np.full(200, 300.0), np.arange(-100.0, 100.0)])]
    sides += [np.column_stack([along[::-1] + 1, np.full(200, 100.0)])]
    points = np.roll(np.concatenate([tail, *sides]), start, axis=0)
    n = len(points)
    out = np.tile([1.0, 0.0], (n, 1))
    return PlanOutline(
        frame.to_mat(points),
        np.full(n, "body"),
        np.ones(n, dtype=bool),
        np.zeros(n, dtype=bool),
        np.full(n, 0.1),
        np.zeros(n),
        [Field("the height of the body", frame.turned(out)), Field("the print scale", 2 * out)],
    )


def button(frame: Frame2D, x: float = -OUT) -> AddedButton:
    tip = frame.to_mat(np.array([[x, 0.0]]))[0]
    return AddedButton(tip, frame.turned(np.array([[1.0, 0.0]]))[0], HALF, U, HEIGHT, "side-2.jpg")


@pytest.mark.parametrize("start", [0, 150, 400])
@pytest.mark.parametrize("angle", [0.0, 0.6, 2.5])
def test_it_stands_out_where_it_was_seen(start: int, angle: float) -> None:
    frame = Frame2D(angle, (410.0, 290.0))
    bare = plan(frame, start)
    more = with_button(bare, button(frame))
    assert shapely.Polygon(more.points).is_valid
    own = frame.from_mat(more.points)
    mine = more.labels == "button"
    assert own[:, 0].min() == pytest.approx(-OUT) and np.ptp(own[mine, 1]) == pytest.approx(
        2 * HALF
    )
    gained = shapely.Polygon(more.points).area - shapely.Polygon(bare.points).area
    # the tail curves away by 0.12 mm on average over the button's width
    assert gained == pytest.approx(2 * HALF * (OUT + 0.06), abs=1.5)
    kinds = (more.labels, more.known, more.bridged, more.sigma, more.mistaken)
    assert {len(v) for v in kinds} == {len(more.points)} == {len(f.shift) for f in more.fields}
    # what is where it was keeps its own values
    assert more.bridged[mine].all() and not more.bridged[~mine].any()


def test_the_bodys_height_does_not_move_it_and_the_print_scale_does() -> None:
    frame = Frame2D(0.0, (0.0, 0.0))
    more = with_button(plan(frame), button(frame))
    mine = more.labels == "button"
    moved = {f.source: np.abs(f.shift[mine]).max(axis=0) for f in more.fields}
    assert moved["the height of the body"].max() == 0.0
    np.testing.assert_allclose(moved["the print scale"], [2.0, 0.0])
    np.testing.assert_allclose(moved["how far the strap button stands out"], [U, 0.0])
    np.testing.assert_allclose(
        moved["where across the tail the strap button sits"], [0.0, ASIDE_U_MM]
    )


def test_one_that_was_seen_from_above_stays_as_it_is() -> None:
    frame = Frame2D(0.0, (0.0, 0.0))
    seen = plan(frame)
    seen = replace(seen, labels=np.where(seen.points[:, 0] < 1.0, "button", seen.labels))
    assert with_button(seen, button(frame)) is seen


def test_what_does_not_stand_out_adds_nothing() -> None:
    frame = Frame2D(0.0, (0.0, 0.0))
    bare = plan(frame)
    assert with_button(bare, button(frame, x=0.5)) is bare
