"""Which part of a traced curve is the back: open, beside a straight line, closed, notched."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon

from profiler.instrument.traced import SeenBack
from profiler.instrument.tracing import NoProfile, back_from_curve
from tests.painted_necks import profile

Array = NDArray[np.float64]


def dense(points: Array, closed: bool = False) -> Array:
    line = LineString(np.vstack([points, points[:1]]) if closed else points)
    at = np.arange(0.0, line.length, 0.25)
    return np.array([line.interpolate(d).coords[0] for d in at])


def turned(points: Array, degrees: float) -> Array:
    a = np.radians(degrees)
    return points @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + (30.0, -12.0)


def off(back: SeenBack) -> float:
    true = LineString(profile())
    return max(true.distance(Point(p)) for p in back.curve)


def seen(points: Array, closed: bool) -> SeenBack:
    return back_from_curve(points, closed, 0.05, 0.001, "the tracing", "t.jpg")


@pytest.mark.parametrize("degrees", [0.0, 77.0, 180.0, -130.0])
def test_an_open_curve_is_the_back(degrees: float) -> None:
    back = seen(turned(dense(profile()), degrees), False)
    assert off(back) < 0.3
    assert back.edges == pytest.approx((-21.0, 21.0), abs=0.2)


def test_a_traced_gauge_has_lines_beside_it() -> None:
    u = profile()
    whole = np.vstack([(-60.0, 0.0), u, (60.0, 0.0)])
    back = seen(turned(dense(whole), 20.0), False)
    assert off(back) < 0.35
    assert back.edges == pytest.approx((-21.0, 21.0), abs=0.3)


def test_a_closed_curve_has_its_face_on_the_straight_side() -> None:
    back = seen(turned(dense(profile(), closed=True), 140.0), True)
    assert off(back) < 0.5
    assert back.edges == pytest.approx((-21.0, 21.0), abs=0.6)


def test_a_notch_in_a_card() -> None:
    card = Polygon([(-50, 0), (50, 0), (50, -45), (-50, -45)]).difference(Polygon(profile()))
    edge = np.asarray(card.exterior.coords)[:-1]
    back = seen(turned(dense(edge, closed=True), 65.0), True)
    assert off(back) < 0.4
    assert back.edges == pytest.approx((-21.0, 21.0), abs=0.4)


def test_other_curves_are_refused() -> None:
    circle = 20 * np.column_stack(
        [np.cos(np.arange(0, 6.28, 0.02)), np.sin(np.arange(0, 6.28, 0.02))]
    )
    with pytest.raises(NoProfile, match="straight"):
        seen(circle, True)
    with pytest.raises(NoProfile, match="straight"):
        seen(np.column_stack([np.arange(0, 50, 0.3), np.zeros(167)]), False)
    with pytest.raises(NoProfile, match="wide"):
        seen(dense(profile(half=4.0)), False)


def test_a_corner_that_was_not_seen_well_does_not_tilt_a_notch() -> None:
    """A print beside a card's corner pulls its edge out by a millimetre."""
    card = Polygon([(-45, 0), (45, 0), (45, -45), (-45, -45)]).difference(Polygon(profile()))
    frayed = card.union(Polygon([(45, 1.2), (45, -6), (42, -6), (42, 0.9)]))
    edge = np.asarray(frayed.exterior.coords)[:-1]
    back = seen(turned(dense(edge, closed=True), 65.0), True)
    assert off(back) < 0.4
    assert back.edges == pytest.approx((-21.0, 21.0), abs=0.6)


def test_half_a_face_is_no_face() -> None:
    """A card whose face's edge is seen along one half, and lost beside a print along the other:
    what is left of the edge must not be taken for flank."""
    u = profile()
    wavy = [(-21.0 + 1.5 * k, (1.3 if k % 2 else -1.3) - 1.4) for k in range(14)]
    lost = np.vstack([u, [(0.0, 0.0)], np.array(wavy)[::-1]])
    with pytest.raises(NoProfile, match="wider on one side"):
        seen(turned(dense(lost, closed=True), 35.0), True)


@pytest.mark.parametrize("hook", [(1.8, 0.3), (-1.6, -0.2), (1.2, -0.9)])
@pytest.mark.parametrize("at_start", [True, False])
def test_a_hook_at_a_lines_end_is_none_of_it(hook: tuple[float, float], at_start: bool) -> None:
    """A speck of the paper beside the end of a line, or where the pen was set down."""
    u = profile()
    end = u[0] if at_start else u[-1]
    side = -1.0 if at_start else 1.0
    stub = end + np.array([side * hook[0], hook[1]])
    whole = np.vstack([stub, u]) if at_start else np.vstack([u, stub])
    back = seen(turned(dense(whole), 77.0), False)
    assert off(back) < 0.35
    assert back.edges == pytest.approx((-21.0, 21.0), abs=0.3)
