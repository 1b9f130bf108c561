"""Photos of a drawn profile, or of a card cut to it, on the mat.

python -m tests.studio.tracing_photos samples FOLDER  # wren's neck, in pencil
python -m tests.studio.tracing_photos small FIRST LAST FOLDER  # by chance, in FOLDER/SEED, 2400 px
"""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

from tests.studio.cuts import Cut, cut_of, made_up_cut
from tests.studio.gauge_photos import close_up, render
from tests.studio.produce import THIN
from tests.studio.recipe import Recipe, Shot
from tests.studio.samples import POCKET
from tests.studio.traced import (
    BESIDE,
    CLOSED,
    CUT,
    NOTCH,
    OPEN,
    Drawing,
    traced_body,
    tracing_truth,
)

TRUTH = "tracing-truth.json"


def random_tracing(seed: int) -> tuple[Drawing, Cut, Recipe]:
    """Everything about one photo, from the seed alone."""
    rng = np.random.default_rng([seed, 4])
    cut = made_up_cut(rng)
    way = str(rng.choice([OPEN, CLOSED, BESIDE, CUT, NOTCH], p=[0.3, 0.3, 0.15, 0.1, 0.15]))
    cards = way in (CUT, NOTCH)
    paper = str(rng.choice(["drawing_paper", "drawing_paper", "grey_board", "kraft"]))
    drawing = Drawing(
        way,
        float(rng.uniform(0.4, 0.9)),
        # a lead runs outside the wood, a knife does not
        float(rng.normal(0.0, 0.1)) if cards else float(rng.uniform(-0.1, 0.25)),
        float(rng.uniform(0.06, 0.18)),
        float(rng.uniform(4.0, 9.0)),
        float(rng.uniform(0.2, 0.7)),
        str(rng.choice(["grey_board", "kraft"])) if cards else paper,
        str(rng.choice(["pencil", "pencil", "ink"])),
        float(rng.uniform(0.25, 0.6)) if cards or paper != "drawing_paper" else 0.1,
        bool(rng.integers(2)),
    )
    recipe = close_up(f"tracing-{seed}", rng, seed)
    return drawing, cut, replace(recipe, body="tracing", cards=())


def _write(
    drawing: Drawing, cut: Cut, recipe: Recipe, folder: Path, name: str, **more: object
) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    body = traced_body(drawing, cut, recipe.seed)
    render(recipe, body, folder, name, None if more else THIN)
    facts = {**tracing_truth(drawing, cut, recipe.seed), **more}
    (folder / TRUTH).write_text(json.dumps({name: facts}, separators=(",", ":")) + "\n")


def _samples(folder: Path) -> None:
    cut, face = cut_of("wren", 440.0)
    light = {
        "azimuth_deg": 124.0, "elevation_deg": 45.0, "distance": 1700.0, "width": 900.0,
        "height": 1000.0, "ratio": 0.5,
    }  # fmt: skip
    shot = Shot((412.0, 210.0), 515.0, (396.0, 226.0), 1.2, taken="2026:05:09 11:52:40")
    recipe = Recipe(
        "wren tracing", "tracing", POCKET, (shot,), (394.0, 240.0, 6.4), (), light,
        scale=(0.9972, 1.0018), seed=29,
    )  # fmt: skip
    drawing = Drawing(CLOSED, paper="grey_board", thick=0.5)
    _write(drawing, cut, recipe, folder, "tracing-1.jpg", x=440.0, face_height=round(face, 4))


if __name__ == "__main__":
    if sys.argv[1] == "samples":
        _samples(Path(sys.argv[2]))
    else:
        for number in range(int(sys.argv[2]), int(sys.argv[3]) + 1):
            folder = Path(sys.argv[4]) / str(number)
            if not (folder / TRUTH).is_file():
                _write(*random_tracing(number), folder, "tracing-1.jpg")
