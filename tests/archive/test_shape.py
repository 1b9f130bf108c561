"""Signatures are true lower bounds; laying over and into finds what geometry says it must."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from profiler.archive.database import Archive
from profiler.archive.entries import Details
from profiler.archive.keep import add_job
from profiler.archive.lay import Line, laid_over, lay_into
from profiler.archive.search import fitting, nearest, serving
from profiler.archive.shape import HARMONICS, gap_at_least, room_at_most, shape_of
from tests.archive.made import Array, outline, quick_job

seeds = st.integers(0, 10_000)
turns = st.floats(-np.pi, np.pi)


def moved(points: Array, angle: float, by: tuple[float, float], mirrored: bool = False) -> Array:
    polygon = shapely.Polygon(points * [1, -1] if mirrored else points)
    turned = affinity.translate(affinity.rotate(polygon, angle, (0, 0), use_radians=True), *by)
    return np.asarray(turned.exterior.coords)[:-1]


@settings(max_examples=20, deadline=None)
@given(seeds, turns, st.floats(-500, 500), st.booleans())
def test_no_turning_moving_or_mirroring_changes_a_signature(
    seed: int, angle: float, by: float, mirrored: bool
) -> None:
    points = outline(np.random.default_rng(seed), 20)
    a = shape_of(points).signature
    b = shape_of(moved(points, angle, (by, -by), mirrored)).signature
    assert np.allclose(a, b, rtol=1e-9, atol=1e-6)


def test_harmonics_against_the_sampled_support_function() -> None:
    """The closed form against a plain Fourier transform of h(θ) = max p·u(θ)."""
    points = outline(np.random.default_rng(4), 20)
    theta = np.arange(8192) / 8192 * 2 * np.pi
    h = (points @ np.array([np.cos(theta), np.sin(theta)])).max(axis=0)
    c = np.abs(np.fft.rfft(h)) / len(h)
    wanted = c[HARMONICS] * np.where(HARMONICS == 0, 1, np.sqrt(2))
    assert np.allclose(shape_of(points).signature[: len(HARMONICS)], wanted, atol=1e-4)


def test_a_circle_has_nothing_but_its_radius() -> None:
    circle = np.asarray(shapely.Point(3, 4).buffer(100, quad_segs=300).exterior.coords)[:-1]
    signature = shape_of(circle).signature
    assert signature[0] == pytest.approx(100, abs=1e-3)
    assert np.abs(signature[1 : len(HARMONICS)]).max() < 1e-3


@settings(max_examples=8, deadline=None)
@given(seeds, seeds, turns)
def test_a_signature_never_says_more_than_the_gap(one: int, two: int, angle: float) -> None:
    """shapely's own Hausdorff distance, at any placing, is at least the bound."""
    a, b = (outline(np.random.default_rng(s), 15) for s in (one, two))
    bound = gap_at_least(shape_of(a).signature[None], shape_of(b).signature)[0]
    laid = laid_over(Line(a), Line(b))
    gaps = [
        shapely.hausdorff_distance(shapely.LinearRing(placed), shapely.LinearRing(b))
        for placed in (laid.lay.moved(a), moved(a, angle, (3.0, 1.0)), a)
    ]
    # shapely takes it at corners, 15 mm apart: it may be short of the true one by a little
    assert bound <= min(gaps) + 0.5
    assert gaps[0] - 0.01 <= laid.largest <= gaps[0] + 3.0


@settings(max_examples=8, deadline=None)
@given(seeds, turns, st.booleans())
def test_a_moved_outline_is_laid_back(seed: int, angle: float, mirrored: bool) -> None:
    points = outline(np.random.default_rng(seed))
    there = moved(points, angle, (40.0, -25.0), mirrored)
    found = laid_over(Line(points), Line(there), mirrored=mirrored)
    assert found.largest < 0.1
    if mirrored:  # these outlines are nearly their own mirror image, so either may be found
        assert laid_over(Line(points), Line(there)).largest >= found.largest - 0.1


def test_a_rectangle_in_a_rectangle() -> None:
    """Room on each side is half the difference of the tighter sides: (120 - 100) / 2 mm."""
    inner = np.array([(0, 0), (400, 0), (400, 100), (0, 100.0)])
    outer = moved(np.array([(0, 0), (500, 0), (500, 120), (0, 120.0)]), 1.0, (7.0, 8.0))
    assert lay_into(Line(inner), Line(outer)).room == pytest.approx(10.0, abs=0.1)
    bound = room_at_most(shape_of(inner).signature, shape_of(outer).signature)
    assert bound >= 10.0 - 1e-9
    # turned out of the axis it may not stick out: 400 x 100 into 380 x 300 goes nowhere
    small = np.array([(0, 0), (380, 0), (380, 90), (0, 90.0)])
    assert lay_into(Line(inner), Line(small)).room < 0


@settings(max_examples=8, deadline=None)
@given(seeds, st.floats(1.0, 12.0), turns)
def test_an_outline_in_its_own_offset(seed: int, clearance: float, angle: float) -> None:
    """All round by shapely's buffer: no place leaves more room than the offset."""
    points = outline(np.random.default_rng(seed), 8)
    grown = np.asarray(shapely.Polygon(points).buffer(clearance, quad_segs=32).exterior.coords)[:-1]
    fit = lay_into(Line(points), Line(moved(grown, angle, (20.0, 30.0))))
    assert fit.room <= clearance + 1e-3
    assert fit.room >= clearance - 0.6
    assert room_at_most(shape_of(points).signature, shape_of(grown).signature) >= fit.room - 1e-6


@pytest.fixture
def stocked(either: Archive) -> Archive:
    for seed in range(6):
        add_job(either, quick_job(seed), Details())
    return either


def test_the_same_instrument_is_found_however_it_lies(stocked: Archive) -> None:
    query = moved(quick_job(3).measurement.outline, 2.0, (100.0, 50.0))
    found = nearest(stocked, query, limit=3)
    assert found.found[0].instrument.name == "No. 3"
    assert found.found[0].overlay.largest < 0.1
    assert found.looked_at == 6 and found.open_ == 0  # so few are all laid over
    gaps = [one.overlay.largest for one in found.found]
    assert gaps == sorted(gaps)
    mirrored = nearest(stocked, query * [1, -1], limit=1, mirrored=True)
    assert mirrored.found[0].instrument.name == "No. 3"


def test_what_fits_is_what_brute_force_says(stocked: Archive) -> None:
    outlines = [quick_job(seed).measurement.outline for seed in range(6)]
    box = np.array([(0, 0), (850, 0), (850, 300), (0, 300.0)])
    rooms = {f"No. {i}": lay_into(Line(o), Line(box)).room for i, o in enumerate(outlines)}
    wanted = {name for name, room in rooms.items() if room >= 10.0}
    assert 0 < len(wanted) < 6, rooms  # otherwise it is no question
    found = fitting(stocked, box, 10.0)
    assert {one.instrument.name for one in found.found} == wanted
    for one in found.found:
        assert one.fit.room == pytest.approx(rooms[one.instrument.name], abs=0.3)
    assert fitting(stocked, np.array([(0, 0), (90, 0), (0, 90.0)]), 0.0).possible == 0


def test_a_template_serves_its_own_instrument_and_a_smaller_one(stocked: Archive) -> None:
    own = quick_job(2).measurement.outline
    found = serving(stocked, moved(own, 1.0, (0, 0)), template_clearance=3.0, least=2.0)
    assert [one.instrument.name for one in found.found] == ["No. 2"]
    assert found.found[0].fit.room == pytest.approx(3.0, abs=0.4)
    larger = np.asarray(shapely.Polygon(own).buffer(4.0).exterior.coords)[:-1]
    assert serving(stocked, larger, template_clearance=3.0, least=0.0).found == ()
