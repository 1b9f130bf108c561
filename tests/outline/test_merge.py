"""Outlines laid into one: weights, one photo's mistake, what another photo cannot see."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely import distance, points
from shapely.geometry import LinearRing, Polygon

from profiler.geometry.curves import evenly_spaced
from profiler.outline.local import local_shift
from profiler.outline.merge import OwnOutline, merge_outlines

Array = NDArray[np.float64]


def circle(radius: float, bump: float = 0.0, wide: float = 0.15) -> Array:
    """A circle round the origin, with a bump at angle 0."""
    a = np.linspace(0, 2 * np.pi, 800, endpoint=False)
    near = np.angle(np.exp(1j * a))
    r = radius + bump * (np.abs(near) < wide)
    return evenly_spaced(np.column_stack([r * np.cos(a), r * np.sin(a)]), 1.0)


def own(curve: Array, count: int, sigma: float = 0.15) -> OwnOutline:
    n = len(curve)
    none = np.zeros((n, count), dtype=bool)
    least_out = np.full(n, 0.5)
    return OwnOutline(curve, np.full(n, sigma), np.full(n, sigma), none, none.copy(), least_out)


def off(curve: Array, radius: float) -> Array:
    return np.asarray(np.hypot(*curve.T) - radius)


def test_weights_go_with_the_square_of_the_uncertainty() -> None:
    merged = merge_outlines([own(circle(100.0), 2, 0.2), own(circle(100.15), 2, 0.1)])
    assert off(merged.points, 100 + 0.15 * 0.8) == pytest.approx(0.0, abs=0.02)
    assert merged.share.sum(axis=0) == pytest.approx(1.0)


def test_the_same_outline_twice_is_that_outline() -> None:
    curve = evenly_spaced(np.array([(0.0, 0), (120, 0), (120, 60), (70, 60), (70, 90), (0, 90)]), 1)
    merged = merge_outlines([own(curve, 2), own(curve, 2)])
    away = distance(points(merged.points), LinearRing(curve))
    assert np.percentile(away, 95) < 0.05
    assert Polygon(merged.points).area == pytest.approx(Polygon(curve).area, rel=1e-3)


@pytest.mark.parametrize("bump", [2.0, -2.0])
def test_two_outvote_one_that_strays(bump: float) -> None:
    merged = merge_outlines(
        [own(circle(100.0), 3), own(circle(100.0, bump), 3), own(circle(100.0), 3)]
    )
    assert np.abs(off(merged.points, 100.0)).max() < 0.3
    # and the mean of the three, which is what it must not be
    assert np.abs(bump) / 3 > 0.6


def test_what_a_photo_cannot_see_it_does_not_deny() -> None:
    shows, hides = own(circle(100.0, 3.0), 2), own(circle(100.0), 2)
    outside = np.hypot(*shows.points.T) > 101.0
    blind = shows.blind.copy()
    blind[outside, 1] = True
    shows = replace(shows, blind=blind)
    seen = merge_outlines([shows, hides])
    assert off(seen.points, 103.0).max() == pytest.approx(0.0, abs=0.3)
    both = merge_outlines([replace(shows, blind=np.zeros_like(blind)), hides])
    assert off(both.points, 103.0).max() < -1.0
    # nor does it have to: where the other would lie is open by more than it stands out
    within = merge_outlines([replace(shows, least_out=np.full(len(outside), 4.0)), hides])
    assert off(within.points, 103.0).max() < -1.0


def test_a_place_where_bare_mat_is_seen_is_no_place_for_an_outline() -> None:
    shows, bare = own(circle(100.0, 3.0), 2), own(circle(100.0), 2)
    denied = shows.denied.copy()
    denied[np.hypot(*shows.points.T) > 101.0, 1] = True
    merged = merge_outlines([replace(shows, denied=denied), bare])
    assert off(merged.points, 100.0).max() < 0.6


def test_three_lines_of_sight_meet_at_a_height_of_its_own() -> None:
    """Edges of a thing 10 mm lower than was thought, seen along three slopes."""
    count = 300
    slopes = np.repeat(np.array([[-0.10], [-0.25], [-0.45]]), count, axis=1)
    own_sigma, fair = np.full((3, count), 0.15), np.ones((3, count), dtype=bool)
    here = (np.arange(count) > 100) & (np.arange(count) < 160)
    # lifted 10 mm too high, each edge lies too far in by its slope
    apart = np.where(here, 1.5 + 10 * slopes, 0.0)
    shift, doubt = local_shift(apart, slopes, own_sigma, fair)
    assert shift[115:145] == pytest.approx(1.5, abs=0.1)
    assert np.abs(shift[:85]).max() < 0.01
    assert doubt[130] > 0
    # two photos can always be explained so, and are left alone
    assert not local_shift(apart[:2], slopes[:2], own_sigma[:2], fair[:2])[0].any()
    # neither is one photo's mistake a height
    wrong = np.where(here, np.array([[0.0], [1.5], [0.0]]), 0.0)
    assert np.abs(local_shift(wrong, slopes, own_sigma, fair)[0]).max() < 0.05
    # nor where the two others look the same way, so that a height would explain anything
    slopes[:2] = np.array([[-0.54], [-0.545]])
    assert not local_shift(wrong[[0, 2, 1]] / 2, slopes, own_sigma, fair)[0].any()
    # nor one further off than small things are
    slopes[:2] = np.array([[-0.35], [-0.4]])
    assert not local_shift(apart, slopes, own_sigma, fair)[0][100:160].any()


def test_of_what_stands_out_the_height_is_asked_for_even_with_two_photos() -> None:
    count = 200
    slopes = np.repeat(np.array([[-0.2], [-0.5]]), count, axis=1)
    sigma, fair = np.full((2, count), 0.15), np.ones((2, count), dtype=bool)
    there = np.abs(np.arange(count) - 100) < 20
    apart = np.where(there, 1.5 + 6 * slopes, 0.0)
    shift, doubt = local_shift(apart, slopes, sigma, fair, there)
    assert shift[95:105] == pytest.approx(1.5, abs=0.25)
    assert not shift[:70].any()
    assert not doubt[:70].any()
    # photos that look the same way hardly tell it, and that is in the doubt
    alike = np.repeat(np.array([[-0.48], [-0.5]]), count, axis=1)
    unknown = local_shift(np.zeros((2, count)), alike, sigma, fair, there)[1]
    assert unknown[100] > 4 * doubt[100]


def test_the_edges_of_a_turned_tuner_button_have_heights_of_their_own() -> None:
    """A button 14 broad turned by 40 degrees: one edge lies 4.5 mm above its middle, the other
    below."""
    count = 200
    left = np.abs(np.arange(count) - 60) < 15
    right = np.abs(np.arange(count) - 140) < 15
    outwards = np.where(left, 1.0, np.where(right, -1.0, 0.2))
    slopes = np.array([[-0.1], [-0.35]]) * outwards
    sigma, fair = np.full((2, count), 0.15), np.ones((2, count), dtype=bool)
    above = np.where(left, 4.5, np.where(right, -4.5, 0.0))
    apart = 0.8 - slopes * above  # lifted to its middle, and its edges truly 0.8 further out
    apart -= apart.mean(axis=0)
    true = 0.8 - (0.8 - slopes * above).mean(axis=0)
    turned = left | right
    shift, doubt = local_shift(apart, slopes, sigma, fair, turned=turned)
    for middle in (60, 140):
        near = slice(middle - 8, middle + 8)
        assert shift[near] == pytest.approx(true[near], abs=0.2)
        assert (np.abs(shift - true)[near] < 2 * doubt[near] + 0.05).all()
    assert not shift[90:110].any()
    # a bite is no height, and what no photo shows well stays as it is
    bitten = np.array([[0.0], [1.9]]) - 0.95 + 0 * slopes
    assert not local_shift(bitten, slopes / 3, sigma, fair, turned=turned)[0][55:65].any()
    blind = local_shift(apart, slopes, sigma, ~fair, turned=turned)
    assert not blind[0].any() and not blind[1].any()


def test_one_that_saw_a_part_cut_short_is_outvoted_though_it_cannot_see_the_rest() -> None:
    """Where one photo lost most of a tab, its edge there lies deep inside what the others show."""
    corners = [(0.0, 0), (120, 0), (120, 60), (70, 60), (70, 90), (50, 90), (50, 60), (0, 60)]
    whole = evenly_spaced(np.array(corners), 1)
    cut = evenly_spaced(np.array([(x, min(y, 72.0)) for x, y in corners]), 1)
    outlines = [own(whole, 3), own(cut, 3), own(whole, 3)]
    outlines[1].blind[cut[:, 1] > 71, ::2] = True
    outlines[0].denied[whole[:, 1] > 73, 1] = outlines[2].denied[whole[:, 1] > 73, 1] = True
    merged = merge_outlines(outlines)
    away = distance(points(merged.points), LinearRing(whole))
    assert merged.points[:, 1].max() == pytest.approx(90.0, abs=0.3)
    assert away.max() < 1.0
    # the mean of the distances had it 2 mm short
