"""Heights, stations, refusals, fit and chances of a cradle, held against sums done by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from profiler.casework.cradle.berth import berth_from_room
from profiler.casework.cradle.boards import tail_room
from profiler.casework.cradle.chance import chance_of
from profiler.casework.cradle.check import checked
from profiler.casework.cradle.fit import check_fit
from profiler.casework.cradle.linings import LININGS, Contact, Scheme
from profiler.casework.cradle.plan import CradlePlan, plan_cradle
from profiler.casework.cradle.wishes import CradleWishes, Wood
from profiler.casework.wishes import Room
from profiler.errors import RequestError
from profiler.instrument.lofts import HeightLine
from profiler.instrument.record import missing
from profiler.instrument.shaping import STEM, BodySides, build_solid
from profiler.instrument.solid import Bar, Neck
from tests.cradle.made import Made


def planned(made: Made, wishes: CradleWishes | None = None, **room: float) -> CradlePlan:
    solid = made.solid()
    wishes = wishes or CradleWishes()
    berth = berth_from_room(solid.plan, Room(**room), tail=tail_room(solid, wishes))
    return plan_cradle(solid, berth, wishes)


def reasons(plan: CradlePlan) -> dict[str, str]:
    return {u.name: u.reason for u in plan.unmade}


def test_neck_and_body_rest_together() -> None:
    """Foam gives a quarter, 10 mm of it and 6: the notch's lowest point by hand."""
    made = Made()
    plan = planned(made)
    rest = next(p for p in plan.pieces if p.key == "neck")
    x = made.nut - 25.0
    deepest = min(made.neck_at(v)[2] - made.neck_at(v)[1] for v in np.linspace(x - 6, x + 6, 25))
    by_hand = 10.0 * 0.75 + deepest - 6.0 * 0.75
    assert rest.under == pytest.approx(by_hand, abs=0.03)
    assert rest.size("notch above the floor").mm == pytest.approx(rest.under, abs=1e-6)
    # the sum that is shown is the number that is cut
    size = rest.size("notch above the floor")
    assert sum(t.times * t.mm for t in size.terms) == pytest.approx(size.mm)
    fit = next(f for f in check_fit(plan).pieces if f.piece is rest)
    assert fit.below == pytest.approx(6.0 * 0.75, abs=0.02)


def test_sides_keep_lining_and_clearance() -> None:
    scheme = Scheme().with_clearance("neck", 2.0).with_lining("neck", "leather", 1.5, 0.0)
    made = Made(square=6.0)  # upright sides
    plan = planned(made, CradleWishes(scheme=scheme))
    rest = next(p for p in plan.pieces if p.key == "neck")
    fit = next(f for f in check_fit(plan).pieces if f.piece is rest)
    upright = fit.towards[:, 1] > 0.999
    assert fit.gaps[upright].min() == pytest.approx(3.5, abs=0.12)
    assert fit.below == pytest.approx(1.5, abs=0.02)


def test_the_headstock_hangs_free_and_the_button_too() -> None:
    plan = planned(Made())
    fits = {f.piece.name: f for f in check_fit(plan).pieces}
    head = fits["headstock block"]
    assert head.gaps.min() == pytest.approx(7.0, abs=0.12)
    assert head.contact == 0.0
    tail = fits["tail rest"]
    assert tail.gaps[tail.faces.slot].min() == pytest.approx(3.0, abs=0.02)
    assert tail.behind == pytest.approx(5.0, abs=0.02)


def test_body_blocks_follow_the_outline_at_their_offset() -> None:
    made = Made()
    plan = planned(made)
    blocks = [p for p in plan.pieces if p.key == "blocks"]
    assert len(blocks) == 4
    for block in blocks:
        away = block.shape.distance(made.outline)
        assert away == pytest.approx(4.5, abs=0.01), block.name
        assert block.beside >= plan.wishes.wood.block - 0.5
        assert block.span[1] == pytest.approx(block.layers * block.thickness)


def test_a_body_block_stands_where_it_was_put() -> None:
    made = Made()
    usual = {p.name: p for p in planned(made).pieces if p.key == "blocks"}
    name = "body block, shoulder left"
    middle = usual[name].middle
    for by in (-8.0, -20.0):
        plan = planned(made, CradleWishes(at={"shoulder left": middle + by}))
        blocks = {p.name: p for p in plan.pieces if p.key == "blocks"}
        assert blocks[name].middle == pytest.approx(middle + by, abs=0.01)
        away = blocks[name].shape.distance(made.outline)
        assert away == pytest.approx(4.5, abs=0.01)
        rest = [n for n in usual if n != name]
        assert all(blocks[n].shape.equals(usual[n].shape) for n in rest)


def test_a_body_block_far_from_its_place_says_so() -> None:
    plan = planned(Made(), CradleWishes(at={"tail right": 900.0}))
    refused = {u.name: u.reason for u in plan.unmade}
    assert "tail right" in refused["body block, tail right"]
    with pytest.raises(RequestError, match="--at: 'elbow' cannot be said here"):
        planned(Made(), CradleWishes(at={"elbow": 100.0}))


def test_moving_the_instrument_meets_what_play_says() -> None:
    """The instrument really moved by the play: a lining is touched, and not before."""
    plan = planned(Made())
    fit = check_fit(plan)
    assert fit.play.tail is not None and fit.play.sink is not None
    for share, touches in ((0.9, False), (1.1, True)):
        met = False
        for one in fit.pieces:
            stops = one.towards[:, 0] > 0.9  # what stands behind the instrument
            moved = one.faces.points + np.array([share * fit.play.tail, 0.0, -plan.lift.mm])
            met |= bool((plan.solid.distance(moved) < one.linings)[stops].any())
        assert met is touches


def test_every_piece_says_why_it_cannot_be_made() -> None:
    made = Made()
    no_sections = build_solid(made.measurement(), [])
    berth = berth_from_room(no_sections.plan, Room())
    with pytest.raises(RequestError, match="profiler section"):
        plan_cradle(no_sections, berth, CradleWishes())
    low = planned(replace(made, lowest=2.0))
    assert "thicker foam" in reasons(low)["headstock block"]
    narrow = planned(made, side=0.0)
    assert all("no stretch" in why for name, why in reasons(narrow).items() if "tail" in name)
    off = planned(made, CradleWishes(at={"neck": made.join + 20.0}))
    assert "shape at 320 mm" in reasons(off)["neck rest"]
    big = planned(made, CradleWishes(bit_radius=15.0))
    assert "cutter" in reasons(big)["tail rest"]
    assert "horn" in reasons(planned(made, CradleWishes(wood=Wood(beside=90.0))))["headstock block"]


def test_a_section_without_its_height_asks_for_it() -> None:
    made = Made()
    blind = replace(made.section(495.0), face_height=missing("nobody measured"))
    solid = build_solid(made.measurement(), [blind])
    assert "--neck-height" in solid.missing["neck"]
    lying = replace(made.measurement(), heights=())
    assert build_solid(lying, [made.section(495.0)]).part("neck") is not None


@pytest.mark.parametrize(
    ("wishes", "words"),
    [
        (CradleWishes(pieces=("nose",)), "No cradle piece is called 'nose'"),
        (CradleWishes(let_in={"": "nailed"}), "Known: glued, groove, dado"),
        (CradleWishes(let_in={"": "glued", "blocks": "dado"}), "body blocks"),
        (CradleWishes(hold=3.0), "--hold"),
        (CradleWishes(stock={"": 200.0}), "Was the unit"),
        (CradleWishes(bit_radius=-1.0), "--bit-radius"),
        (CradleWishes(at={"tail": 5.0}), "--at: 'tail'"),
    ],
)
def test_senseless_wishes_are_refused(wishes: CradleWishes, words: str) -> None:
    with pytest.raises(RequestError, match=words):
        planned(Made(), wishes)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda s: s.with_lining("knee", "felt", None, None), "'knee' is no contact"),
        (lambda s: s.with_lining("neck", "wool", None, None), "'wool' is no lining"),
        (lambda s: s.with_lining("neck", "felt", 300.0, None), "Was the unit"),
        (lambda s: s.with_lining("neck", "felt", None, 0.95), "0 to 89 %"),
        (lambda s: s.with_clearance("neck", 90.0), "0 to 40 mm"),
        (lambda s: s.with_clearance("body", 1.0), "lies on its foam"),
    ],
)
def test_senseless_linings_are_refused(change: object, words: str) -> None:
    with pytest.raises(RequestError, match=words):
        change(Scheme())  # type: ignore[operator]


def test_let_in_makes_the_piece_larger_by_what_is_let_in() -> None:
    made = Made()
    plain = next(p for p in planned(made).pieces if p.key == "neck")
    wishes = CradleWishes(let_in={"": "glued", "neck": "groove"}, groove_depth=4.0)
    groove = next(p for p in planned(made, wishes).pieces if p.key == "neck")
    assert groove.size("length").mm - plain.size("length").mm == pytest.approx(8.0)
    wishes = CradleWishes(let_in={"": "glued", "neck": "dado"}, dado_depth=2.0)
    dado = next(p for p in planned(made, wishes).pieces if p.key == "neck")
    assert dado.size("height").mm - plain.size("height").mm == pytest.approx(2.0)
    assert dado.under == plain.under
    assert dado.shape.bounds[1] == pytest.approx(-2.0)


def test_chances_grow_with_what_is_uncertain() -> None:
    plan = planned(Made(button=(0.0, 0.0, 0.0)))
    fit = next(f for f in check_fit(plan).pieces if f.piece.key == "tail")
    sure = replace(plan, wishes=replace(plan.wishes, u95_cut=0.05, u95_place=0.05))
    unsure = replace(plan, wishes=replace(plan.wishes, u95_cut=2.0, u95_place=4.0))
    few, many = (chance_of(p, fit, []) for p in (sure, unsure))
    assert few.touches == 0.0
    assert many.touches is not None and many.touches > 0.1
    assert few.u95 < many.u95
    assert many.mostly == "where the piece stands along"


def test_the_default_neck_rest_seldom_presses_and_seldom_hangs() -> None:
    """By all that is uncertain for a maker who read the neck with a rule, cut and foam included."""
    made = Made()
    plan = planned(made)
    m = made.measurement()
    done = checked(plan, m.outline, m.outline_u95)
    chance = done.chances["neck rest"]
    assert chance.presses < 0.01
    assert chance.hangs is not None and chance.hangs < 0.1


def test_a_gap_that_cannot_be_promised_says_so_with_its_figure() -> None:
    made = Made()
    plan = planned(made)
    m = made.measurement()
    done = checked(plan, m.outline, np.full(len(m.outline), 2.0))
    said = next(f.message for f in done.findings if f.code == 823)
    blocks = done.known["body block, tail left"]
    assert blocks.worst > 1.9 and f"body block, tail left ± {blocks.worst:.1f} mm" in said
    assert "more photos" in said
    # one height of the side is known, and a button that was taken for a cylinder
    assert "stand a square against the tail" in said or "stem and flange" in said
    slot = done.fit_of(next(p for p in plan.pieces if p.key == "tail"))
    assert slot is not None
    u95 = done.known["tail rest"].u95[slot.faces.slot]
    assert u95.max() > 0.5 * STEM * made.button[0] / 2
    # what can only make a gap wider does not press
    assert done.chances["tail rest"].presses < 0.01


def test_one_normal_source_gives_the_tabled_share() -> None:
    """A single normal term of u = half of the gap: 1 − Φ(2) = 2.28 % (normal tables)."""
    made = Made(button=(0.0, 0.0, 0.0))
    hard = Contact(LININGS["none"], 2.0)
    scheme = Scheme(
        {**Scheme().contacts, "tail": hard, "body": Contact(LININGS["none"], 0.0, True)}
    )
    wishes = CradleWishes(pieces=("tail",), scheme=scheme, u95_cut=0.0, u95_place=2.0)
    plan = planned(made, wishes)
    fit = check_fit(plan).pieces[0]
    # only the places that lie straight behind
    straight = fit.towards[:, 0] > 0.9999
    one = int(np.flatnonzero(straight)[np.argmin(fit.gaps[straight])])
    lone = replace(
        fit,
        gaps=fit.gaps[[one]],
        towards=fit.towards[[one]],
        needs=fit.needs[[one]],
        linings=fit.linings[[one]],
    )
    assert lone.gaps[0] == pytest.approx(2.0, abs=0.01)
    assert chance_of(plan, lone, []).presses == pytest.approx(0.0228, abs=0.008)


def test_one_height_and_a_card_s_slope_carry_the_neck() -> None:
    made = Made()
    (a, b), x = made.face, made.nut - 30.0
    slope = (b - a) / (made.nut - made.join)
    solid = build_solid(made.measurement(), [made.section(x)], neck_slope=slope)
    neck = solid.part("neck")
    assert isinstance(neck, Neck)
    for at in (x - 10.0, x, x + 10.0):
        assert neck.loft.face.at(at)[0] == pytest.approx(made.neck_at(at)[2], abs=1e-6)
    level = build_solid(made.measurement(), [made.section(x)]).part("neck")
    assert isinstance(level, Neck) and level.loft.face.at(x + 10.0)[0] == level.loft.face.at(x)[0]


def test_a_height_line_is_straight_between_and_unsure_beyond() -> None:
    line = HeightLine(((100.0, 50.0, 0.2), (200.0, 60.0, 0.4)))
    assert line.at([50.0, 150.0, 300.0]).tolist() == pytest.approx([45.0, 55.0, 70.0])
    assert line.slope == pytest.approx(0.1)
    alone = HeightLine(((100.0, 50.0, 0.3),))
    assert alone.at(400.0)[0] == 50.0
    assert alone.u95_at(200.0) == pytest.approx(np.hypot(0.3, 10.0))


def test_a_button_that_a_photo_saw_is_unsure_in_height_alone() -> None:
    """From above its size and place across are the outline's, its height anybody's guess."""
    made = Made()
    solid = build_solid(
        made.measurement(0.3),
        sides=BodySides(HeightLine(((100.0, 0.0, 0.5),)), HeightLine(((100.0, 52.0, 0.5),))),
        button_height=(28.0, 15.0),
    )
    bar = solid.part("button")
    assert isinstance(bar, Bar) and bar.u95 == pytest.approx(0.3) and bar.u95_height == 15.0
    wishes = CradleWishes()
    berth = berth_from_room(solid.plan, Room(), tail=tail_room(solid, wishes))
    done = checked(
        plan_cradle(solid, berth, wishes),
        made.measurement().outline,
        np.full(len(made.measurement().outline), 0.3),
    )
    (unsure,) = [f for f in done.findings if f.code == 823]
    assert "the button's height" in unsure.message and "39/64 in)" in unsure.message
