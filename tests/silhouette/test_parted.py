"""Pale paper over a white seam is one thing; what lies apart stays apart."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from profiler.silhouette.ground import TARGET, TINT, UNSURE, WHITE, Plan
from profiler.silhouette.mask import Silhouette
from profiler.silhouette.parted import Mask, across_seams, second_thing

CELL = 0.5
SHAPE = (600, 800)


def plan(seam_mm: float = 12.0) -> Plan:
    """Two sheets side by side, white between them, a target on each."""
    printed = np.full(SHAPE, TINT, dtype=np.uint8)
    half = round(seam_mm / 2 / CELL)
    printed[:, 400 - half : 400 + half] = WHITE
    printed[100:140, 200:240] = printed[100:140, 560:600] = TINT | TARGET
    zero = np.zeros(SHAPE, dtype=np.float32)
    seen = np.ones(SHAPE, dtype=bool)
    light = np.zeros((*SHAPE, 3), dtype=np.float32)
    return Plan(light, printed, zero, zero, seen, np.zeros(2), CELL, 1.0)


def paper(middle: tuple[float, float], size: tuple[float, float], turned: float) -> Mask:
    """A sheet of paper, cells and degrees."""
    mask = np.zeros(SHAPE, dtype=np.uint8)
    corners = cv2.boxPoints((middle, size, turned))
    cv2.fillConvexPoly(mask, np.rint(corners).astype(np.int32), 1)
    return mask > 0


def seen_over_white(things: Mask, where: Plan) -> Silhouette:
    """As the silhouette has it: nothing of pale things over white is seen."""
    told = things & ((where.printed & TINT) > 0)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(told.astype(np.uint8))
    order = np.argsort(-stats[1:, cv2.CC_STAT_AREA]) + 1
    areas = tuple(float(stats[k, cv2.CC_STAT_AREA]) * CELL**2 for k in order[1:])
    main = labels == order[0]
    nothing = np.zeros(SHAPE, dtype=bool)
    return Silhouette(main, areas, (), np.zeros((0, 2)), False, told & ~main, nothing, nothing)


@pytest.mark.parametrize("turned", [0.0, 12.0, 40.0])
@pytest.mark.parametrize("seam", [8.0, 14.0])
def test_a_paper_over_a_seam_is_whole(turned: float, seam: float) -> None:
    where = plan(seam)
    whole = paper((380.0, 300.0), (160.0, 220.0), turned)
    found = seen_over_white(whole, where)
    assert found.others and second_thing(found, where, 400.0) is not None
    joined = across_seams(found, where, 100.0)
    assert joined.others == () and second_thing(joined, where, 400.0) is None
    assert (joined.mask ^ whole).sum() < 0.04 * whole.sum()


def test_of_an_instrument_only_what_a_card_lies_on_is_put_to_it() -> None:
    """What else lies across a seam may be a phone or a tuning fork."""
    where = plan()
    whole = paper((380.0, 300.0), (160.0, 220.0), 12.0)
    found = seen_over_white(whole, where)
    card, nothing = paper((430.0, 300.0), (20.0, 30.0), 0.0), np.zeros(SHAPE, dtype=bool)
    assert (card & found.pieces).any()
    assert across_seams(found, where, 100.0, card).others == ()
    for elsewhere in (nothing, card & found.mask):
        same = across_seams(found, where, 100.0, elsewhere)
        assert same.others == found.others and not (same.mask ^ found.mask).any()


def test_two_papers_stay_two() -> None:
    where = plan()
    apart = paper((250.0, 300.0), (100.0, 140.0), 0.0) | paper((600.0, 300.0), (90.0, 140.0), 8.0)
    # on one sheet, as near to each other as a seam is wide
    side = paper((150.0, 300.0), (100.0, 140.0), 0.0) | paper((270.0, 300.0), (90.0, 140.0), 0.0)
    # they meet at the seam with their corners alone
    corner = paper((350.0, 200.0), (70.0, 100.0), 0.0) | paper((460.0, 330.0), (80.0, 100.0), 0.0)
    for things in (apart, side, corner):
        found = seen_over_white(things, where)
        assert across_seams(found, where, 100.0).others == found.others
        assert second_thing(found, where, 400.0) == pytest.approx(found.others[0])


def test_print_that_may_be_anywhere_is_no_thing() -> None:
    where = plan()
    where.printed[420:500, 100:200] |= UNSURE
    found = seen_over_white(
        paper((600.0, 300.0), (100.0, 140.0), 0.0) | paper((150.0, 460.0), (60.0, 50.0), 0.0), where
    )
    assert found.others[0] > 400.0 and second_thing(found, where, 400.0) is None
