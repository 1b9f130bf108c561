"""Body, neck, headstock: told from the shape alone, whatever small errors the edge has."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d
from shapely.geometry import Point, Polygon, box
from shapely.geometry.polygon import orient
from shapely.ops import unary_union

from profiler.geometry.curves import evenly_spaced, outward_normals
from profiler.outline.parts import _give_back_head, split
from tests.drawn import Tuner, drawn_instrument

SAMPLES = Path(__file__).parents[2] / "samples"
#: where neck and headstock meet, and body and neck, read off each instrument's drawing in
#: tests/studio, mm from the tail
NUTS = {"wren": 525, "moor": 818, "skerry": 657, "dunlin": 464, "heron": 495}
JOINS = {"wren": 303, "moor": 498, "skerry": 347, "dunlin": 283, "heron": 364}


def _outline(name: str) -> np.ndarray:
    truth = json.loads((SAMPLES / name / "truth.json").read_text())
    return evenly_spaced(np.array(truth["outline"]), 1.0)


@pytest.mark.parametrize("name", sorted(NUTS))
def test_small_errors_of_the_edge_do_not_move_the_split(name: str) -> None:
    true = _outline(name)
    normals = outward_normals(true, 3.0)
    for seed in range(6):
        rng = np.random.default_rng(seed)
        error = gaussian_filter1d(rng.normal(size=len(true)), 4.0, mode="wrap")
        error *= 0.25 / error.std()
        parts = split(true + error[:, None] * normals)
        assert abs(parts.nut - NUTS[name]) < 15
        assert abs(parts.join - JOINS[name]) < 10


def test_all_pegs_are_told_even_where_the_pegbox_is_as_narrow_as_the_neck() -> None:
    outline = _outline("heron")
    labels = split(outline).labels
    out = np.abs(outline[:, 1]) > 25
    pegs = out & (outline[:, 0] > 480)
    assert pegs.sum() > 100
    assert (labels[pegs] == "tuners").all()


def test_the_bodys_edge_beside_the_neck_is_the_bodys() -> None:
    """A body that comes up to a straight neck in a quarter circle of 30 mm."""
    turn = np.linspace(0.0, np.pi / 2, 40)
    bout = np.column_stack([170 + 30 * np.sin(turn), 12 + 30 - 30 * np.sin(turn)])
    half = np.vstack([[(0, 0), (0, 42), (170, 42)], bout, [(440, 12), (460, 30), (560, 30)]])
    outline = np.vstack([half[::-1], half[1:] * (1, -1)])[::-1]
    points = evenly_spaced(outline if outline[1, 1] < 0 else outline[::-1], 1.0)
    labels = split(points).labels
    beside = (points[:, 0] > 120) & (points[:, 0] < 195) & (np.abs(points[:, 1]) > 14)
    neck = (points[:, 0] > 210) & (points[:, 0] < 420)
    assert (labels[beside] == "body").all()
    assert (labels[neck] == "neck").all()


def test_a_scroll_behind_a_narrower_pegbox_is_headstock_and_no_tuner() -> None:
    """Each peg has a shaft of 7 mm and a head of 20 by 14; the pegbox is 15 mm wide behind them."""
    body = Point(110, 0).buffer(110, quad_segs=64)
    neck = Polygon([(180, 16), (480, 12), (480, -12), (180, -16)])
    pegbox = Polygon([(470, 12), (530, 7.5), (575, 7.5), (575, -7.5), (530, -7.5), (470, -12)])
    pegs = [
        part
        for x, side in ((500, 1), (515, -1), (535, 1), (550, -1))
        for part in (
            box(x - 3.5, min(0, 25 * side), x + 3.5, max(0, 25 * side)),
            box(x - 7, min(22 * side, 42 * side), x + 7, max(22 * side, 42 * side)),
        )
    ]
    scroll = Point(580, 0).buffer(14, quad_segs=32)
    whole = unary_union([body, neck, pegbox, scroll, *pegs])
    points = evenly_spaced(np.array(orient(whole).exterior.coords)[:-1], 1.0)
    parts = split(points)
    x, y = points.T
    assert (parts.labels[x > 576] == "headstock").all()
    assert (parts.labels[(np.abs(y) > 24) & (x > 450)] == "tuners").all()


def test_a_headstocks_own_tip_is_no_tuner() -> None:
    body = Point(110, 0).buffer(110, quad_segs=64)
    neck = box(180, -16, 560, 16)
    head = Polygon(
        [
            (550, 16),
            (570, 32),
            (690, 30),
            (696, 5),
            (708, 0),
            (696, -5),
            (690, -30),
            (570, -32),
            (550, -16),
        ]
    )
    tuners = [
        box(x - 4, min(0, 50 * side), x + 4, max(0, 50 * side))
        for x in (600, 650)
        for side in (1, -1)
    ]
    points = evenly_spaced(
        np.array(orient(unary_union([body, neck, head, *tuners])).exterior.coords)[:-1], 1.0
    )
    labels, (x, y) = split(points).labels, points.T
    assert (labels[x > 692] == "headstock").all()
    assert (labels[(np.abs(y) > 36) & (x > 580)] == "tuners").all()


@pytest.mark.parametrize("further", [20.0, 2.0])
def test_the_fretboards_edge_is_the_necks_as_far_down_as_it_is_seen(further: float) -> None:
    """On one side it is seen past where the body's other shoulder ends; 2 mm are the corner's."""
    right = [(0, -60), (300, -60), (300, -21), (560, -17), (560, -32), (690, -32)]
    left = [(690, 32), (560, 32), (560, 17), (300 - further, 21), (300 - further, 60), (0, 60)]
    points = evenly_spaced(np.array(right + left, dtype=float), 1.0)
    labels = split(points).labels
    board = (points[:, 1] > 12) & (points[:, 1] < 21.3) & (points[:, 0] < 298)
    board &= points[:, 0] > 303 - further
    if further > 10:
        assert board.sum() > 10
        assert (labels[board] == "neck").all()
    shoulder = (np.abs(points[:, 0] - 300) < 1) & (points[:, 1] < -30)
    assert (labels[shoulder] == "body").all()
    assert (labels[(points[:, 1] > 30) & (points[:, 0] < 300)] == "body").all()


def test_a_fifth_strings_peg_on_the_neck_is_no_nut() -> None:
    """As a drum with a long neck has it: 170 mm before the nut, on one side only."""
    drum, neck = Point(145, 0).buffer(145, 128), box(280, -17, 800, 17)
    head = box(795, -30, 930, 30)
    tuners = [box(x - 7, y - 12, x + 7, y + 12) for x in (830, 880) for y in (-38, 38)]
    peg = unary_union([box(626, 15, 634, 30), Point(630, 32).buffer(8)])
    whole = unary_union([drum, neck, head, *tuners, peg])
    points = evenly_spaced(np.asarray(orient(whole).exterior.coords)[:-1], 1.0)
    parts = split(points)
    assert abs(parts.nut - 797) < 15
    labels = parts.labels[(points[:, 0] > 650) & (points[:, 0] < 780)]
    assert (labels == "neck").all()


def test_what_hardly_stands_out_of_a_head_is_no_tuner() -> None:
    """At a head's corner its lower rim begins: nine points of it, lifted as a tuner, made an
    instrument 4 mm longer."""
    outline, labels = drawn_instrument([Tuner(550, 1), Tuner(550, -1)])
    corner = (outline[:, 0] > 620) & (outline[:, 0] < 630) & (outline[:, 1] > 0)
    told = np.where(corner, "tuners", labels)
    _give_back_head(told, outline)
    assert np.array_equal(told, labels)
