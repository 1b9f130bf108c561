"""Sizes against what the trade and the standards say; each check names its source."""

from __future__ import annotations

import math

import pytest

from profiler.casework.body import from_sizes
from profiler.casework.covers import magnet_seat
from profiler.casework.fingers import hardware_needs
from profiler.casework.inside import inside_size
from profiler.casework.panels import heights
from profiler.casework.plan import plan_case
from profiler.casework.stock import KINDS, kind_named, stock_findings, stock_for
from profiler.casework.trace import Term, total
from profiler.casework.wishes import CaseWishes, Hardware, Joints, Room
from profiler.casework.wood import MOVEMENT, seasonal
from profiler.errors import RequestError

IN = 25.4


def inches(mm: float) -> float:
    return mm / IN


def half_inch_wishes(**changes: object) -> CaseWishes:
    """Stock that measures exactly what it is called."""
    half, panel = (
        stock_for("boards", IN / 2, IN / 2),
        stock_for("panels", IN / 2, 15 * IN / 32),
    )
    wall = stock_for("walls", IN / 4, IN / 4)
    return CaseWishes(half, panel, wall, step=IN / 32, **changes)  # type: ignore[arg-type]


def test_boards_four_inches_wide_with_proud_panels() -> None:
    """Common practice, no source: 4 in boards, panels of 15/32 in of which 3/16 stands proud."""
    h = heights(4 * IN, (15 / 32 - 3 / 16) * IN, 3 / 16 * IN, IN / 8, (1.5 - 3 / 16) * IN)
    assert inches(h.high_sawn.mm) == pytest.approx(4 + 3 / 8)
    assert inches(h.inside_sawn.mm) == pytest.approx(3 + 7 / 16)
    assert inches(h.lid.mm) == pytest.approx(1.5)
    assert inches(h.base.mm) == pytest.approx(2 + 3 / 4)
    # What the saw turns to dust is missing from the closed case.
    assert inches(h.inside.mm) == pytest.approx(3 + 7 / 16 - 1 / 8)
    assert h.lid.mm + h.base.mm == pytest.approx(h.outside.mm)


def test_the_same_from_the_whole_plan() -> None:
    """Common practice, no source: the boards at hand are 4 in wide; the plan keeps to that."""
    body = from_sizes(24 * IN, 8 * IN, 2.5 * IN)
    joints = Joints(kerf=IN / 8, proud=3 * IN / 16, board_width=4 * IN)
    room = Room(side=IN / 2, ends=IN / 2, above=IN / 4, lining=0.0, foam=IN / 4)
    hardware = Hardware(latch_upper=0.6 * IN, latch_lower=IN, lid=1.5 * IN)
    plan = plan_case(body, half_inch_wishes(joints=joints, room=room, hardware=hardware))
    assert inches(plan.fingers.board_width.mm) == pytest.approx(4)
    assert inches(plan.heights.high_sawn.mm) == pytest.approx(4 + 3 / 8)
    assert inches(plan.heights.inside_sawn.mm) == pytest.approx(3 + 7 / 16)


def test_inside_width_and_through_boards() -> None:
    """Common practice, no source: 8 in wide, 1/2 in either side, half-inch stock: 9 and 10 in."""
    body = from_sizes(24 * IN, 8 * IN, 3 * IN)
    room = Room(side=IN / 2, ends=IN / 2, lining=0.0)
    assert inches(inside_size(body, room, IN / 32).across.mm) == pytest.approx(9)
    plan = plan_case(body, half_inch_wishes(room=room))
    assert inches(plan.piece("head board").length.mm) == pytest.approx(10)
    # a lining later on wants its room now
    lined = inside_size(body, Room(side=IN / 2, lining=IN / 8), IN / 32)
    assert inches(lined.across.mm) == pytest.approx(9.25)


def test_magnet_bears_on_the_ring() -> None:
    """Common practice, no source: over the washer's hole a magnet slides off onto the ring."""
    seat = magnet_seat(6.4, 18.0, 5.0)
    assert seat.offset.mm - 5.0 / 2 >= 6.4 / 2
    assert seat.offset.mm + 5.0 / 2 <= 18.0 / 2
    with pytest.raises(RequestError, match="nearest"):
        magnet_seat(6.4, 12.0, 5.0)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [("15/32 in", 0.438, 0.500), ("23/32 in", 0.688, 0.750), ("1/2 in", 0.438, 0.500)],
)
def test_ps1_limits(name: str, low: float, high: float) -> None:
    """PS 1-19, performance categories, in; a sheet sold as 1/2 in is 15/32 (common practice)."""
    kind = next(k for k in KINDS if k.name == name)
    assert inches(kind.low) == pytest.approx(low, abs=6e-4)
    assert inches(kind.high) == pytest.approx(high, abs=6e-4)


@pytest.mark.parametrize(("mm", "more", "less"), [(6.5, 0.4, 0.5), (9, 0.4, 0.5), (12, 0.5, 0.7)])
def test_en_315_limits(mm: float, more: float, less: float) -> None:
    """EN 315, sanded birch plywood."""
    kind = kind_named(mm)
    assert kind is not None
    assert (kind.low, kind.high) == pytest.approx((mm - less, mm + more))


def test_a_half_inch_sheet_is_planned_as_fifteen_thirty_seconds() -> None:
    """PS 1-19; and a caliper outside the limits is heard, with a caution."""
    named = stock_for("boards", IN / 2, None)
    assert inches(named.mm) == pytest.approx(15 / 32)
    thick, good = stock_for("walls", IN / 2, 14.0), stock_for("boards", IN / 2, 12.0)
    assert (thick.mm, good.mm) == (14.0, 12.0)
    assert [f.code for f in stock_findings([named, thick, good])] == [801, 802]
    assert stock_findings([good]) == ()
    with pytest.raises(RequestError, match="--boards-actual"):
        stock_for("boards", 5.0, None)


def test_red_oak_moves() -> None:
    """USDA Wood Handbook FPL-GTR-190, Table 13-5: flat-sawn red oak 150 mm, 8 to 12 %: 2.21 mm."""
    assert seasonal(150.0, "red oak", 4.0) == pytest.approx(2.21, abs=0.005)
    assert seasonal(150.0, "Red Oak", 4.0, quarter_sawn=True) == pytest.approx(0.948, abs=0.001)
    assert MOVEMENT["black cherry"].tangential == 0.00248
    with pytest.raises(RequestError, match="Known"):
        seasonal(150.0, "balsa", 4.0)


def test_fingers_are_odd_symmetric_and_near_the_thickness() -> None:
    """Common practice, no source: an odd number of fingers, width about the stock's thickness."""
    for height in range(40, 160, 7):
        plan = plan_case(from_sizes(600, 220, height), half_inch_wishes(), with_sheets=False)
        f = plan.fingers
        assert f.count % 2 == 1
        assert 0.7 * 12.7 <= f.width.mm <= 1.5 * 12.7
        # fingers of one board are the sockets of the other, and both ends of a board look alike
        own, other = f.spans(odd=False), f.spans(odd=True)
        assert sorted([*own, *other]) == list(zip(f.edges[:-1], f.edges[1:], strict=True))
        assert own[0][0] == 0.0 and own[-1][1] == pytest.approx(f.board_width.mm)


def test_hardware_decides_the_lid() -> None:
    """Common practice, no source: the lid holds the upper leaf and its clearance."""
    for upper in (12.0, 20.0, 31.0):
        hardware = Hardware(latch_upper=upper, latch_lower=20.0, edge=4.0)
        plan = plan_case(
            from_sizes(600, 220, 90), half_inch_wishes(hardware=hardware), with_sheets=False
        )
        assert hardware_needs(hardware)[0].mm == max(upper, hardware.hinge_upper) + 4.0
        assert plan.heights.lid.mm >= upper + 4.0
        # and no more than a finger above that: not a share of the height
        assert plan.heights.lid.mm <= max(upper, hardware.hinge_upper) + 4.0 + 1.5 * 12.7


def test_a_sum_is_what_its_terms_say() -> None:
    size = total("x", "inside-along", Term("a", 10.1), Term("b", 2.0, 2), step=0.5)
    assert size.mm == pytest.approx(14.5)
    assert size.rounded_up == pytest.approx(0.4)
    assert math.isclose(total("y", "inside-along", Term("a", 228.6), step=IN / 32).mm, 228.6)
    assert size.because(lambda mm: f"{mm:g}") == "a 10.1 + 2 × b 2, rounded up by 0.4"
    with pytest.raises(KeyError):
        total("z", "no such rule", Term("a", 1.0))
