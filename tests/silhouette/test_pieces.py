"""What is tied to the main thing, and what of the mat's frayed edge is not."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.silhouette.pieces import in_one_piece, main_thing, rings_inside, with_enclosed


@pytest.mark.parametrize(("inwards", "tied"), [(4, False), (14, True)])
def test_a_strip_of_the_mats_own_edge_is_no_tuner(inwards: int, tied: bool) -> None:
    """A body 15 mm from the mat's edge: a narrow strip on the rim beside it is not its own, but a
    tuner that reaches over the edge is, and tells that the thing is not all on the mat."""
    joined = np.zeros((200, 300), dtype=np.uint8)
    joined[40:160, 15:200] = 1
    joined[90:110, 0:inwards] = 1
    rim = np.ones(joined.shape, dtype=bool)
    rim[8:-8, 8:-8] = False
    found = main_thing(joined, 1.0, 14.0, 12.0, rim)
    assert found is not None
    assert found[0][:, :4].any() == tied
    assert len(found[1]) == (0 if tied else 1)
    # were it not the mat's rim it would be near enough
    elsewhere = main_thing(joined, 1.0, 14.0, 12.0)
    assert elsewhere is not None
    assert elsewhere[0][:, :4].any()


def test_a_button_on_the_mats_rim_is_a_button() -> None:
    joined = np.zeros((200, 300), dtype=np.uint8)
    joined[40:160, 15:200] = 1
    joined[90:110, 1:8] = 1
    rim = np.ones(joined.shape, dtype=bool)
    rim[8:-8, 8:-8] = False
    found = main_thing(joined, 1.0, 14.0, 12.0, rim)
    assert found is not None
    assert found[0][95:105, 1:8].all()


def test_what_ties_a_button_is_not_cut_away() -> None:
    """A bright shaft looks like ground, and the mask has drawn a bridge over it; the cut would
    sever the button without a word. What it takes away elsewhere stays away."""
    was = np.zeros((60, 80), dtype=bool)
    was[30:, :] = was[10:20, 30:50] = was[20:30, 38:42] = True
    was[5, 70] = True
    now = was.copy()
    now[22:28, 38:42] = False
    now[40, 10:20] = False
    mended = in_one_piece(now, was, 0.5)
    assert mended[20:30, 38:42].all()
    assert not mended[40, 10:20].any()
    # a crumb of 2 mm² may fall off, and what lay between two things was a shadow
    assert (in_one_piece(now, was, 0.1) == now).all()
    assert (in_one_piece(now, was, 0.5, most_mm2=5.0) == now).all()


def rimmed() -> tuple[np.ndarray, np.ndarray]:
    """A body with a hole beside a rim 2 cells wide, and the same with that rim taken away."""
    mask = np.zeros((100, 100), dtype=bool)
    mask[20:80, 20:80] = True
    mask[40:60, 60:78] = False
    solid = mask.copy()
    solid[:, 76:] = False
    return mask, solid


def test_a_hole_behind_a_thin_rim_is_the_body_s() -> None:
    mask, solid = rimmed()
    assert with_enclosed(mask, solid, 800.0)[20:80, 20:80].all()
    assert not with_enclosed(mask, solid, 800.0)[:20].any()


def test_a_waist_that_a_line_closes_off_is_ground() -> None:
    """Its own border is thick, and longer than the line's."""
    mask = np.zeros((300, 300), dtype=bool)
    mask[20:150] = True
    solid = mask.copy()
    y, x = np.mgrid[:300, :300]
    waist = np.hypot(x - 150, y - 150) < 90
    mask[waist & (y < 148)] = False
    solid[waist] = False
    assert not with_enclosed(mask, solid, 2000.0)[100, 150]


def test_what_thin_lines_alone_enclose_is_ground() -> None:
    """The frame of a printed target, its inside bare."""
    mask = np.zeros((100, 100), dtype=bool)
    mask[20:80, 20:80] = True
    mask[22:78, 22:78] = False
    assert np.array_equal(with_enclosed(mask, np.zeros_like(mask), 9e9), mask)


def test_holes_are_told_and_slits_and_specks_are_not() -> None:
    holes = np.zeros((100, 200), dtype=bool)
    holes[20:40, 20:60] = True
    holes[60:62, 20:180] = True
    holes[80:84, 100:104] = True
    (ring,) = rings_inside(holes, 0.5)
    assert ring.min(axis=0) == pytest.approx((20, 20), abs=1)
    assert ring.max(axis=0) == pytest.approx((59, 39), abs=1)
