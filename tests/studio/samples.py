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
WREN_WINDOW = {
    "azimuth_deg": 118.0,
    "elevation_deg": 40.0,
    "distance": 1700.0,
    "width": 900.0,
    "height": 1000.0,
    "ratio": 0.52,
}

RECIPES: dict[str, Recipe] = {
    r.name: r
    for r in (
        Recipe(
            "wren",
            "wren",
            POCKET,
            (Shot((421.0, 239.0), 988.0, (392.0, 281.0), 2.4),),
            (80.0, 296.0, -1.7),
            (
                CardPut(1, 0, 0.9, (0.3, 0.2)),
                CardPut(2, 1, -1.1, (0.5, -0.8)),
                CardPut(4, 3, 1.0, (0.0, 0.4)),
                CardPut(5, 4, -0.8, (0.0, 0.3)),
            ),
            WREN_WINDOW,
            scale=(0.9972, 1.0018),
            seed=11,
        ),
    )
}
