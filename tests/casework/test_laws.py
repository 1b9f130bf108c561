"""Laws: the largest rectangle against brute force, laying out, volumes against the kernel."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.casework.nesting import lay_out
from profiler.casework.pieces import Place, solid_moments
from profiler.casework.plan import CasePlan, plan_case
from profiler.casework.rules import RULES
from profiler.casework.sizes import sizes_of
from profiler.casework.storage import _rectangles
from profiler.casework.trace import chosen
from profiler.casework.wishes import SheetSize
from profiler.casework.work import order_of_work, stop_notes
from profiler.errors import RequestError
from profiler.jobs.caseplan import plan_record
from profiler.pipeline.case import plain_mm
from tests.casework.assembly import overlaps, solids
from tests.casework.random_cases import random_case

DENSITY = 680.0 / 1e9


def plans(seeds: range, with_sheets: bool = True) -> list[CasePlan]:
    found = []
    for seed in seeds:
        case = random_case(seed)
        try:
            found.append(plan_case(case.body, case.wishes, with_sheets=with_sheets))
        except RequestError:
            continue
    return found


@pytest.fixture(scope="module")
def some() -> list[CasePlan]:
    return plans(range(12))


@given(st.lists(st.integers(0, 9), min_size=1, max_size=12))
@settings(max_examples=150, deadline=None)
def test_the_largest_rectangle_is_found(profile: list[int]) -> None:
    """Against trying every pair of ends."""
    found = max(
        ((last - first + 1) * deep for first, last, deep in _rectangles(np.array(profile, float))),
        default=0.0,
    )
    brute = max(
        (j - i + 1) * min(profile[i : j + 1])
        for i in range(len(profile))
        for j in range(i, len(profile))
    )
    assert found == brute


def test_every_size_names_a_rule_and_every_sum_adds_up(some: list[CasePlan]) -> None:
    for plan in some:
        sizes = sizes_of(plan)
        assert len(sizes) > 30
        for size in sizes:
            assert size.rule in RULES
            if size.is_sum:
                formed = sum(t.times * t.mm for t in size.terms) + size.rounded_up
                assert size.mm == pytest.approx(formed, abs=1e-6), size


def test_no_two_pieces_share_a_sheet_s_wood(some: list[CasePlan]) -> None:
    """A kerf between neighbours, nothing in the trimmed edge, every piece there once."""
    for plan in some:
        wanted = sorted(
            p.mark
            for p in plan.pieces
            if p.use in ("boards", "panels", "walls")
            for _ in range(p.count)
        )
        assert sorted(q.mark for s in plan.sheets for q in s.laid) == wanted
        for sheet in plan.sheets:
            saw = plan.wishes.saw
            for q in sheet.laid:
                assert sheet.trim - 0.01 <= q.x
                assert q.x + q.length <= sheet.sheet.length - sheet.trim + 0.01
                assert sheet.trim - 0.01 <= q.y
                assert q.y + q.width <= sheet.sheet.width - sheet.trim + 0.01
            for i, a in enumerate(sheet.laid):
                for b in sheet.laid[:i]:
                    gap_x = max(b.x - a.x - a.length, a.x - b.x - b.length)
                    gap_y = max(b.y - a.y - a.width, a.y - b.y - b.width)
                    assert max(gap_x, gap_y) >= saw - 0.02
            assert 0.0 <= sheet.waste < 1.0


def test_a_piece_too_large_names_the_sheet_that_would_do(some: list[CasePlan]) -> None:
    board = some[0].pieces[0]
    with pytest.raises(RequestError, match=r"nearest sheet that will do"):
        lay_out([board], "birch", 12.0, [SheetSize(300.0, 300.0)], 3.0, 10.0)


def test_mass_and_centre_agree_with_the_kernel(some: list[CasePlan]) -> None:
    """manifold3d's volumes of the same pieces; round holes are left out of the estimate."""
    for plan in some[:4]:
        record = plan_record(plan, plain_mm)
        for piece in record["pieces"]:
            piece["cuts"] = [c for c in piece["cuts"] if c["kind"] not in ("hole", "pocket")]
        bodies = solids(record)
        own = sum(solid_moments(p)[0] * len(p.places) for p in plan.pieces if p.use != "cover wood")
        theirs = sum(
            b.solid.volume()
            for b in bodies
            if not (b.name == "cover" and plan.piece("cover").use == "cover wood")
        )
        assert own == pytest.approx(theirs, rel=1e-5)
        if plan.wishes.storage.cover == "plywood":
            assert plan.weight.wood == pytest.approx(own * DENSITY, rel=1e-6)
        assert 0 < plan.weight.centre[0] < plan.inside.along.mm
        assert 0 < plan.weight.centre[1] < plan.inside.across.mm


def test_handle_sits_over_the_centre_of_gravity(some: list[CasePlan]) -> None:
    for plan in some:
        handle = next(f for f in plan.fittings.items if f.kind == "handle")
        off = abs(handle.u.mm - plan.wishes.boards.mm - plan.weight.centre[0])
        assert off <= 5.0 or 807 in [f.code for f in plan.findings]


def test_hardware_keeps_off_fingers_grooves_and_handle(some: list[CasePlan]) -> None:
    for plan in some:
        t, length = plan.wishes.boards.mm, plan.pieces[0].length.mm
        for side in ("front", "back"):
            half = plan.wishes.hardware.width / 2
            spans = [
                (f.u.mm - half, f.u.mm + half)
                for f in plan.fittings.items
                if f.board == side and f.kind != "handle"
            ]
            for a, b in spans:
                assert a >= t and b <= length - t
                for g in plan.grooves:
                    assert g.board != side or b <= g.u or a >= g.u + g.width
            handle = plan.fittings.items[0]
            reach = plan.wishes.hardware.handle / 2
            if side == "front":
                spans.append((handle.u.mm - reach, handle.u.mm + reach))
            for (_, end), (start, _) in pairwise(sorted(spans)):
                assert end <= start


def test_one_stop_setting_is_claimed_only_where_it_is_so() -> None:
    """Grooves of an instrument off the middle differ, those of a centred one do not."""
    seen = set()
    for plan in plans(range(40), with_sheets=False):
        notes = " ".join(stop_notes(plan))
        by = {
            name: sorted(round(g.u, 2) for g in plan.grooves if g.board == name)
            for name in ("front", "back", "head")
        }
        assert ("one stop setting for both boards" in notes) == (
            bool(by["front"]) and by["front"] == by["back"]
        )
        length, width = plan.piece("head board").length.mm, plan.groove_sizes.width.mm
        turned = sorted(round(length - u - width, 2) for u in by["head"])
        alike = len(turned) > 1 and np.allclose(turned, by["head"], atol=0.02)
        assert ("head board's grooves lie at the same" in notes) == alike
        seen.add((bool(by["front"]) and by["front"] == by["back"], alike))
    assert len(seen) > 1


def test_pieces_planned_elsewhere_are_taken_in() -> None:
    """Where cradle pieces will plug in: cut list, sheets and mass know them, solids see them."""
    case = random_case(0)
    plain = plan_case(case.body, case.wishes)
    wall, station = plain.piece("cross wall"), plain.stations[0]
    floor = plain.rabbet.depth.mm
    rest = replace(
        wall,
        mark="Z",
        name="neck rest",
        length=chosen("neck rest, length", 40.0, "cradle"),
        width=chosen("neck rest, height", station.lift.mm, "cradle"),
        cuts=(),
        count=1,
        places=(Place((station.x.mm, plain.at[1] - 20.0, floor), ("+y", "+z", "+x"), "base"),),
    )
    plan = plan_case(case.body, case.wishes, extra=(rest,))
    assert any(q.mark == "Z" for s in plan.sheets for q in s.laid)
    assert plan.weight.wood > plain.weight.wood
    bodies = solids(plan_record(plan, plain_mm))
    assert "neck rest" in [b.name for b in bodies]
    assert not overlaps(bodies), "it stands free, under the instrument's neck"


def test_order_of_work_has_its_order(some: list[CasePlan]) -> None:
    """Common practice, no source: grooves, fingers, dry fit, sand, glue, rabbets, saw, lining."""
    steps = order_of_work(next(p for p in some if p.rooms), plain_mm)
    starts = ["Grooves", "Fingers", "Dry fit", "Sand", "Glue", "Rabbets", "Panels", "Saw the lid"]
    places = [next(i for i, s in enumerate(steps) if s.startswith(w)) for w in starts]
    assert places == sorted(places)
    assert not any("None" in s or "nan" in s for s in steps)
