"""A part of nearly the mat's own colour: its edge may be anywhere, and the result says so."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely.geometry import LinearRing, box

from profiler.geometry.frames import Frame2D
from profiler.outline.parts import Parts
from profiler.paper import paper_named
from profiler.pipeline.faint import (
    doubted,
    faint_and_strips,
    faint_finding,
    faint_parts,
    in_soft_shadow,
    with_faint_strips,
)
from profiler.pipeline.measure import NOT_TO_BE_RELIED_ON
from profiler.silhouette.edge import Edge
from profiler.silhouette.faint import faintly_seen
from profiler.silhouette.ground import TINT as TINTED
from profiler.silhouette.ground import Plan
from profiler.target.mat import design_mat
from tests.painter import TINT
from tests.silhouette.flat import flat, laid

BROWN = (60, 90, 140)
#: 3 % darker than the tint, and as much warmer: a tenth in log light at the most
PALE = tuple(round(v * k) for v, k in zip(TINT, (0.92, 0.97, 0.99), strict=True))
X = (190.0, 280.0, 370.0)


def _seen() -> tuple[Plan, Edge, Parts]:
    """A plate, its left half brown and its right half pale, its edge where it is."""
    halves = [box(X[0], 150, X[1], 250), box(X[1], 150, X[2], 250)]
    plan, _, _ = laid(
        design_mat(paper_named("A2"), 560, 400), [flat(halves[0], BROWN), flat(halves[1], PALE)]
    )
    ring = LinearRing(box(X[0], 150, X[2], 250).exterior)
    on_mat = np.array([ring.interpolate(s).coords[0] for s in np.arange(0, ring.length, 0.5)])
    if not ring.is_ccw:
        on_mat = on_mat[::-1]
    ones = np.ones(len(on_mat))
    edge = Edge(on_mat, on_mat, ones > 0, 0.1 * ones)
    right = on_mat[:, 0] > X[1]
    labels = np.where(right, "neck", "body").astype("<U9")
    parts = Parts(Frame2D(0.0, (X[0], 200.0)), 180.0, 90.0, 170.0, labels, 50.0 * np.ones(181))
    return plan, edge, parts


def test_the_pale_half_is_faint_and_only_its_numbers_are_doubted() -> None:
    plan, edge, parts = _seen()
    faint = faintly_seen(plan, edge)
    # prints and the plate's own corners differ from both
    right = edge.on_mat[:, 0] > X[1] + 5
    assert faint[right].mean() > 0.5
    assert faint[edge.on_mat[:, 0] < X[1] - 5].mean() < 0.02
    found = faint_parts(faint_and_strips(plan, edge)[0], parts)
    assert found == ("neck",)
    sigma = doubted(edge, parts, found).sigma
    assert (sigma[parts.members("neck")] > 2.9).all()
    assert np.array_equal(sigma[parts.members("body")], edge.sigma[parts.members("body")])
    finding = faint_finding("top-9.jpg", found)
    assert finding.code in NOT_TO_BE_RELIED_ON and finding.message.startswith("top-9.jpg: the neck")


def test_a_pale_binding_round_a_brown_plate_is_a_strip_and_loses_no_piece() -> None:
    outer, inner = box(X[0], 150, X[2], 250), box(X[0] + 3.5, 153.5, X[2] - 3.5, 246.5)
    plan, _, _ = laid(
        design_mat(paper_named("A2"), 560, 400), [flat(outer, PALE), flat(inner, BROWN)]
    )
    _, edge, parts = _seen()
    faint = faintly_seen(plan, edge)
    assert faint.mean() > 0.5
    # a part of which such a share is faint all through is told, and doubted by most of a centimetre
    assert faint_parts(faint_and_strips(plan, edge)[0], parts) == ()
    sigma = with_faint_strips(edge, parts, faint_and_strips(plan, edge)[1]).sigma
    assert (np.abs(sigma[faint] - 0.6) < 0.1).mean() > 0.95
    assert np.array_equal(sigma[~faint], edge.sigma[~faint])
    # where nothing else is seen behind it, the strip's doubt is not enough
    pale, pale_edge, both = _seen()
    right = pale_edge.on_mat[:, 0] > X[1] + 10
    strip = faint_and_strips(pale, pale_edge)[1]
    alone = with_faint_strips(pale_edge, both, strip).sigma[right & faintly_seen(pale, pale_edge)]
    assert (alone < 0.2).mean() > 0.9


def test_what_a_hand_drew_is_not_doubted_again() -> None:
    _, edge, parts = _seen()
    drawn = np.ones(len(edge.on_mat), dtype=bool)
    by_hand = Edge(edge.pixels, edge.on_mat, edge.measured, edge.sigma, drawn)
    assert np.array_equal(doubted(by_hand, parts, ("neck",)).sigma, edge.sigma)


def test_an_edge_on_a_soft_border_of_deep_shade_is_doubted_and_told() -> None:
    plan, lighting, _ = laid(
        design_mat(paper_named("A2"), 560, 400), [flat(box(X[0], 150, X[2], 250), BROWN)]
    )
    # beside the plate a shadow goes over into light across 20 mm; the edge was laid in its middle
    x = plan.origin[0] + np.arange(plan.printed.shape[1]) * plan.cell - X[2]
    shade = 0.08 + 0.92 * np.clip(x / 20.0, 0, 1) * (x > 0) + 0.92 * (x <= 0)
    shaded = replace(plan, light=(plan.light * shade[:, None]).astype(np.float32))
    led_astray = LinearRing(box(X[0], 150, X[2] + 6.0, 250).exterior)
    on_mat = np.array([led_astray.interpolate(s).coords[0] for s in np.arange(0, 400, 0.5)])
    on_mat = on_mat if led_astray.is_ccw else on_mat[::-1]
    ones = np.ones(len(on_mat))
    edge = Edge(on_mat, on_mat, ones > 0, 0.1 * ones)
    labels = np.full(len(on_mat), "body", dtype="<U9")
    parts = Parts(Frame2D(0.0, (X[0], 200.0)), 180.0, 90.0, 170.0, labels, 50.0 * np.ones(181))
    doubtful, told = in_soft_shadow("top-9.jpg", shaded, lighting, edge, parts)
    soft = (on_mat[:, 0] > X[2] + 5) & (plan.at(plan.printed, on_mat) == TINTED)
    soft &= np.abs(on_mat[:, 1] - 200) < 40
    assert told is not None and told.code == 307
    # the plate's own edge is 6 mm away
    assert (2 * doubtful.sigma[soft]).min() > 4.5
    assert not doubtful.measured[soft].any()
    sound = on_mat[:, 0] < X[2] - 20
    assert doubtful.measured[sound].all() and (doubtful.sigma[sound] < 0.2).all()
    # in the light nothing is said
    assert in_soft_shadow("top-9.jpg", plan, lighting, edge, parts)[1] is None
