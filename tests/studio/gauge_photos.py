"""Photos of a contour gauge on the mat.

python -m tests.studio.gauge_photos samples FOLDER     # wren's neck at two stations
python -m tests.studio.gauge_photos random SEED FOLDER # a neck, gauge, phone and light by chance
python -m tests.studio.gauge_photos small FIRST LAST FOLDER # many, in FOLDER/SEED, 2400 px wide:
                                             # fewer px to a needle than phones give
"""

from __future__ import annotations

import json
import os
import sys
from dataclasses import asdict, replace
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "2")

import numpy as np

from profiler.optics.lens import LENS_TERMS
from tests.studio.bodies.body import Body
from tests.studio.chance import BENCHES, BLUE, WARM, random_phone
from tests.studio.cuts import Cut, cut_of, made_up_cut
from tests.studio.gauge import Gauge, Pressed, gauge_body, gauge_truth
from tests.studio.produce import SMALL, produce
from tests.studio.recipe import CardPut, Recipe, Shot
from tests.studio.samples import POCKET
from tests.studio.scene import design_of
from tests.studio.tracer import Quality

TRUTH = "gauge-truth.json"
#: stations along wren's neck, and how each was pressed and laid
_WREN = (
    (385.0, Pressed(0.25, 1.3), (392.0, 236.0, 3.1), 17),
    (490.0, Pressed(-0.2, -0.6), (371.0, 251.0, -8.4), 18),
)


def _samples(folder: Path) -> None:
    gauge = Gauge()
    truths = {}
    for number, (x, pressed, pose, seed) in enumerate(_WREN, start=1):
        cut, face = cut_of("wren", x)
        body = gauge_body(gauge, cut, pressed, seed)
        light = {
            "azimuth_deg": 118.0, "elevation_deg": 42.0, "distance": 1700.0, "width": 900.0,
            "height": 1000.0, "ratio": 0.5,
        }  # fmt: skip
        shot = Shot(
            (pose[0] + 22.0, pose[1] - 34.0), 505.0 + 20 * number, (pose[0] + 6, pose[1] - 18),
            1.5 * number, taken=f"2026:05:09 11:3{number}:05",
        )  # fmt: skip
        recipe = Recipe(
            f"wren gauge {number}", "gauge", POCKET, (shot,), pose, (), light,
            scale=(0.9972, 1.0018), seed=seed,
        )  # fmt: skip
        name = f"gauge-{number}.jpg"
        render(recipe, body, folder, name)
        truths[name] = {"x": x, "face_height": round(face, 4), **gauge_truth(gauge, cut, pressed)}
    (folder / TRUTH).write_text(json.dumps(truths, separators=(",", ":")) + "\n")


#: px of a small photo
_SMALL_PX = 2400


def render(
    recipe: Recipe, body: Body, folder: Path, name: str, small: Quality | None = None
) -> None:
    kept = {
        n: (folder / n).read_bytes() for n in ("mat.json", "cards.json") if (folder / n).exists()
    }
    produce(
        recipe, folder, _SMALL_PX if small else 0, lambda t: print(t, flush=True), truth=False,
        rough=small or False, body=body, names=(name,),
    )  # fmt: skip
    for old, data in kept.items():  # the instrument's own records stay
        (folder / old).write_bytes(data)


def close_up(name: str, rng: np.random.Generator, seed: int) -> Recipe:
    """A photo from half a metre of something small on the mat, all else by chance."""
    phone = random_phone(rng)
    turn = float(rng.uniform(0, 360))
    recipe = Recipe(name, "gauge", phone, (), (0.0, 0.0, turn), (), {})
    recipe = replace(recipe, paper=str(rng.choice(["A4", "Letter", "A3"])))
    design = design_of(recipe)
    cx, cy = design.width / 2 + rng.uniform(-90, 90), design.height / 2 + rng.uniform(-50, 50)
    nadir = (cx + rng.uniform(-70, 70), cy + rng.uniform(-70, 70))
    shot = Shot(
        (float(nadir[0]), float(nadir[1])), float(rng.uniform(430, 640)),
        (float(cx + rng.uniform(-25, 25)), float(cy + rng.uniform(-25, 25))),
        float(rng.normal(0, 6)), taken="2026:08:02 10:00:00",
    )  # fmt: skip
    card = (CardPut(4, 0, float(rng.normal(0, 1.0))),) if rng.random() < 0.3 else ()
    return replace(
        recipe,
        shots=(shot,),
        pose=(float(cx), float(cy), turn),
        cards=card,
        light={
            "azimuth_deg": float(rng.uniform(0, 360)),
            "elevation_deg": float(rng.uniform(32, 60)),
            "distance": 1700.0,
            "width": float(rng.uniform(400, 1200)),
            "height": float(rng.uniform(500, 1200)),
            "ratio": float(rng.uniform(0.35, 0.6)),
        },
        tint=str(rng.choice([BLUE, BLUE, WARM])),
        scale=(float(1 + rng.normal(0, 0.003)), float(1 + rng.normal(0, 0.003))),
        bench=BENCHES[int(rng.integers(len(BENCHES)))],
        exposure=float(rng.uniform(1.0, 1.25)),
        seed=seed,
    )


def random_gauge(seed: int) -> tuple[Gauge, Cut, Pressed, Recipe]:
    """Everything about one photo, from the seed alone."""
    rng = np.random.default_rng(seed)
    cut = made_up_cut(rng)
    pitch = float(rng.choice([0.8, 1.0, 1.0, 1.27]))
    count = round(float(rng.uniform(100, 150)) / pitch)
    gauge = Gauge(
        count, pitch, pitch * float(rng.uniform(0.86, 0.97)), float(rng.uniform(75, 95)),
        str(rng.choice(["round", "round", "flat"])),
        (float(rng.uniform(9, 14)), float(rng.uniform(16, 26))),
        float(rng.uniform(-cut.depth / 6, 8.0)),
        str(rng.choice(["steel", "steel", "bronze", "black_plastic", "nylon"])),
        str(rng.choice(["black_plastic", "chrome", "blue"])),
    )  # fmt: skip
    pressed = Pressed(float(rng.normal(0, 0.3)), float(rng.uniform(-6, 6)), bool(rng.integers(2)))
    return gauge, cut, pressed, close_up(f"gauge-{seed}", rng, seed)


def _random(seed: int, folder: Path, small: bool = False) -> None:
    gauge, cut, pressed, recipe = random_gauge(seed)
    folder.mkdir(parents=True, exist_ok=True)
    body = gauge_body(gauge, cut, pressed, seed)
    render(recipe, body, folder, "gauge-1.jpg", SMALL if small else None)
    # the user has a lens record, made at another distance: its terms are near this photo's
    lens = recipe.phone.lens
    facts = {
        **gauge_truth(gauge, cut, pressed),
        "pose": recipe.pose,
        "cards": [asdict(c) for c in recipe.cards],
        "lens": {n: float(v) for n, v in zip(LENS_TERMS, lens.vector, strict=True)},
    }
    (folder / TRUTH).write_text(json.dumps({"gauge-1.jpg": facts}, separators=(",", ":")) + "\n")


if __name__ == "__main__":
    if sys.argv[1] == "samples":
        _samples(Path(sys.argv[2]))
    elif sys.argv[1] == "small":
        for number in range(int(sys.argv[2]), int(sys.argv[3]) + 1):
            folder = Path(sys.argv[4]) / str(number)
            if not (folder / TRUTH).is_file():
                _random(number, folder, small=True)
    else:
        _random(int(sys.argv[2]), Path(sys.argv[3]))
