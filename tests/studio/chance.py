"""Recipes by chance, for benches that need many scenes of which nothing was chosen by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.studio import bodies
from tests.studio.phone import Phone
from tests.studio.recipe import CardPut, Recipe, Shot
from tests.studio.samples import NOVA, POCKET, TERN
from tests.studio.scene import design_of

BODIES = ("wren", "moor", "skerry", "dunlin", "heron")
BLUE, WARM = "#b4d2ee", "#f3d9ae"
BENCHES = (
    ((0.20, 0.12, 0.07), (0.33, 0.21, 0.12)),
    ((0.30, 0.29, 0.27), (0.36, 0.35, 0.33)),
    ((0.05, 0.055, 0.06), (0.075, 0.08, 0.085)),
    ((0.42, 0.30, 0.17), (0.52, 0.39, 0.24)),
)
#: ground that should show round the instrument, mm
MARGIN = 70.0


def random_phone(rng: np.random.Generator) -> Phone:
    """One of the phones, its lens a little different, as focus and stabilisation make it."""
    phone = (POCKET, NOVA, TERN)[rng.integers(3)]
    lens = phone.lens
    return replace(
        phone,
        lens=replace(
            lens,
            f=lens.f * (1 + rng.normal(0, 0.003)),
            cx=lens.cx + rng.normal(0, 6),
            cy=lens.cy + rng.normal(0, 6),
        ),
    )


def random_recipe(seed: int, body_name: str | None = None, photos: int = 1) -> Recipe:
    """A scene that depends on the seed alone.

    Args:
        body_name: one of `BODIES`; chosen by chance if not given.
        photos: how many, from different places.
    """
    rng = np.random.default_rng(seed)
    name = body_name or str(rng.choice(BODIES))
    body = bodies.named(name)
    points = np.vstack([p.points for p in body.parts])
    length = float(points[:, 0].max())
    width = float(2 * np.abs(points[:, 1]).max())
    phone = random_phone(rng)
    mat_w = length + 2 * MARGIN + 40
    mat_h = width + 2 * MARGIN + 60
    papers = ["A4", "Letter", "A3"] if mat_w > 830 or mat_h > 580 else ["A4", "Letter", "A3", "A1"]
    if mat_w < 1180:
        papers.append("A0")
    papers.append("roll")
    paper = str(rng.choice(papers))
    if paper == "roll":
        mat_h = max(mat_h, 610.0)
    turn = float(rng.normal(0, 1.2))
    a = np.radians(turn)
    # several sheets come out larger than asked for: the middle is where the paper is
    recipe = Recipe(
        f"random-{seed}", name, phone, (), (0.0, 0.0, turn), (), {}, paper, mat_w, mat_h
    )
    design = design_of(recipe)
    cx = design.width / 2 + rng.uniform(-12, 12)
    cy = design.height / 2 + rng.uniform(-12, 12)
    pose = (cx - np.cos(a) * length / 2, cy - np.sin(a) * length / 2, turn)
    least = (length + 2 * MARGIN) * phone.lens.f / phone.lens.width
    shots = []
    for k in range(photos):
        height = float(max(rng.uniform(930, 1050), least * rng.uniform(1.03, 1.2)))
        nadir = (cx + rng.uniform(-100, 100), cy + rng.uniform(-90, 90))
        look = (cx + rng.uniform(-35, 35), cy + rng.uniform(-25, 25))
        shots.append(
            Shot(nadir, height, look, float(rng.normal(0, 2.0)), taken=f"2026:08:0{1 + k} 12:00:00")
        )
    chosen: list[CardPut] = []
    numbers = {True: [1, 2, 3], False: [4, 5, 6, 7]}
    board = [i for i, p in enumerate(body.places) if p.name in {"soundboard", "arched top"}]
    keep = set(rng.choice(board, size=min(2, len(board)), replace=False).tolist())
    for i, place in enumerate(body.places):
        if place.name in {"soundboard", "arched top"}:
            if i not in keep:
                continue
        elif rng.random() < 0.15:
            continue
        number = numbers[place.name == "soundboard"].pop(0)
        chosen.append(
            CardPut(number, i, float(rng.normal(0, 0.7)), tuple(rng.uniform(-0.5, 0.5, 2).tolist()))
        )
    light = {
        "azimuth_deg": float(rng.uniform(0, 360)),
        "elevation_deg": float(rng.uniform(30, 55)),
        "distance": 1900.0,
        "width": float(rng.uniform(400, 1400)),
        "height": float(rng.uniform(500, 1300)),
        "ratio": float(rng.uniform(0.35, 0.62)),
    }
    return replace(
        recipe,
        shots=tuple(shots),
        pose=(float(pose[0]), float(pose[1]), turn),
        cards=tuple(chosen),
        light=light,
        tint=WARM if name == "skerry" else BLUE,
        scale=(float(1 + rng.normal(0, 0.003)), float(1 + rng.normal(0, 0.003))),
        rule_step=float(rng.choice([0.1, 0.1, 0.25])),
        bench=BENCHES[int(rng.integers(len(BENCHES)))],
        exposure=float(rng.uniform(1.0, 1.25)),
        seed=seed,
    )
