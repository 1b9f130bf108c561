"""Flat-topped instruments of our own drawing, with invented names."""

from __future__ import annotations

import numpy as np

from tests.studio.bodies.flat_top import FlatTop
from tests.studio.bodies.shells import Shell
from tests.studio.curves import mirrored

#: a small four-string: pale top, white binding
WREN = FlatTop(
    "wren",
    mirrored([
        (0.0, 0.0), (2.5, 34.0), (14.0, 68.0), (38.0, 98.0), (74.0, 112.0), (108.0, 107.0),
        (140.0, 90.0), (172.0, 77.0), (200.0, 77.5), (228.0, 84.5), (256.0, 82.0),
        (279.0, 66.0), (292.0, 42.0), (296.5, 18.0), (297.0, 0.0),
    ]),
    Shell((72.0, 61.0), 296.5, (196.0, 30.0), "spruce", "mahogany", "binding"),
    end=296.5, saddle=88.0, nut=519.0, board_end=228.0,
    half_neck=(17.5, 22.0), neck_depth=(17.0, 13.5), frets=18,
    head=[
        (2.0, 0.0), (2.0, 12.2), (2.5, 16.8), (4.5, 17.4), (9.0, 19.0),
        (16.0, 25.5), (26.0, 31.0), (44.0, 30.2),
        (70.0, 31.4), (98.0, 33.5), (112.0, 30.0), (117.0, 18.0), (115.0, 7.0), (114.0, 0.0),
    ],
    head_thick=12.5, tilt=13.0, posts=[(27.0, 21.5), (62.0, 21.5)], tuner=0.92,
    strings=[-13.0, -4.4, 4.4, 13.0], spread=1.62, string_radii=[0.33, 0.42, 0.45, 0.36],
    string_material="nylon",
    places=[(84.0, 69.5, 0.0), (35.0, -9.0, 90.0), (243.0, -50.0, 0.0)],
    stations={"lower bout": 76.0, "waist": 185.0, "upper bout": 238.0},
    string_card=400.0, head_card=76.5,
)  # fmt: skip

#: a large six-string, dark and glossy
MOOR = FlatTop(
    "moor",
    mirrored([
        (0.0, 0.0), (3.0, 55.0), (18.0, 112.0), (55.0, 163.0), (110.0, 189.0), (165.0, 184.0),
        (220.0, 155.0), (268.0, 126.0), (310.0, 119.0), (355.0, 130.0), (400.0, 141.0),
        (440.0, 134.0), (470.0, 105.0), (485.0, 62.0), (489.5, 25.0), (490.0, 0.0),
    ]),
    Shell((112.0, 92.0), 489.0, (325.0, 49.0), "burst", "black", "binding", 2.6),
    end=489.0, saddle=165.0, nut=805.0, board_end=372.0,
    half_neck=(21.5, 27.0), neck_depth=(21.0, 19.0), frets=20,
    head=[
        (2.0, 0.0), (2.0, 15.0), (2.5, 20.8), (4.5, 21.4), (14.0, 23.5),
        (26.0, 30.5), (42.0, 36.5), (80.0, 36.8),
        (120.0, 38.2), (158.0, 40.0), (180.0, 35.0), (188.0, 17.0), (190.0, 0.0),
    ],
    head_thick=14.5, tilt=14.0, posts=[(44.0, 25.5), (84.0, 26.0), (124.0, 26.5)], tuner=1.12,
    strings=[-18.0, -10.8, -3.6, 3.6, 10.8, 18.0], spread=1.46,
    string_radii=[0.16, 0.21, 0.31, 0.42, 0.53, 0.66], string_material="bronze",
    places=[(95.0, 118.0, 40.0), (70.0, -95.0, -55.0), (270.0, 84.0, 0.0), (410.0, -86.0, 0.0)],
    stations={"lower bout": 120.0, "waist": 310.0, "upper bout": 405.0},
    bridge=(32.0, 78.0), head_material="black", knob_material="chrome", bridge_material="ebony",
    string_card=640.0, head_card=146.0,
    burst=(235.0, 262.0, 200.0), marks=(3, 5, 7, 9, 12, 15),
)  # fmt: skip

#: a thin-bodied six-string, blue, one horn and one cutaway, the tail askew
SKERRY = FlatTop(
    "skerry",
    np.array([
        (0.0, 8.0), (3.0, -36.0), (18.0, -84.0), (52.0, -124.0), (100.0, -139.0), (148.0, -129.0),
        (192.0, -104.0), (228.0, -91.0), (262.0, -93.0), (294.0, -100.0), (312.0, -92.0),
        (313.0, -74.0), (298.0, -52.0), (287.0, -33.0), (289.0, -21.0), (302.0, 0.0),
        (312.0, 22.0), (322.0, 60.0), (333.0, 94.0), (328.0, 112.0), (305.0, 117.0), (262.0, 108.0),
        (222.0, 101.0), (182.0, 110.0), (140.0, 131.0), (95.0, 144.0), (50.0, 131.0), (16.0, 92.0),
        (2.0, 48.0),
    ]),
    Shell((57.0, 52.0), 312.0, None, "blue", "blue", "binding", 3.0),
    end=303.0, saddle=92.0, nut=640.0, board_end=262.0,
    half_neck=(21.0, 27.0), neck_depth=(18.0, 17.0), frets=22,
    head=[
        (2.0, 0.0), (2.0, 14.8), (2.5, 20.4), (4.5, 21.0), (12.0, 24.0),
        (24.0, 31.5), (50.0, 33.0), (92.0, 31.0),
        (128.0, 33.0), (150.0, 30.0), (158.0, 14.0), (156.0, 0.0),
    ],
    head_thick=13.5, tilt=10.0, posts=[(34.0, 23.5), (66.0, 23.0), (98.0, 22.5)], tuner=0.95,
    strings=[-17.5, -10.5, -3.5, 3.5, 10.5, 17.5], spread=1.48,
    string_radii=[0.15, 0.2, 0.28, 0.4, 0.5, 0.6], string_material="steel",
    places=[(96.0, 92.0, 4.0), (104.0, -88.0, 0.0), (234.0, 72.0, 0.0), (214.0, -62.0, 0.0)],
    stations={"lower bout": 98.0, "waist": 224.0, "upper bout": 300.0},
    bridge=(30.0, 46.0), neck_material="maple", head_material="blue", knob_material="chrome",
    bridge_material="ebony", button=(0.24, 0.95), side_button=(326.0, 88.0, (0.82, 0.57, 0.0)),
    string_card=470.0, head_card=118.0, marks=(3, 5, 7, 9, 12, 15, 17, 19),
)  # fmt: skip

#: a pear-shaped four-string with a round back that hardly bulges out below the rim: from above
#: nobody sees by how much
DUNLIN = FlatTop(
    "dunlin",
    mirrored([
        (0.0, 0.0), (3.0, 38.0), (16.0, 74.0), (44.0, 101.0), (84.0, 110.0), (126.0, 104.0),
        (168.0, 87.0), (208.0, 66.0), (240.0, 49.0), (264.0, 35.0), (274.0, 18.0), (276.0, 0.0),
    ]),
    Shell((88.0, 58.0), 275.0, (150.0, 28.0), "spruce", "walnut", "purfling", 1.8, bowl=0.03),
    end=272.0, saddle=70.0, nut=452.0, board_end=190.0,
    half_neck=(17.5, 21.5), neck_depth=(18.0, 14.0), frets=17,
    head=[
        (2.0, 0.0), (2.0, 12.2), (2.5, 16.8), (4.5, 17.4), (8.0, 19.5),
        (14.0, 25.0), (26.0, 29.0), (46.0, 27.0),
        (72.0, 28.5), (96.0, 33.5), (113.0, 31.5), (121.0, 16.0), (122.0, 0.0),
    ],
    head_thick=12.0, tilt=12.0, posts=[(28.0, 19.5), (62.0, 19.0)], tuner=0.9,
    strings=[-13.0, -4.4, 4.4, 13.0], spread=1.6, string_radii=[0.33, 0.42, 0.45, 0.36],
    string_material="nylon",
    places=[(94.0, 66.0, -6.0), (92.0, -66.0, 7.0)],
    stations={"lower bout": 86.0},
    neck_material="walnut", head_material="walnut", knob_material="black_plastic",
    button=(0.2, 0.8), string_card=352.0, head_card=79.0,
)  # fmt: skip
