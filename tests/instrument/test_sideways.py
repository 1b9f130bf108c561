"""From a side view's heights to numbers: strings, thickest place, tilt, rest, what is unknown."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from profiler.geometry.lines import robust_line
from profiler.instrument.record import missing
from profiler.instrument.sideways import Doubted, as_edges, at_odds, joined, side_profile
from profiler.outline.elevation import Seen
from profiler.outline.heights import EdgeHeight
from profiler.outline.planview import PlanView


def plan() -> PlanView:
    x = np.arange(0.0, 600.0)
    outline = np.concatenate([np.column_stack([x, -50 + 0 * x]), np.column_stack([x, 50 + 0 * x])])
    part = np.where(outline[:, 0] < 300, "body", np.where(outline[:, 0] < 500, "neck", "headstock"))
    rim = EdgeHeight(150.0, 70.0, 0.0, 0.3, 0.0, "card", True)
    return PlanView(outline, part, rim, True, 20.0)


def seen(x: np.ndarray, z: np.ndarray, kind: np.ndarray) -> Doubted:
    zero = np.zeros(len(x))
    at = np.column_stack([x, z])
    return Doubted(
        Seen(x, z, zero, zero + 0.1, zero, kind.astype(np.str_), at, zero + 1), zero + 0.2
    )


def upper(skip: float = 0.0) -> Doubted:
    x = np.arange(0.5, 600.0)
    z = np.select([abs(x - 90) < 12, x < 300, x < 500], [80.0, 70.0, 74.0], 60.0)
    kind = np.select([abs(x - 90) < 12, x < 300, x < 500], ["over", "rim", "neck"], "head")
    keep = (x < 200) | (x > 200 + skip)
    return seen(x[keep], z[keep], kind[keep])


def lower() -> Doubted:
    x = np.arange(0.5, 600.0)
    z = np.select([x < 290, x < 500], [0.0, 50.0], 45 - np.tan(np.radians(14)) * (x - 500))
    kind = np.select([x < 290, x < 500], ["bench", "neck"], "head")
    return seen(x, z, kind)


def test_strings_run_straight_from_the_bridge_to_the_nut() -> None:
    side = side_profile("side-1.jpg", upper(), lower(), plan())
    assert side.thickest.value == pytest.approx(80.0)
    assert side.thickest.x is not None and abs(side.thickest.x - 90) < 13
    at = int(np.argmin(np.abs(side.x - 250.0)))
    assert side.upper_of[at] == "strings"
    # between 80 mm at the bridge and 74 mm at the nut, and so above both rim and fretboard
    assert 76.5 < side.upper[at] < 78.5
    assert side.upper_u95[at] > 0.4


def test_a_bridge_stands_as_high_as_it_is_however_much_rim_is_told_beside_it() -> None:
    """Rim that lies nearer to the camera, and further, is told to lie at the bridge's stations."""
    plain = upper().seen
    beside = (abs(plain.x - 90) < 20) & (abs(plain.x - 90) > 2)
    for more in (1, 2):
        x = np.concatenate([plain.x, *[plain.x[beside] + 0.01] * more])
        z = np.concatenate([plain.z, *[np.full(beside.sum(), 70.0)] * more])
        kind = np.concatenate([plain.kind, *[np.full(beside.sum(), "rim")] * more])
        order = np.argsort(x, kind="stable")
        mixed = seen(x[order], z[order], kind[order])
        side = side_profile("side-1.jpg", mixed, lower(), plan())
        assert side.thickest.value == pytest.approx(80.0)
        # sure of it: the rim's height is none of the bridge's doubt
        assert side.thickest.u95 is not None and side.thickest.u95 < 1.0


def test_what_is_not_seen_well_enough_is_left_out_with_its_reason() -> None:
    side = side_profile("side-1.jpg", upper(), lower(), plan())
    assert set(side.upper_of) <= {"", "strings", "neck", "rim"}
    assert set(side.lower_of) <= {"", "neck"}
    for heights, of in ((side.upper, side.upper_of), (side.lower, side.lower_of)):
        assert np.array_equal(np.isnan(heights), [word == "" for word in of])
    for number, words in (
        (side.tilt, "lay a card on it"),
        (side.face, "lay a card on it"),
        (side.rests_from, "slip of paper"),
        (side.button, "from beside the tail"),
    ):
        assert not number and words in number.reason


def on_line(kind: str, x: np.ndarray, z: np.ndarray, steps: np.ndarray | None = None) -> Doubted:
    plain = seen(x, z, np.full(len(x), kind))
    return plain if steps is None else replace(plain, steps=steps)


def test_tilt_and_height_of_the_face() -> None:
    x = np.arange(560.0, 596.0)
    z = 45.0 - np.tan(np.radians(14.0)) * (x - 500.0)
    side = side_profile("side-1.jpg", upper(), lower(), plan(), on_line("head", x, z))
    assert side.tilt.value is not None and abs(side.tilt.value - 14.0) < 0.01
    assert side.face.x is not None and side.face.value is not None
    assert abs(side.face.value - np.interp(side.face.x, x, z)) < 0.01
    # a camera that may be rolled by half a degree tilts the face with it
    rolled = np.tan(np.radians(0.5)) * (x - 400.0)[None]
    loose = side_profile("side-1.jpg", upper(), lower(), plan(), on_line("head", x, z, rolled))
    assert side.tilt.u95 is not None and loose.tilt.u95 is not None
    assert side.tilt.u95 < 0.7 and np.isclose(loose.tilt.u95, np.hypot(1.0, 0.6), atol=0.05)


def test_where_the_back_is_seen_to_lie() -> None:
    side = side_profile("side-1.jpg", upper(), lower(), plan())
    assert side.rest.value == 0.0
    # two millimetres of air under it would not be seen
    assert side.rest.u95 is not None and 2.5 < side.rest.u95 < 3.0


def test_a_further_photo_adds_what_the_first_does_not_show() -> None:
    gap = side_profile("side-1.jpg", upper(skip=0.0), lower(), plan())
    hole = replace(gap, lower=np.where(gap.x < 400, np.nan, gap.lower))
    x = -np.arange(1.0, 9.0)
    button = on_line("button", x, 40.0 + 0 * x)
    other = side_profile("side-2.jpg", upper(), lower(), plan(), None, button)
    both = joined(hole, other)
    assert both.photo == "side-1.jpg" and both.also == ("side-2.jpg",)
    assert both.button.value == 40.0 and both.button.mostly == "the side view side-2.jpg"
    np.testing.assert_array_equal(both.lower, other.lower)
    # the highest that one end shows is no more than a lower bound
    lower_there = replace(other, thickest=replace(other.thickest, value=74.0))
    assert joined(gap, lower_there).thickest == gap.thickest
    blind = replace(gap, thickest=missing("ragged"))
    assert joined(blind, other).thickest == other.thickest


def test_of_two_photos_the_surer_is_taken_and_contradictions_are_told() -> None:
    x = -np.arange(1.0, 9.0)
    one = side_profile("a.jpg", upper(), lower(), plan(), None, on_line("button", x, 44 + 0 * x))
    two = side_profile("b.jpg", upper(), lower(), plan(), None, on_line("button", x, 40 + 0 * x))
    unsure = replace(one, button=replace(one.button, u95=6.0))
    assert joined(unsure, two).button.value == joined(two, unsure).button.value == 40.0
    assert at_odds(unsure, two) == ()
    assert at_odds(one, two) == ("the strap button's height",)


def test_the_outline_is_lifted_to_a_button_that_was_seen() -> None:
    x = -np.arange(1.0, 9.0)
    button = on_line("button", x, 40.0 + 0 * x)
    side = side_profile("side-2.jpg", upper(), lower(), plan(), None, button)
    edges = as_edges(side, upper(), flat_back=False)
    assert set(edges) == {"button"} and edges["button"].z0 == 40.0 and edges["button"].known


def test_the_outline_is_lifted_to_a_face_that_was_seen() -> None:
    x = np.arange(560.0, 596.0)
    z = 45.0 - np.tan(np.radians(14.0)) * (x - 500.0)
    side = side_profile("side-1.jpg", upper(), lower(), plan(), on_line("head", x, z))
    head = as_edges(side, upper(), flat_back=False)["headstock"]
    np.testing.assert_allclose(head.at(x), z, atol=0.01)
    assert 0.2 < head.u < 0.5 and 0.004 < head.u_slope < 0.007


def test_one_slip_is_no_thickest_place() -> None:
    spoilt = upper()
    spoilt.seen.z[150] = 140.0
    side = side_profile("side-1.jpg", spoilt, lower(), plan())
    assert side.thickest.value == pytest.approx(80.0)


def test_slips_above_straight_strings_do_not_make_it_thicker() -> None:
    x = np.arange(0.5, 600.0)
    on_strings = (x > 78) & (x < 298)
    z = np.where(on_strings, 80.0 - 0.03 * (x - 78), np.select([x < 300, x < 500], [70.0, 66.0]))
    kind = np.select([on_strings, x < 300, x < 500], ["over", "rim", "neck"], "head")
    z[(x > 84) & (x < 90)] += 1.2
    side = side_profile("side-1.jpg", seen(x, z, kind), lower(), plan())
    assert side.thickest.value is not None and abs(side.thickest.value - 80.0) < 0.15
    # a bridge that stands above them over more than a few stations is no slip
    z[(x > 78) & (x < 98)] = 82.5
    side = side_profile("side-1.jpg", seen(x, z, kind), lower(), plan())
    assert side.thickest.value == 82.5


def test_a_blot_beside_the_bridge_does_not_tip_the_line_of_the_strings() -> None:
    x = np.arange(0.5, 600.0)
    strings = (x > 78) & (x < 498)
    z = np.where(strings, 80.0 - 0.03 * (x - 78), np.where(x < 300, 70.0, 50.0))
    kind = np.select([strings & (x < 300), x < 300, x < 500], ["over", "rim", "neck"], "head")
    z[(x > 82) & (x < 95)] += 1.3  # what shines beside the bridge, and little of them beyond it
    z[(x > 100) & (x < 112)] += 1.2
    keep = (x < 112) | (x > 190)
    side = side_profile("side-1.jpg", seen(x[keep], z[keep], kind[keep]), lower(), plan())
    assert side.thickest.value == pytest.approx(80.0, abs=0.1)
    assert side.thickest.x is not None and abs(side.thickest.x - 79.0) < 3.0


def test_a_ragged_edge_is_less_sure() -> None:
    x = np.arange(0.5, 600.0)
    on_strings = (x > 78) & (x < 298)
    z = np.where(on_strings, 80.0 - 0.03 * (x - 78), np.select([x < 300, x < 500], [70.0, 73.0]))
    kind = np.select([on_strings, x < 300, x < 500], ["over", "rim", "neck"], "head")
    smooth = side_profile("side-1.jpg", seen(x, z, kind), lower(), plan()).thickest
    noise = np.random.default_rng(3).normal(0, 1.0, len(x))
    rough = side_profile("side-1.jpg", seen(x, z + noise * on_strings, kind), lower(), plan())
    assert smooth.u95 is not None and rough.thickest.u95 is not None
    assert smooth.u95 < 1.0 and rough.thickest.u95 > 2.0
    assert rough.thickest.value is not None
    assert abs(rough.thickest.value - 80.0) < rough.thickest.u95


def test_where_the_body_ends_its_rim_is_not_told() -> None:
    side = side_profile("side-1.jpg", upper(), lower(), plan())
    assert side.upper_of[0] == "" and side.upper_of[2] == "rim"


def test_what_was_not_seen_is_not_known() -> None:
    nothing = seen(np.zeros(0), np.zeros(0), np.zeros(0, dtype="<U4"))
    side = side_profile("side-1.jpg", nothing, nothing, plan())
    assert np.isnan(side.upper).all() and np.isnan(side.lower).all()
    for number in (side.thickest, side.tilt, side.face, side.rest, side.button):
        assert not number and number.reason


def test_a_line_through_most_points() -> None:
    rng = np.random.default_rng(1)
    x = np.arange(60.0)
    z = 30 - 0.25 * x + rng.normal(0, 0.1, 60)
    z[20:32] -= 6.0  # a tuner hangs there
    slope, height, along = robust_line(x, z, 0.7)
    assert abs(slope + 0.25) < 0.01 and abs(height - 30) < 0.3
    assert not along[20:32].any()
