"""'Wren': a small flat-topped four-string of our own drawing, pale top, white binding."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tests.studio.bodies.body import Body, Place, settled
from tests.studio.bodies.fittings import (
    dots,
    fret_places,
    frets,
    geared_tuner,
    neck_skin,
    string,
)
from tests.studio.curves import circle, closed_spline, mirrored, rectangle, rounded_polygon
from tests.studio.meshes import (
    Part,
    capped,
    joined,
    loft,
    rotation,
    sheet,
    skirt,
    slab,
    turn_about,
)

Array = NDArray[np.float64]

#: left half of the plan, tail first, mm
HALF = [
    (0.0, 0.0), (2.5, 34.0), (14.0, 68.0), (38.0, 98.0), (74.0, 112.0), (108.0, 107.0),
    (140.0, 90.0), (172.0, 77.0), (200.0, 77.5), (228.0, 84.5), (256.0, 82.0),
    (279.0, 66.0), (292.0, 42.0), (296.5, 18.0), (297.0, 0.0),
]  # fmt: skip
BODY_END = 296.5
SADDLE_X = 88.0
NUT_X = 519.0
DEPTH_TAIL = 72.0
DEPTH_NECK = 61.0
BOARD = 5.0
TILT = 13.0


def _half_board(x: float | Array) -> float | Array:
    """Half the fingerboard's width, mm: 17.5 at the nut, 22 at the body."""
    return 17.5 + (NUT_X - x) * (22.0 - 17.5) / (NUT_X - BODY_END)


def _floor(x: Array) -> Array:
    return -(DEPTH_TAIL + (DEPTH_NECK - DEPTH_TAIL) * x / BODY_END)


def _shell(step: float) -> list[Part]:
    plan = closed_spline(mirrored(HALF), step)
    floor = _floor(plan.points[:, 0])
    a = np.linspace(0.0, np.pi / 2, 6)
    # back edge, side, then the binding's two faces with a broken edge
    back_edge = [
        np.column_stack([plan.inset(2.5 * (1 - np.sin(t))), floor + 2.5 * (1 - np.cos(t))])
        for t in a
    ]
    side_top = np.column_stack([plan.points, np.full(len(floor), -6.0)])
    binding = [(0.0, -6.0), (0.0, -0.9)]
    binding += [(0.9 * (1 - np.cos(t)), -0.9 * (1 - np.sin(t))) for t in a[1:]]
    binding += [(2.2, 0.0)]
    hole = circle(196.0, 0.0, 30.0, 160).points[::-1]
    top_ring = plan.inset(2.2)
    inner_floor = plan.inset(4.0)
    rim = circle(196.0, 0.0, 30.0, 160)
    return [
        loft("sides", np.stack([*back_edge, side_top]), "mahogany"),
        skirt("binding", plan, binding, "binding"),
        sheet("top", top_ring, 0.0, "spruce", [hole]),
        sheet("back", plan.inset(2.5), lambda p: _floor(p[:, 0]), "mahogany", up=False),
        sheet("inside", inner_floor, lambda p: _floor(p[:, 0]) + 2.2, "inside"),
        loft(
            "hole wall",
            np.stack(
                [
                    np.column_stack([rim.points, np.full(len(rim.points), z)])[::-1]
                    for z in (-2.2, 0.0)
                ]
            ),
            "spruce_end",
        ),
        sheet("rosette", circle(196.0, 0.0, 41.0, 200).points, 0.015, "rosette",
              [circle(196.0, 0.0, 33.0, 160).points]),
    ]  # fmt: skip


def _neck() -> list[Part]:
    xs = np.linspace(BODY_END - 4, NUT_X + 3, 80)
    half = np.asarray(_half_board(xs)) - 0.15
    depth = np.interp(xs, [BODY_END, NUT_X], [17.0, 13.5])
    # the heel sweeps down to the back over the last 45 mm
    u = np.clip((BODY_END + 48 - xs) / 48, 0, 1)
    heel = depth + (DEPTH_NECK - 8 - depth) * u**2.6
    half_heel = half * (1 - 0.12 * u**2)
    neck = neck_skin("neck", xs, half_heel, heel, np.zeros(80), "mahogany")
    corners = np.array(
        [(228.0, -_half_board(228.0)), (NUT_X, -_half_board(NUT_X)),
         (NUT_X, _half_board(NUT_X)), (228.0, _half_board(228.0))]
    )  # fmt: skip
    board = slab("fingerboard", rounded_polygon(corners, 0.6), -0.02, BOARD, "rosewood", 0.5)
    nut = slab("nut", rectangle(NUT_X, -17.5, NUT_X + 4, 17.5, 0.7), -0.02, BOARD + 2.4, "bone", 0.5)
    places = fret_places(NUT_X, SADDLE_X, 18)
    wire = frets(places, [float(_half_board(x)) - 0.3 for x in places], BOARD, 1.9, 1.0)
    p = [NUT_X, *places]
    middle = [(p[n - 1] + p[n]) / 2 for n in (5, 7, 10, 12, 12, 15)]
    marks = dots(middle, [0, 0, 0, -8, 8, 0], BOARD, 2.6)
    return [neck, board, nut, wire, marks]


def _head() -> list[Part]:
    """Flat headstock in its own frame, face at z = 0, x from the nut; turned down afterwards."""
    half = [
        (2.0, 0.0), (2.2, 17.6), (9.0, 19.0), (16.0, 25.5), (26.0, 31.0), (44.0, 30.2),
        (70.0, 31.4), (98.0, 33.5), (112.0, 30.0), (117.0, 18.0), (115.0, 7.0), (114.0, 0.0),
    ]  # fmt: skip
    plan = closed_spline(mirrored(half), 0.6)
    face = slab("headstock", plan, -12.5, 0.0, "mahogany", 1.0)
    parts = [face]
    for x in (27.0, 62.0):
        for side in (1.0, -1.0):
            parts += geared_tuner(x, side, 21.5, 30.8, 12.5, 0.92, "pearl")
    return parts


def _strings() -> list[Part]:
    """From the saddle over the nut to the posts, the headstock turned already."""
    turn = rotation("y", TILT)
    strings = []
    spread = np.array([-13.0, -4.4, 4.4, 13.0])
    posts = [(27.0, -21.5), (62.0, -21.5), (62.0, 21.5), (27.0, 21.5)]
    for y, (px, py), r in zip(spread, posts, (0.33, 0.42, 0.45, 0.36), strict=True):
        at_saddle = y * 1.62
        side = np.sign(py)
        end = turn @ np.array([px - 1.0, py - side * 3.0, 7.6]) + np.array([NUT_X, 0, 0.0])
        strings.append(
            string(
                "string",
                [
                    (SADDLE_X - 9.5, at_saddle, 5.6),
                    (SADDLE_X, at_saddle, 10.6),
                    (NUT_X + 1.0, y, BOARD + 2.3),
                    (NUT_X + 4.0, y, BOARD + 1.9),
                    (float(end[0]), float(end[1]), float(end[2])),
                ],
                r,
                "nylon",
            )
        )
    return strings


def _bridge() -> list[Part]:
    foot = slab("bridge", rectangle(SADDLE_X - 14, -44, SADDLE_X + 10, 44, 3.0), -0.02, 6.0,
                "rosewood", 1.5)  # fmt: skip
    block = slab("tie block", rectangle(SADDLE_X - 13, -30, SADDLE_X - 6, 30, 1.5), 5.0, 8.4,
                 "rosewood", 1.2)  # fmt: skip
    saddle = slab("saddle", rectangle(SADDLE_X - 1.4, -33, SADDLE_X + 1.4, 33, 1.0), 3.0, 10.2,
                  "bone", 0.8)  # fmt: skip
    return [foot, block, saddle]


def small_four(step: float = 0.8) -> Body:
    """The instrument at rest on its flat back."""
    head = [p.moved(np.eye(3), np.zeros(3)) for p in _head()]
    turn = rotation("y", TILT)
    head = [p.moved(turn, np.array([NUT_X, 0.0, -0.3])) for p in head]
    parts = [*_shell(step), *_neck(), *head, *_strings(), *_bridge()]
    flat = np.array([1.0, 0, 0])
    up = np.array([0, 0, 1.0])
    x12 = 0.5 * (NUT_X + SADDLE_X)
    string_z = BOARD + 2.3 + (10.6 - BOARD - 2.3) * (NUT_X - 400.0) / (NUT_X - SADDLE_X) + 0.45
    slope = np.array([-1.0, 0, (10.6 - BOARD - 2.3) / (NUT_X - SADDLE_X)])
    slope /= np.linalg.norm(slope)
    places = [
        Place("soundboard", np.array([84.0, 69.5, 0.0]), flat, up, True),
        Place("soundboard", np.array([35.0, -9.0, 0.0]), np.array([0, 1.0, 0]), up, True),
        Place("soundboard", np.array([243.0, -50.0, 0.0]), flat, up, False),
        Place("strings", np.array([400.0, 0.0, string_z]), slope,
              np.array([-slope[2], 0, slope[0]]) * -1, False),
        Place("headstock", turn @ np.array([76.5, 0, 0.0]) + np.array([NUT_X, 0, -0.3]),
              turn @ flat, turn @ up, False),
    ]  # fmt: skip
    # the flat back falls towards the neck: lay it level
    level = rotation("y", float(np.degrees(np.arctan2(DEPTH_TAIL - DEPTH_NECK, BODY_END))))
    stations = {
        "lower bout": np.array([76.0, 0, 0]),
        "waist": np.array([185.0, 0, 0]),
        "upper bout": np.array([238.0, 0, 0]),
        "body join": np.array([BODY_END + 1.0, 0, 0]),
        "nut": np.array([NUT_X, 0, BOARD]),
        "headstock": np.array([NUT_X + 98.0, 0, 0]),
        "12th fret": np.array([x12, 0, BOARD]),
    }
    moved, lying, at, _ = settled(parts, places, stations, level)
    return Body("wren", tuple(moved), tuple(lying), at)


__all__ = ["capped", "joined", "small_four"]
