"""Typed heights: a rule is set to one place, cards and custom still say how the edge slopes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from profiler.instrument.record import Frame2D
from profiler.outline.heights import CardPlace, edge_heights, lens_share, place_cards
from profiler.outline.parts import Parts
from profiler.scene.solve import solve_scene
from tests.scene.test_solve import world

PARTS = Parts(
    Frame2D(0.0, (0.0, 0.0)), 600, 280, 450, np.full(8, "body"), np.full(601, 90.0), 540.0
)


def _card(x: float, z: float, slope: float) -> CardPlace:
    covariance = np.diag([0.1, 0.004]) ** 2
    return CardPlace("card", x, 0.0, z, slope, 0.0, covariance, 12)


def test_tuners_typed_at_their_middle_follow_the_headstocks_slope() -> None:
    cards = [_card(140, 72, 0.0), _card(380, 71, 0.0), _card(540, 50, -0.2)]
    heights = edge_heights(PARTS, cards, {"tuners": (31.0, 0.5)})
    tuners, head = heights["tuners"].upper, heights["headstock"].upper
    assert tuners.at(np.array([540.0]))[0] == pytest.approx(31.0)
    assert tuners.slope == pytest.approx(head.slope)
    assert tuners.slope == pytest.approx(-0.2, abs=0.02)
    # a level line would put the first of four tuners 5 mm too low
    assert tuners.at(np.array([515.0]))[0] == pytest.approx(36.0, abs=0.5)
    assert tuners.known


@pytest.mark.parametrize("part", ["body", "neck", "headstock"])
def test_a_typed_part_is_known_where_the_rule_stood_and_less_away_from_it(part: str) -> None:
    heights = edge_heights(PARTS, [], {part: (60.0, 0.5)})
    edge = heights[part].upper
    middle = {"body": 140.0, "neck": 365.0, "headstock": 525.0}[part]
    assert edge.at(np.array([middle]))[0] == pytest.approx(60.0)
    at, away = edge.u_at(np.array([middle, middle + 60]))
    assert at == pytest.approx(0.5)
    assert away > at


def test_an_arched_body_may_tip_further_than_a_flat_one() -> None:
    """Two cards 200 mm apart, the one at the neck 7 mm lower; arched, they fall outwards."""

    def slope(fall: float) -> float:
        cards = [
            CardPlace("a", 60, 40.0, 60.0, 0.0, -fall, np.diag([0.3, 0.02]) ** 2, 12),
            CardPlace("b", 240, 40.0, 53.0, 0.0, -fall, np.diag([0.3, 0.02]) ** 2, 12),
        ]
        return float(edge_heights(PARTS, cards, {})["body"].upper.slope)

    # tied to level as a flat body is, it came to -0.016
    assert slope(0.12) < 0.6 * -7 / 180


@pytest.mark.parametrize(("falls", "kept"), [(0.03, 0.93), (0.09, 0.99)])
def test_a_round_back_is_not_drawn_towards_level(falls: float, kept: float) -> None:
    """A flat-backed body's top lies nearly level, and what cards say of it is tied to that; one
    that rests on its bowl lies as it will."""
    cards = [_card(60.0, 75.0, -falls), _card(200.0, 75.0 - 140 * falls, -falls)]
    slope = edge_heights(PARTS, cards, {})["body"].upper.slope
    assert -falls <= slope < -falls * kept


def test_cards_on_one_arch_share_what_is_not_known_of_its_shape() -> None:
    """How much lower the rim is than what lies under a card depends on the arch's kind, the same
    under all of them: three cards do not average it away, but chance of their own they do."""

    def u(count: int, fall: float) -> float:
        cards = [
            CardPlace(f"{k}", x, 45.0, 60.0, 0.0, -fall, np.diag([1.0, 0.02]) ** 2, 12)
            for k, x in enumerate((60.0, 150.0, 240.0)[:count])
        ]
        edge = edge_heights(PARTS, cards, {})["body"].upper
        return float(edge.u_at(np.array([140.0]))[0])

    # the parabola through a fall of 0.12 rises 8 mm from the rim to the card
    assert u(3, 0.12) > 0.3 * 8.0
    assert u(3, 0.02) < 0.8 * u(1, 0.02)


def test_a_card_in_the_middle_of_a_violin_stands_above_its_rim() -> None:
    """It lies level: nothing under it tells the arch, but the body's corners do. An arch of 15 mm
    on a violin 208 wide is common (value from memory)."""
    card = CardPlace("a", 90, 4.0, 60.0, 0.0, 0.0, np.diag([0.3, 0.01]) ** 2, 12)
    half = np.full(601, 104.0)
    flat, arched = (
        edge_heights(replace(PARTS, half_width=half, cornered=cornered), [card], {})["body"]
        for cornered in (False, True)
    )
    at = np.array([140.0])
    assert flat.upper.at(at)[0] == pytest.approx(60.0, abs=0.3)
    assert abs(arched.upper.at(at)[0] - 45.0) < 1.0 * arched.upper.u_at(at)[0]
    assert 3.0 < arched.upper.u_at(at)[0] < 7.0
    assert not arched.upper.known
    # its back is arched as well, and lies on the bench in the middle only
    assert arched.lower.at(at)[0] > 8.0
    # where a card lies on the arch's side, that tells it better
    side = CardPlace("b", 90, 60.0, 52.0, 0.0, -0.16, np.diag([0.3, 0.01]) ** 2, 12)
    told = edge_heights(replace(PARTS, half_width=half, cornered=True), [side], {})["body"].upper
    assert told.known


def test_the_rim_below_a_card_on_an_arch_lies_within_what_is_told() -> None:
    """A card 70 mm beside the middle of a body 200 wide, on arches of 16 mm of three kinds: the
    profile of each is reckoned here, down to the same rim."""
    half, y, rim = 100.0, 70.0, 40.0
    kinds = {
        "a hollow along its rim": (
            0.5 * (1 + np.cos(np.pi * y / half)),
            np.pi / 2 / half * np.sin(np.pi * y / half),
        ),
        "a parabola": (1 - (y / half) ** 2, 2 * y / half**2),
        "flat on top": (1 - (y / half) ** 4, 4 * y**3 / half**4),
    }
    for share, steep in kinds.values():
        z, fall = rim + 16 * share, 16 * float(steep)
        card = CardPlace("a", 140, y, z, 0.0, -fall, np.diag([0.3, 0.01]) ** 2, 12)
        parts = replace(PARTS, half_width=np.full(601, half))
        known: dict[bool, tuple[float, float]] = {}
        for cornered in (False, True):
            edge = edge_heights(replace(parts, cornered=cornered), [card], {})["body"].upper
            at = np.array([140.0])
            known[cornered] = abs(float(edge.at(at)[0]) - rim), float(edge.u_at(at)[0])
        assert known[False][0] < 1.4 * known[False][1]
        # where corners tell what arch is usual, the slope under the card is not alone
        assert known[True][1] < 0.8 * known[False][1]
        assert known[True][0] < min(2.4 * known[True][1], 5.5)


def test_a_card_on_the_fretboard_over_the_body_tells_the_neck() -> None:
    """15 mm above the top, and it falls towards the nut: taken for the top's it would lift all."""
    half = np.concatenate([np.full(280, 100.0), np.full(321, 18.0)])
    parts = replace(PARTS, half_width=half)
    top, board = _card(90, 60.0, 0.0), _card(230, 78.0, -0.06)
    heights = edge_heights(parts, [top, board], {})
    assert heights["body"].upper.at(np.array([200.0]))[0] == pytest.approx(60.0, abs=0.5)
    assert heights["neck"].upper.at(np.array([230.0]))[0] == pytest.approx(75.0, abs=1.5)
    assert heights["neck"].upper.known
    # beside the fretboard, and towards the tail, it lies on the top
    aside = replace(board, y=60.0)
    assert not edge_heights(parts, [top, aside], {})["neck"].upper.known
    lower = replace(board, x=140.0)
    assert not edge_heights(parts, [top, lower], {})["neck"].upper.known


@pytest.mark.parametrize(("fall", "tips"), [(-0.08, True), (-0.03, False)])
def test_on_a_round_back_neck_and_head_tip_with_the_body(fall: float, tips: bool) -> None:
    """Cards on the body alone. A tapered body with a flat back says nothing of its neck."""
    cards = [_card(x, 85 + fall * x, fall) for x in (60.0, 240.0)]
    heights = edge_heights(PARTS, cards, {})
    assert (heights["body"].lower is heights["body"].upper) == tips
    tip = heights["body"].upper.slope if tips else 0.0
    assert heights["neck"].upper.slope == pytest.approx(tip)
    # a head is tilted back from the fretboard, not from the bench
    assert heights["headstock"].upper.slope - tip == pytest.approx(-0.23)
    assert not tips or tip < -0.06


@pytest.mark.parametrize(
    ("high", "falls", "is_round"),
    [
        # of its length, and mm per mm: a guitar; a ukulele; a deep flat one; a shallow steep one
        (0.24, 0.02, False),
        (0.25, 0.045, False),
        (0.32, 0.01, False),
        (0.15, 0.055, False),
        # lutes: each of them less than either alone makes a bowl
        (0.3, 0.055, True),
        (0.28, 0.058, True),
        (0.36, 0.0, True),
        (0.15, 0.07, True),
    ],
)
def test_a_body_that_is_both_deep_and_steep_lies_on_a_bowl(
    high: float, falls: float, is_round: bool
) -> None:
    """Common practice, no source: see `heights`. Where it was told flat, a lute's width was 3.4 mm
    out with a ± of 1."""
    z = high * PARTS.join
    cards = [_card(x, z + falls * (140 - x), -falls) for x in (60.0, 220.0)]
    body = edge_heights(PARTS, cards, {})["body"]
    assert (body.lower is body.upper) == is_round
    flat = edge_heights(PARTS, cards, {"back": (1.0, 0.5)})["body"]
    assert flat.lower is not flat.upper


@pytest.mark.parametrize(("high", "least", "most"), [(40.0, 0.0, 17.0), (90.0, 2.0, 23.0)])
def test_a_head_without_a_card_is_tilted_as_such_a_body_s_are(
    high: float, least: float, most: float
) -> None:
    """Common practice, no source: on solid bodies heads are level or tilted back by up to 17
    degrees, on hollow ones tilted by 8 to 18, now and then nearly level: two standard
    uncertainties."""
    head = edge_heights(PARTS, [_card(60.0, high, 0.0), _card(240.0, high, 0.0)], {})["headstock"]
    slope, u = -head.upper.slope, head.upper.u_slope
    assert np.degrees(np.arctan(slope - 2 * u)) == pytest.approx(least, abs=4)
    assert np.degrees(np.arctan(slope + 2 * u)) == pytest.approx(most, abs=4)


def test_a_focal_length_half_known_leaves_a_cards_height_as_little_known() -> None:
    problem, _ = world(0.03, 3)
    scene = solve_scene(problem)
    at = scene.parameters.index("lens f")
    share = float(np.sqrt(scene.covariance[at, at])) / scene.cameras[0].lens.f
    cards = place_cards(scene, Frame2D(0.0, (0.0, 0.0)), 0.0)
    for card in cards:
        # with the focal length the camera goes up, and the card with it
        assert card.by_lens / card.z == pytest.approx(share, rel=0.4)
    assert lens_share(cards) == max(card.by_lens / card.z for card in cards)


@pytest.mark.parametrize(("wide", "below"), [(40.0, 17.5), (62.5, 19.0), (90.0, 20.5)])
def test_machines_lie_deeper_below_a_large_headstock_and_square_to_its_face(
    wide: float, below: float
) -> None:
    half = np.full(601, 90.0)
    half[450:] = wide / 2
    cards = [_card(140, 72, 0.0), _card(540, 50, -0.3)]
    heights = edge_heights(replace(PARTS, half_width=half), cards, {})
    head, tuners = heights["headstock"].upper, heights["tuners"].upper
    assert head.z0 - tuners.z0 == pytest.approx(below * np.hypot(1.0, head.slope))
    assert not heights["tuners"].each_level and not tuners.known


def test_a_violin_has_pegs_and_its_back_tips_with_its_top() -> None:
    """Arched, and its head as narrow as its neck."""
    half = np.full(601, 100.0)
    half[280:] = 12.0
    violin = replace(PARTS, half_width=half)
    cards = [
        CardPlace("a", 60, 40.0, 60.0, 0.0, -0.12, np.diag([0.3, 0.02]) ** 2, 12),
        CardPlace("b", 240, 40.0, 53.0, 0.0, -0.12, np.diag([0.3, 0.02]) ** 2, 12),
    ]
    heights = edge_heights(violin, cards, {})
    assert heights["tuners"].each_level
    assert heights["tuners"].lower is heights["tuners"].upper
    body = heights["body"]
    assert body.lower.slope == body.upper.slope < -0.01
    # the fall under a card, 40 of 100 out, makes the parabola 15 high
    assert body.lower.at(np.array([140.0]))[0] == pytest.approx(15.0 + 2.0, abs=0.1)
    broad = half.copy()
    broad[450:] = 30.0
    assert not edge_heights(replace(violin, half_width=broad), cards, {})["tuners"].each_level


@pytest.mark.parametrize(("rim", "round_"), [(70.0, False), (85.0, False), (140.0, True)])
def test_a_body_half_as_deep_as_long_lies_on_a_bowl(rim: float, round_: bool) -> None:
    """Sides of such a depth would lean out at the tail by millimetres; a bowl turns inward."""
    cards = [_card(60.0, rim, -0.02), _card(200.0, rim - 2.8, -0.02)]
    body = edge_heights(PARTS, cards, {})["body"]
    assert (body.lower is body.upper) == round_
    # who has held a rule to the back's edge knows better
    told = edge_heights(PARTS, cards, {"back": (1.0, 0.5)})["body"]
    assert told.lower is not told.upper and told.lower.z0 == 1.0
