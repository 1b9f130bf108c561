"""Impossible wishes: one sentence with the nearest value that can be, and that one works."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from profiler.casework.body import Body, SizeMissing, from_measurement, from_sizes
from profiler.casework.plan import plan_case
from profiler.casework.stock import stock_for
from profiler.casework.wishes import CaseWishes, Hardware, Joints, Room, SheetSize, Storage
from profiler.errors import RequestError
from profiler.pipeline.unseen import HIDDEN_BUTTON, with_hidden_button
from tests.made_up import made_up_measurement

PLAIN = CaseWishes(
    stock_for("boards", 12.0, 12.0),
    stock_for("panels", 6.5, 6.5),
    stock_for("walls", 6.5, 6.5),
)


def viola() -> Body:
    return from_sizes(680.0, 240.0, 95.0, 420.0, 45.0, 85.0, 150.0)


def sentence(wishes: CaseWishes, body: Body | None = None) -> str:
    with pytest.raises(RequestError) as caught:
        plan_case(body or viola(), wishes)
    return str(caught.value)


def nearest(words: str) -> float:
    """The first length in mm after the word 'nearest'."""
    found = re.search(r"nearest.*?(\d+(?:\.\d+)?) mm", words)
    assert found, words
    return float(found[1])


def test_the_plain_wishes_can_be() -> None:
    assert len(plan_case(viola(), PLAIN).rooms) == 2


def test_latch_taller_than_the_case() -> None:
    hardware = Hardware(latch_upper=80.0, latch_lower=90.0)
    words = sentence(replace(PLAIN, hardware=hardware))
    assert "taller than the case" in words
    shorter = nearest(words) + 0.1  # the sentence rounds to 0.1 mm
    fits = replace(hardware, latch_lower=90.0 - shorter)
    plan_case(viola(), replace(PLAIN, hardware=fits))


def test_compartment_without_room() -> None:
    storage = Storage(sides="both", least_length=400.0, least_width=60.0)
    words = sentence(replace(PLAIN, storage=storage))
    assert "no room for a compartment" in words
    found = re.search(r"nearest is (\d+\.\d) mm .*? × (\d+\.\d) mm", words)
    assert found, words
    fits = replace(storage, least_length=float(found[1]), least_width=float(found[2]))
    assert len(plan_case(viola(), replace(PLAIN, storage=fits)).rooms) == 2


def test_no_compartment_in_a_plain_rectangle() -> None:
    box = from_sizes(600.0, 200.0, 90.0)
    assert "no room" in sentence(replace(PLAIN, storage=Storage(sides="front")), box)
    plan = plan_case(box, PLAIN)
    assert plan.rooms == ()
    assert 810 in [f.code for f in plan.findings]


def test_stock_thicker_than_the_groove() -> None:
    words = sentence(replace(PLAIN, joints=Joints(groove_width=6.0)))
    assert "do not go into grooves" in words
    wider = Joints(groove_width=6.7)
    assert plan_case(viola(), replace(PLAIN, joints=wider)).groove_sizes.width.mm == 6.7
    loose = plan_case(viola(), replace(PLAIN, joints=Joints(groove_width=8.0)))
    assert 805 in [f.code for f in loose.findings]


@pytest.mark.parametrize(
    ("joints", "words"),
    [
        (Joints(groove_depth=9.0), "deep do not suit"),
        (Joints(rabbet_width=11.0), "leave a ledge and a lip"),
        (Joints(proud=6.0), "cannot stand"),
        (Joints(board_width=80.0), "too narrow"),
        (Joints(finger=60.0), "do not suit boards"),
        (Joints(kerf=30.0), "makes no sense"),
    ],
)
def test_joints_that_cannot_be(joints: Joints, words: str) -> None:
    assert words in sentence(replace(PLAIN, joints=joints))


def test_nearest_board_width_is_one_that_works() -> None:
    body = viola()
    words = sentence(replace(PLAIN, joints=Joints(board_width=80.0)), body)
    wide = nearest(words)
    for more in (0.1, 3.0, 8.0):
        joints = Joints(board_width=wide + more)
        plan = plan_case(body, replace(PLAIN, joints=joints), with_sheets=False)
        assert plan.heights.inside.mm >= plan.inside.deep.mm


def test_finger_and_board_at_hand() -> None:
    """Both may be given where they suit each other; else either one is proposed, and works."""
    fingers = plan_case(viola(), PLAIN, with_sheets=False).fingers
    width, high = fingers.width.mm, fingers.board_width.mm
    suits = replace(PLAIN, joints=Joints(finger=width, board_width=high))
    assert plan_case(viola(), suits, with_sheets=False).fingers.count == fingers.count
    joints = Joints(finger=width, board_width=high + 6.0)
    words = sentence(replace(PLAIN, joints=joints))
    found = re.search(r"do: fingers of (\d+\.\d) mm .*? or boards (\d+\.\d) mm", words)
    assert "sliver" in words and found, words
    for joints in (
        Joints(finger=float(found[1]), board_width=high + 6.0),
        Joints(finger=width, board_width=float(found[2])),
    ):
        plan = plan_case(viola(), replace(PLAIN, joints=joints), with_sheets=False)
        assert plan.fingers.board_width.mm == pytest.approx(joints.board_width)


def test_lid_out_of_reach() -> None:
    words = sentence(replace(PLAIN, hardware=Hardware(lid=200.0)))
    high = nearest(words)
    plan = plan_case(viola(), replace(PLAIN, hardware=Hardware(lid=high)), with_sheets=False)
    assert abs(plan.heights.lid.mm - high) < 12.0


def test_screws_through_the_board() -> None:
    words = sentence(replace(PLAIN, hardware=Hardware(screw=20.0)))
    longest = nearest(words)
    plan = plan_case(viola(), replace(PLAIN, hardware=Hardware(screw=longest)), with_sheets=False)
    assert plan.fittings.screw.mm == longest


def test_a_sheet_too_small() -> None:
    small = {"boards": (SheetSize(500.0, 500.0),)}
    assert "nearest sheet that will do" in sentence(replace(PLAIN, sheets=small))


def test_clearance_without_sense() -> None:
    assert "makes no sense" in sentence(replace(PLAIN, room=Room(side=900.0)))


def test_unknown_height_is_asked_for() -> None:
    """Nobody is told a depth that nobody knows."""
    measurement = made_up_measurement()
    with pytest.raises(SizeMissing, match=r"nobody measured the thickest place.*--height"):
        from_measurement(measurement, None)
    assert from_measurement(measurement, 80.0).height == 80.0


def test_uncertainty_that_eats_the_clearance_is_said() -> None:
    measured = replace(from_measurement(made_up_measurement(), 80.0), u_width=12.0)
    plan = plan_case(measured, PLAIN, with_sheets=False)
    assert [f.where for f in plan.findings if f.code == 803] == ["at the sides"]
    assert 804 in [f.code for f in plan.findings], "its tuners are in doubt"


def test_what_eats_the_clearance_is_named() -> None:
    """Else nobody knows what to measure better."""
    made = made_up_measurement()
    short = with_hidden_button(made, 40.0)
    plan = plan_case(from_measurement(short, 80.0), PLAIN, with_sheets=False)
    remark = next(f for f in plan.findings if f.code == 803)
    assert remark.where == "at the ends" and f"(mostly {HIDDEN_BUTTON})" in remark.message


@pytest.mark.parametrize(
    ("sizes", "words"),
    [
        ((600.0, 700.0, 90.0), "wider"),
        ((50.0, 20.0, 10.0), "unit"),
        ((600.0, 200.0, 90.0, 300.0), "go together"),
        ((600.0, 200.0, 90.0, 700.0, 40.0), "body's length"),
        ((600.0, 200.0, 90.0, 300.0, 400.0), "cannot be 400 mm wide"),
        ((600.0, 200.0, 90.0, 300.0, 40.0, 80.0, 400.0), "leaves no neck"),
    ],
)
def test_typed_sizes_that_contradict(sizes: tuple[float, ...], words: str) -> None:
    with pytest.raises(RequestError, match=words):
        from_sizes(*sizes)
