"""Flat-topped fretted instruments: soundboard at z = 0 while building, let down afterwards."""

from __future__ import annotations

from dataclasses import dataclass

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
from tests.studio.bodies.shells import Shell, shell, strap_button
from tests.studio.curves import Curve, closed_spline, mirrored, rectangle, rounded_polygon
from tests.studio.meshes import Part, rotation, slab

Array = NDArray[np.float64]


@dataclass(frozen=True)
class FlatTop:
    """All that tells one from another, mm.

    Attributes:
        plan: knots of the body's closed outline, counter-clockwise, tail at x = 0.
        end: where the neck leaves the body.
        half_neck: half the fingerboard's width at the nut and at `end`.
        head: left half of the headstock's outline, from the nut, tail side first.
        posts: (x, y) of the tuners on one side of the headstock.
        strings: y of each at the nut, right to left; at the bridge they spread by `spread`.
        button: strap button at the tail: height share of the depth, scale; None for none.
        side_button: x, y, axis of a second one on the side, or None.
        places: (x, y, turn in degrees) on the soundboard where cards have room.
        string_card: x of a card on the strings, or None.
        head_card: x of a card on the headstock, from the nut, or None.
    """

    name: str
    plan: Array
    shell: Shell
    end: float
    saddle: float
    nut: float
    board_end: float
    half_neck: tuple[float, float]
    neck_depth: tuple[float, float]
    frets: int
    head: list[tuple[float, float]]
    head_thick: float
    tilt: float
    posts: list[tuple[float, float]]
    tuner: float
    strings: list[float]
    spread: float
    string_radii: list[float]
    string_material: str
    places: list[tuple[float, float, float]]
    stations: dict[str, float]
    board: float = 5.0
    bridge: tuple[float, float] = (24.0, 44.0)
    neck_material: str = "mahogany"
    head_material: str = "mahogany"
    knob_material: str = "pearl"
    bridge_material: str = "rosewood"
    button: tuple[float, float] | None = None
    side_button: tuple[float, float, tuple[float, float, float]] | None = None
    string_card: float | None = None
    head_card: float | None = None
    burst: tuple[float, float, float] = (0.0, 1.0, 1.0)
    marks: tuple[int, ...] = (5, 7, 10, 12, 15)


def _half_board(c: FlatTop, x: float) -> float:
    a, b = c.half_neck
    return a + (c.nut - x) * (b - a) / (c.nut - c.end)


def _neck(c: FlatTop) -> list[Part]:
    xs = np.linspace(c.end - 4, c.nut + 3, 90)
    half = np.array([_half_board(c, x) for x in xs]) - 0.15
    depth = np.interp(xs, [c.end, c.nut], c.neck_depth)
    # the heel sweeps down to the back
    u = np.clip((c.end + 1.1 * c.neck_depth[0] * 2.6 - xs) / (c.neck_depth[0] * 2.8), 0, 1)
    heel = depth + (c.shell.depth[1] * (0.86 if c.shell.bowl is None else 0.5) - depth) * u**2.6
    neck = neck_skin("neck", xs, half * (1 - 0.12 * u**2), heel, np.zeros(90), c.neck_material)
    e, n = c.board_end, c.nut
    corners = np.array(
        [(e, -_half_board(c, e)), (n, -c.half_neck[0]), (n, c.half_neck[0]), (e, _half_board(c, e))]
    )
    board = slab("fingerboard", rounded_polygon(corners, 0.6), -0.02, c.board, "rosewood", 0.5)
    nut = slab("nut", rectangle(n, -c.half_neck[0], n + 4, c.half_neck[0], 0.7), -0.02,
               c.board + 2.4, "bone", 0.5)  # fmt: skip
    places = [x for x in fret_places(n, c.saddle, c.frets) if x > e + 2]
    wire = frets(places, [_half_board(c, x) - 0.3 for x in places], c.board, 1.9, 1.0)
    p = [n, *places]
    seen = [m for m in c.marks if m < len(p)]
    xs_dots, ys_dots = [], []
    for m in seen:
        side = 0.4 * c.half_neck[0] if m == 12 else 0.0
        for y in {side, -side}:
            xs_dots.append((p[m - 1] + p[m]) / 2)
            ys_dots.append(y)
    return [neck, board, nut, wire, dots(xs_dots, ys_dots, c.board, 0.145 * c.half_neck[0])]


def _head_curve(c: FlatTop) -> Curve:
    return closed_spline(mirrored(c.head), 0.6)


def _head(c: FlatTop) -> list[Part]:
    """In its own frame, face at z = 0, x from the nut; turned down afterwards."""
    plan = _head_curve(c)
    parts = [slab("headstock", plan, -c.head_thick, 0.0, c.head_material, 1.0)]
    for x, y in c.posts:
        near = np.abs(plan.points[:, 0] - x - 5 * c.tuner) < 1.5
        edge = float(plan.points[near, 1].max())
        for side in (1.0, -1.0):
            parts += geared_tuner(x, side, y, edge, c.head_thick, c.tuner, c.knob_material)
    return parts


def _strings(c: FlatTop, turn: Array) -> list[Part]:
    parts = []
    n = len(c.strings)
    for i, (y, r) in enumerate(zip(c.strings, c.string_radii, strict=True)):
        side = -1.0 if i < n / 2 else 1.0
        k = i if side < 0 else n - 1 - i  # outer strings go to the nearest tuners
        px, py = c.posts[k]
        end = turn @ np.array([px - 1.0, side * (py - 3.0 * c.tuner), 7.6 * c.tuner])
        end = end + np.array([c.nut, 0, -0.3])
        wide = y * c.spread
        parts.append(
            string(
                "string",
                [
                    (c.saddle - 9.5, wide, 5.6),
                    (c.saddle, wide, 10.6),
                    (c.nut + 1.0, y, c.board + 2.3),
                    (c.nut + 4.0, y, c.board + 1.9),
                    (float(end[0]), float(end[1]), float(end[2])),
                ],
                r,
                c.string_material,
            )
        )
    return parts


def _bridge(c: FlatTop) -> list[Part]:
    w, h = c.bridge
    x = c.saddle
    reach = max(abs(y) for y in c.strings) * c.spread
    return [
        slab("bridge", rectangle(x - 0.58 * w, -h, x + 0.42 * w, h, 3.0), -0.02, 6.0,
             c.bridge_material, 1.5),
        slab("tie block", rectangle(x - 0.54 * w, -reach - 9, x - 6, reach + 9, 1.5), 5.0, 8.4,
             c.bridge_material, 1.2),
        slab("saddle", rectangle(x - 1.4, -reach - 12, x + 1.4, reach + 12, 1.0), 3.0, 10.2,
             "bone", 0.8),
    ]  # fmt: skip


def flat_top(c: FlatTop, step: float = 0.8) -> Body:
    """The instrument at rest on its back."""
    plan = closed_spline(c.plan, step)
    turn = rotation("y", c.tilt)
    down = np.array([c.nut, 0.0, -0.3])
    parts = [
        *shell(plan, c.shell),
        *_neck(c),
        *[p.moved(turn, down) for p in _head(c)],
        *_strings(c, turn),
        *_bridge(c),
    ]
    if c.button:
        parts.append(strap_button(0.0, -c.button[0] * c.shell.depth[0], c.button[1]))
    if c.side_button:
        x, y, axis = c.side_button
        parts.append(strap_button(x, -0.45 * c.shell.depth[0], 1.0, axis, y))
    flat, up = np.array([1.0, 0, 0]), np.array([0, 0, 1.0])
    places = [
        Place("soundboard", np.array([x, y, 0.0]), rotation("z", a) @ flat, up)
        for x, y, a in c.places
    ]
    if c.string_card is not None:
        rise = (10.6 - c.board - 2.3) / (c.nut - c.saddle)
        z = c.board + 2.3 + rise * (c.nut - c.string_card) + max(c.string_radii)
        along = np.array([-1.0, 0, rise])
        places.append(
            Place("strings", np.array([c.string_card, 0.0, z]), along, np.array([rise, 0, 1.0]))
        )
    if c.head_card is not None:
        at = turn @ np.array([c.head_card, 0, 0.0]) + down
        places.append(Place("headstock", at, turn @ flat, turn @ up))
    stations = {k: np.array([x, 0.0, 0.0]) for k, x in c.stations.items()}
    stations["body join"] = np.array([c.end + 1.0, 0, 0])
    stations["nut"] = np.array([c.nut, 0, c.board])
    hole = c.shell.hole
    burst = np.array([(hole[0] if hole else 0.0, hole[1] if hole else 0.0, 0.0), c.burst])
    return settled(c.name, parts, places, stations, burst)
