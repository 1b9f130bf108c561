"""The recipes of the committed samples."""

from __future__ import annotations

from profiler.optics.lens import Lens
from tests.studio.phone import Phone
from tests.studio.recipe import CardPut, Recipe, Shot

POCKET = Phone(
    "Birchfield",
    "Pocket 5",
    Lens(4000, 3000, 3018.6, 2011.3, 1488.2, 1.0, 0.0412, -0.1074, 0.00031, -0.00042, 0.0521),
    4.71,
    26,
)
NOVA = Phone(
    "Halden",
    "Nova 3",
    Lens(4032, 3024, 3172.4, 2003.7, 1519.8, 1.0, -0.0215, 0.0683, -0.00022, 0.00035, -0.0441),
    5.4,
    27,
    full_well=7000.0,
    blur_px=(0.6, 0.85),
    sharpen=0.6,
    quality=92,
    corner=0.78,
)
TERN = Phone(
    "Osk",
    "Tern 12",
    Lens(4000, 3000, 2895.8, 1979.1, 1507.6, 1.0, 0.0688, -0.1421, -0.00048, 0.00027, 0.0633),
    4.2,
    25,
    full_well=4200.0,
    read_noise=5.0,
    blur_px=(0.75, 1.15),
    sharpen=0.35,
    quality=90,
    corner=0.66,
)


def _window(azimuth: float, elevation: float, size: float, ratio: float) -> dict[str, float]:
    return {
        "azimuth_deg": azimuth,
        "elevation_deg": elevation,
        "distance": 1900.0,
        "width": size,
        "height": 1.1 * size,
        "ratio": ratio,
    }


_TAKEN = "2026:05:09 11:2{}:31"

RECIPES: dict[str, Recipe] = {
    r.name: r
    for r in (
        Recipe(
            "wren",
            "wren",
            POCKET,
            (
                Shot((421.0, 239.0), 988.0, (392.0, 281.0), 2.4),
                Shot((296.0, 330.0), 1021.0, (372.0, 290.0), -1.2, taken="2026:05:09 11:21:02"),
                Shot((540.0, 206.0), 966.0, (432.0, 276.0), 3.8, taken="2026:05:09 11:21:19"),
            ),
            (80.0, 296.0, -1.7),
            (
                CardPut(1, 0, 0.9, (0.3, 0.2)),
                CardPut(2, 1, -1.1, (0.5, -0.8)),
                CardPut(4, 3, 1.0, (0.0, 0.4)),
                CardPut(5, 4, -0.8, (0.0, 0.3)),
            ),
            _window(118.0, 40.0, 1000.0, 0.52),
            scale=(0.9972, 1.0018),
            seed=11,
        ),
        Recipe(
            "moor",
            "moor",
            NOVA,
            (
                Shot((655.0, 268.0), 1245.0, (628.0, 312.0), -1.6, taken="2026:06:21 16:04:55"),
                Shot((492.0, 352.0), 1262.0, (606.0, 316.0), 2.1, taken="2026:06:21 16:05:13"),
                Shot((826.0, 331.0), 1231.0, (640.0, 304.0), -0.7, taken="2026:06:21 16:05:40"),
            ),
            (122.0, 306.0, 0.9),
            (
                CardPut(1, 0, 3.0, (2.0, 1.0)),
                CardPut(2, 3, -2.0, (-1.0, 2.0)),
                CardPut(5, 4, 1.5, (6.0, 0.5)),
                CardPut(7, 5, -1.0, (0.0, 0.5)),
            ),
            _window(62.0, 35.0, 1100.0, 0.5),
            paper="roll",
            mat_width=1250.0,
            mat_height=610.0,
            scale=(1.0024, 0.9988),
            rule_step=0.25,
            bench=((0.30, 0.29, 0.27), (0.36, 0.35, 0.33)),
            exposure=1.05,
            seed=23,
        ),
        Recipe(
            "skerry",
            "skerry",
            TERN,
            (
                Shot((352.0, 268.0), 1105.0, (470.0, 290.0), 1.1, taken="2026:03:30 10:15:12"),
                Shot((418.0, 334.0), 1085.0, (486.0, 300.0), -2.5, 6, "2026:03:30 10:15:40"),
                Shot((612.0, 251.0), 1096.0, (500.0, 286.0), 1.7, taken="2026:03:30 10:16:08"),
            ),
            (95.0, 300.0, -0.8),
            (
                CardPut(2, 0, 1.0, (2.0, -1.0)),
                CardPut(3, 3, -1.5, (0.0, 1.0)),
                CardPut(4, 4, 0.8, (5.0, 0.2)),
                CardPut(6, 5, 0.5, (0.0, -0.3)),
            ),
            _window(205.0, 44.0, 1300.0, 0.46),
            paper="A3",
            mat_width=960.0,
            mat_height=520.0,
            tint="#f3d9ae",
            scale=(0.9989, 0.9946),
            bench=((0.05, 0.055, 0.06), (0.075, 0.08, 0.085)),
            seed=37,
        ),
        Recipe(
            "dunlin",
            "dunlin",
            NOVA,
            (
                Shot((385.0, 345.0), 1004.0, (418.0, 302.0), 1.9, taken="2026:07:02 09:40:08"),
                Shot((476.0, 243.0), 978.0, (436.0, 296.0), -3.1, taken="2026:07:02 09:40:27"),
                Shot((572.0, 331.0), 991.0, (442.0, 306.0), 2.4, taken="2026:07:02 09:40:51"),
            ),
            (124.0, 301.0, 2.6),
            (
                CardPut(3, 0, 2.0, (0.0, -1.0)),
                CardPut(1, 1, -1.4, (0.0, 1.0)),
                CardPut(5, 2, 1.0, (4.0, -0.3)),
                CardPut(6, 3, 1.2, (0.0, 0.4)),
            ),
            _window(335.0, 48.0, 420.0, 0.6),
            paper="A1",
            mat_width=830.0,
            mat_height=580.0,
            scale=(1.0011, 1.0037),
            bench=((0.42, 0.30, 0.17), (0.52, 0.39, 0.24)),
            exposure=1.08,
            seed=41,
        ),
        Recipe(
            "heron",
            "heron",
            TERN,
            (
                Shot((330.0, 318.0), 962.0, (408.0, 288.0), -1.4, taken="2026:09:14 14:31:20"),
                Shot((372.0, 247.0), 991.0, (424.0, 282.0), 2.2, taken="2026:09:14 14:31:44"),
                Shot((541.0, 314.0), 974.0, (420.0, 290.0), -0.9, taken="2026:09:14 14:32:10"),
            ),
            (101.0, 292.0, 1.3),
            (
                CardPut(4, 0, 0.6, (0.0, 0.0)),
                CardPut(5, 1, -0.4, (0.0, 0.0)),
                CardPut(7, 3, 0.7, (0.0, 0.2)),
            ),
            _window(150.0, 42.0, 900.0, 0.5),
            paper="Letter",
            scale=(0.9958, 0.9991),
            bench=((0.50, 0.48, 0.45), (0.55, 0.53, 0.50)),
            exposure=1.15,
            seed=53,
        ),
    )
}
