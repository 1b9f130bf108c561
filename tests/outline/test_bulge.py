"""A round back may stand out below the rim, where no photo from above looks: that is in the ±."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import Polygon

from profiler.geometry.frames import Frame2D
from profiler.outline.heights import EdgeHeight, PartEdges
from profiler.outline.parts import Parts
from profiler.outline.rounding import edge_radius
from profiler.outline.spread import hidden_bulge

T = np.linspace(0, 2 * np.pi, 720, endpoint=False)
ROUND = np.column_stack([150 - 150 * np.cos(T), -110 * np.sin(T)])
PARTS = Parts(
    Frame2D(0.0, (0.0, 0.0)), 300.0, 300.0, 300.0, np.full(720, "body"), 110 * np.ones(301)
)


def heights(slope: float, back: EdgeHeight | None = None) -> dict[str, PartEdges]:
    face = EdgeHeight(0.0, 85.0, slope, 0.3, 0.0, "made up", True)
    return {"body": PartEdges(face, back or face)}


def test_it_points_outward_and_is_largest_where_the_face_is_highest() -> None:
    out, field = hidden_bulge(ROUND, PARTS, heights(-0.085))
    by, u = np.hypot(*out.T), np.hypot(*field.shift.T)
    assert Polygon(ROUND + out).area > Polygon(ROUND).area
    assert u[0] == u.max() and by[0] > 3 * by[360]
    # the side of a half-round section that leans by a goes out by z (1 - cos a); a rectangular
    # distribution from nought to that has this mean and this variance (JCGM 100:2008, 4.3.7)
    most = 85.0 * (1 - np.cos(0.085 + 0.06))
    assert by[0] == pytest.approx(most / 2, rel=1e-6)
    # and a bowl whose ribs lean out by 11 degrees lies within the expanded uncertainty
    bowl = 85.0 * (1 - np.cos(0.2))
    assert u[0] == pytest.approx(np.hypot(most / np.sqrt(12), bowl / 2), rel=1e-6)
    assert 2 * u[360] * 85.0 / 59.5 > bowl - 1e-6


def test_a_wall_that_stands_on_a_back_of_its_own_has_none() -> None:
    flat = EdgeHeight(0.0, 1.0, 0.0, 0.3, 0.0, "made up", True)
    out, field = hidden_bulge(ROUND, PARTS, heights(-0.085, flat))
    assert not out.any() and not field.shift.any()


def test_a_solid_body_s_edges_are_rounder_than_a_shell_s_and_nothing_jumps_between_them() -> None:
    """Common practice, no source: solid bodies are 32 to 46 mm thick, their edges rounded by 2 to a
    dozen mm; a shell's are eased by a little."""
    bench = EdgeHeight(0.0, 0.0, 0.0, 0.3, 0.0, "made up", True)

    def at(high: float) -> tuple[float, float]:
        face = EdgeHeight(0.0, high, 0.0, 0.3, 0.0, "made up", True)
        radius, u = edge_radius(PARTS, {"body": PartEdges(face, bench)})
        assert np.ptp(radius) == np.ptp(u) == 0
        return float(radius[0]), float(u[0])

    assert at(85.0) == pytest.approx((0.8, 0.6))
    radius, u = at(42.0)
    assert radius - 2 * u < 2.0 and 8.0 < radius + 2 * u < 12.0
    steps = np.array([at(high) for high in np.arange(30.0, 90.0, 0.5)])
    assert (np.diff(steps, axis=0) <= 0).all() and np.abs(np.diff(steps, axis=0)).max() < 0.3
    # what lies on a round back has no wall: it is no slab, however low
    low = EdgeHeight(0.0, 42.0, 0.0, 0.3, 0.0, "made up", True)
    assert edge_radius(PARTS, {"body": PartEdges(low, low)})[0].max() == 0.8
    # nor is a violin, whose ribs are 30 mm high
    face = EdgeHeight(0.0, 42.0, 0.0, 0.3, 0.0, "made up", True)
    violin = replace(PARTS, cornered=True)
    assert edge_radius(violin, {"body": PartEdges(face, bench)})[0].max() == 0.8
