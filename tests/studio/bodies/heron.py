"""'Heron': a violin-family body of our own drawing, arched, with corners and overhanging plates."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from tests.studio.bodies.arched import arch, cornered_outline, curve_of, lying_on, plate
from tests.studio.bodies.body import Body, Place, settled
from tests.studio.bodies.fittings import neck_skin, string
from tests.studio.curves import rectangle
from tests.studio.meshes import Part, capped, sheet, skirt, slab, tube, turned

Array = NDArray[np.float64]

LOWER = np.array([
    (0.0, 0.0), (1.4, 26.0), (9.0, 56.0), (28.0, 84.5), (54.0, 99.5), (80.0, 103.2),
    (105.0, 98.0), (124.0, 90.2), (136.0, 88.0), (143.0, 89.6),
])  # fmt: skip
MIDDLE = np.array([
    (146.6, 85.6), (151.5, 74.0), (163.0, 62.6), (187.0, 56.2), (208.0, 58.8), (222.0, 66.8),
    (229.6, 76.4),
])  # fmt: skip
UPPER = np.array([
    (233.4, 79.4), (240.0, 77.4), (252.0, 79.0), (272.0, 83.4), (293.0, 83.8), (317.0, 77.0),
    (337.0, 60.0), (349.0, 38.0), (354.2, 18.0), (355.0, 0.0),
])  # fmt: skip
EDGE = 4.2
RIBS = 30.5
BRIDGE_X, NUT_X = 160.0, 486.0
#: the top of the fingerboard along the middle: z at the bridge's place and at the nut
BOARD_Z = (42.0, 10.0)
CROWN = 42.0
#: where the pegbox's cheeks begin: near the underside of the fingerboard, which lies on the neck
CHEEK_Z = 4.0
#: the end button sits high on the ribs, where a photo from above can see it
PIN_Z = -10.0


def _board_z(x: float | Array) -> float | Array:
    return BOARD_Z[1] + (BOARD_Z[0] - BOARD_Z[1]) * (NUT_X - x) / (NUT_X - BRIDGE_X)


def _half_board(x: float | Array) -> float | Array:
    return 12.0 + (NUT_X - x) * (21.0 - 12.0) / (NUT_X - 215.0)


def _box() -> tuple[list[Part], object]:
    outline = cornered_outline(LOWER, MIDDLE, UPPER, 1.1)
    top_arch, back_arch = arch(outline.buffer(-0.9), 14.0), arch(outline.buffer(-0.9), 13.5)
    top = plate("top", outline, EDGE, top_arch, "varnish")
    back = plate("back", outline, EDGE, back_arch, "flame")
    mirror = np.diag([1.0, 1.0, -1.0])
    back = back.moved(mirror, np.array([0, 0, -RIBS]))
    back = Part(
        back.name, back.points, back.faces[:, ::-1], back.normals, back.material, back.local
    )
    ribs = skirt("ribs", curve_of(outline.buffer(-3.0, quad_segs=24), 0.6),
                 [(0, -RIBS), (0, -RIBS / 2), (0, 0)], "flame")  # fmt: skip

    def above(by: float):
        return lambda p: EDGE + top_arch(p) + by

    line = shapely.Polygon(outline.buffer(-4.0).exterior, [outline.buffer(-5.2).exterior])
    purfling = sheet("purfling", np.array(line.exterior.coords)[:-1], above(0.03), "purfling",
                     [np.array(line.interiors[0].coords)[:-1]])  # fmt: skip
    holes = []
    for side in (1, -1):
        s = np.array([(194, 23), (200, 29), (192, 36), (160, 38.5), (130, 41), (122, 47.5),
                      (129, 54)], dtype=float)  # fmt: skip
        t = np.linspace(0, 1, len(s))
        path = CubicSpline(t, s)(np.linspace(0, 1, 60))
        shape = shapely.union_all(
            [
                shapely.LineString(path).buffer(2.3),
                shapely.Point(194, 23.5).buffer(3.4),
                shapely.Point(130, 52.5).buffer(4.4),
            ]
        )
        ring = np.array(shapely.segmentize(shape.simplify(0.02), 1.0).exterior.coords)[:-1]
        holes.append(sheet("f-hole", ring * (1, side), above(0.12), "hole"))
    return [top, back, ribs, purfling, *holes], top_arch


def _neck() -> list[Part]:
    xs = np.linspace(350.0, NUT_X + 2, 70)
    half = np.asarray(_half_board(xs)) - 0.3
    top = np.asarray(_board_z(xs)) - 6.0
    depth = np.interp(xs, [370.0, NUT_X], [17.0, 13.0])
    u = np.clip((388.0 - xs) / 36.0, 0, 1)
    heel = depth + (top + RIBS + EDGE - 0.5 - depth) * u**2.4
    neck = neck_skin("neck", xs, half * (1 - 0.05 * u**2), heel, top, "flame")
    rings = []
    for x in np.linspace(NUT_X, 215.0, 90):
        h, z = float(_half_board(x)), float(_board_z(x))
        y = np.linspace(-h, h, 25)
        crown = z - (CROWN - np.sqrt(CROWN**2 - y**2))
        under = np.array([(h, z - 7.5), (0.0, z - 7.5), (-h, z - 7.5)])
        yz = np.vstack([np.column_stack([y, crown]), under])
        rings.append(np.column_stack([np.full(len(yz), x), yz]))
    board = capped("fingerboard", np.stack(rings)[:, ::-1], "ebony")
    z = BOARD_Z[1]
    nut = slab("nut", rectangle(NUT_X, -12.0, NUT_X + 4.5, 12.0, 1.0), z - 7, z + 0.6, "ebony", 0.6)
    return [neck, board, nut]


def _section(x: float, half: float, top: float, low: float) -> Array:
    """A rounded box across the instrument, counter-clockwise as x grows."""
    a = np.linspace(0, 2 * np.pi, 64, endpoint=False)
    c, s = np.cos(a), np.sin(a)
    y = half * np.sign(c) * np.abs(c) ** 0.35
    z = (top + low) / 2 + (top - low) / 2 * np.sign(s) * np.abs(s) ** 0.35
    return np.column_stack([np.full(64, x), y, z])


def _head() -> list[Part]:
    xs = np.linspace(NUT_X + 1, 562.0, 40)
    t = (xs - xs[0]) / (xs[-1] - xs[0])
    half = 12.0 - 3.0 * t
    top = CHEEK_Z - 11.0 * t**1.3
    low = CHEEK_Z - 15.0 - 13.0 * t**0.8
    box = capped(
        "pegbox",
        np.stack([_section(*v) for v in zip(xs, half, top, low, strict=True)]),
        "flame",
    )
    cavity = np.array([(NUT_X + 7, -7.0), (552.0, -5.2), (552.0, 5.2), (NUT_X + 7, 7.0)])

    def at(p: Array) -> Array:
        t = np.clip((p[:, 0] - xs[0]) / (xs[-1] - xs[0]), 0, 1)
        return np.asarray(CHEEK_Z - 11.0 * t**1.3 + 0.15)

    hollow = sheet(
        "hollow",
        np.array(shapely.segmentize(shapely.Polygon(cavity), 3.0).exterior.coords)[:-1],
        at,
        "hole",
    )
    parts = [box, hollow]
    eye = np.array([570.0, 0.0, CHEEK_Z - 18.0])
    # wide in the middle, drawn in smoothly to the eyes at both ends
    y = np.linspace(-20.5, 20.5, 61)
    u = np.clip((np.abs(y) - 8.5) / 11.0, 0, 1)
    r = 5.6 + 12.4 * (1 - u * u * (3 - 2 * u))
    ends = [(-21.0, 4.6)], [(21.0, 4.6)]
    profile = [*ends[0], *zip(y.tolist(), r.tolist(), strict=True), *ends[1]]
    parts.append(turned("scroll", profile, np.array([0, 1.0, 0]), eye, "flame", 160))
    for x, side, below in ((503, 1, 10.5), (517, -1, 12.5), (531, 1, 15.0), (545, -1, 17.5)):
        z = CHEEK_Z - below
        axis = np.array([0.0, float(side), 0.0])
        parts.append(
            turned("peg", [(-18, 3.2), (10, 3.7), (13, 3.9), (14, 5.4), (16, 5.6), (17, 4.4),
                           (19, 3.4)], axis, np.array([x, 0, z]), "ebony", 40)
        )  # fmt: skip
        s = np.linspace(0, 1, 33)
        r = 9.5 * np.sqrt(np.clip(1 - np.abs(2 * s - 1) ** 2.3, 0, 1)) + 0.3
        parts.append(
            turned("peg head", list(zip((17.5 + 21 * s).tolist(), r.tolist(), strict=True)), axis,
                   np.array([x, 0, z]), "ebony", 64, 0.34)
        )  # fmt: skip
    return parts


def _gear(top_arch: object) -> list[Part]:
    """Bridge, tailpiece, strings, end button and its loop."""
    foot = EDGE + 13.6
    crest = 50.5
    y = np.linspace(-20.0, 20.0, 21)
    arc = crest - (CROWN - np.sqrt(CROWN**2 - y**2))
    ring = np.vstack(
        [[(-21.0, foot), (21.0, foot), (20.5, foot + 4), (16.5, foot + 9), (20.2, foot + 16)],
         np.column_stack([y, arc])[::-1],
         [(-20.2, foot + 16), (-16.5, foot + 9), (-20.5, foot + 4)]]
    )  # fmt: skip
    rings = np.stack(
        [np.column_stack([np.full(len(ring), BRIDGE_X + dx), ring[:, 0], ring[:, 1]])
         for dx in (-1.6, 1.6)]
    )  # fmt: skip
    bridge = capped("bridge", rings, "maple")
    xs = np.linspace(10.0, 116.0, 50)
    u = (xs - 10) / 106
    half = 9.0 + 12.5 * u**0.8
    z = 22.0 + 15.0 * u
    tail = capped(
        "tailpiece",
        np.stack([_section(*v) for v in zip(xs, half, z + 4.5 - 2 * u, z - 1.0, strict=True)]),
        "ebony",
    )
    pin = turned(
        "button", [(-6, 3.8), (0, 4.2), (0.6, 6.4), (2.4, 7.2), (6.4, 7.4), (9.0, 6.8), (10.6, 5.2),
                   (11.2, 3.0)],
        np.array([-1.0, 0, 0]), np.array([3.2, 0, PIN_Z]), "ebony", 72,
    )  # fmt: skip
    parts = [bridge, tail, pin]
    for s in (1.0, -1.0):
        loop = np.array(
            [(-1.2, 4.4 * s, PIN_Z + 5.6), (-1.4, 5.0 * s, -1.0),
             (-1.0, 5.2 * s, 5.0), (3.0, 5.2 * s, 8.5), (14.0, 4.6 * s, 21.0)]
        )  # fmt: skip
        fine = np.array(
            [np.interp(np.linspace(0, 4, 41), range(5), loop[:, k]) for k in range(3)]
        ).T
        parts.append(tube("tail gut", fine, 1.0, "black_plastic", 14))
    parts.append(slab("saddle", rectangle(-0.2, -17.0, 7.0, 17.0, 1.0), 2.0, 7.8, "ebony", 0.9))
    for y0, r, peg in ((-8.0, 0.13, 545), (-2.7, 0.2, 517), (2.7, 0.28, 503), (8.0, 0.38, 531)):
        yb = y0 * 2.1
        top = crest - (CROWN - np.sqrt(CROWN**2 - yb**2)) + 0.3
        parts.append(
            string(
                "string",
                [
                    (112.0, yb * 0.85, 41.0 - abs(yb) * 0.03),
                    (BRIDGE_X, yb, float(top)),
                    (NUT_X + 2.0, y0, BOARD_Z[1] + 1.0),
                    (NUT_X + 5.0, y0 * 0.9, BOARD_Z[1] - 0.5),
                    (float(peg), y0 * 0.4, CHEEK_Z - 9.0 - (peg - 503) * 0.17),
                ],
                r,
                "steel",
            )
        )
    return parts


def heron() -> Body:
    """The instrument on its arched back."""
    box, rise = _box()
    parts = [*box, *_neck(), *_head(), *_gear(rise)]
    places = []
    for name, at, turn, size in (
        ("arched top", (62.0, 58.0), 8.0, (72.0, 22.0)),
        ("arched top", (294.0, -48.0), 6.0, (72.0, 22.0)),
        ("arched top", (64.0, -60.0), -12.0, (72.0, 22.0)),
    ):
        a = np.radians(turn)
        point, up = lying_on(rise, EDGE, at, turn, size)  # type: ignore[arg-type]
        places.append(Place(name, point, np.array([np.cos(a), np.sin(a), 0]), up))
    x = 408.0
    # the two middle strings carry a card
    slope = (50.5 - BOARD_Z[1] - 1.0) / (NUT_X - BRIDGE_X)
    z = BOARD_Z[1] + 1.0 + slope * (NUT_X - x) + 0.35
    places.append(Place("strings", np.array([x, 0.0, z]), np.array([-1.0, 0, slope]),
                        np.array([slope, 0, 1.0])))  # fmt: skip
    stations = {
        "lower bout": np.array([80.0, 0, 0]),
        "waist": np.array([188.0, 0, 0]),
        "upper bout": np.array([284.0, 0, 0]),
        "body join": np.array([356.0, 0, 0]),
        "nut": np.array([NUT_X, 0, BOARD_Z[1]]),
    }
    return settled("heron", parts, places, stations)
