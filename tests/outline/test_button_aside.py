"""A strap button at the tail, seen from the side: only where the body does not stand before it."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.outline.button_aside import button_axis
from profiler.outline.planview import PlanView
from tests.outline.test_elevation import plan, seen_from

AXIS, RADIUS, OUT = 41.0, 6.5, 12


def round_tail() -> PlanView:
    """The box of `plan` with a tail that is round, so that its near hip stands out headward."""
    box = plan()
    outline = box.outline.copy()
    tail = outline[:, 0] < 100.0
    outline[tail, 0] = np.maximum(outline[tail, 0], outline[tail, 1] ** 2 / 300.0)
    return PlanView(outline, box.part, box.rim, True, box.half_neck)


def seen(
    centre: np.ndarray, thick: float = 2 * RADIUS
) -> tuple[tuple[np.ndarray, np.ndarray], ...]:
    x = -np.arange(0.5, OUT)
    both = []
    for z in (AXIS + thick / 2, AXIS - thick / 2):
        points = seen_from(centre, np.column_stack([x, np.zeros(len(x)), np.full(len(x), z)]))
        both.append((points, np.full(len(points), 0.1)))
    return both[0], both[1]


@pytest.mark.parametrize("x", [-60.0, 0.0, 40.0])
@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_from_beside_the_tail_its_axis_is_seen(x: float, side: float) -> None:
    centre = np.array([x, side * 600.0, 95.0])
    axis = button_axis(*seen(centre), centre, round_tail())
    assert axis is not None
    assert np.median(axis.z) == pytest.approx(AXIS, abs=0.05)
    assert axis.x.min() == pytest.approx(-OUT + 0.5, abs=0.6)


def test_from_before_the_middle_the_hip_hides_it() -> None:
    centre = np.array([320.0, -500.0, 95.0])
    assert button_axis(*seen(centre), centre, round_tail()) is None


@pytest.mark.parametrize("thick", [1.0, 60.0])
def test_what_is_as_thin_as_a_slip_or_as_thick_as_a_hip_is_no_button(thick: float) -> None:
    centre = np.array([0.0, -600.0, 95.0])
    assert button_axis(*seen(centre, thick), centre, round_tail()) is None
