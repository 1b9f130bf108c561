"""Scenes by chance in which everything varies that a shop's photos vary in.

On top of `chance.random_recipe`: phones of which no record exists, lenses that Brown's model does
not describe, warm lamps and dim rooms, either tint, prints and readings of every quality, sheets
laid badly and curling ones, two hands' heights and tilts.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from profiler.optics.lens import Lens
from profiler.scene.priors import DIAGONAL_35_MM
from tests.studio.chance import BENCHES, BLUE, WARM, random_phone, random_recipe
from tests.studio.ground import EDGES, Curl
from tests.studio.phone import Phone
from tests.studio.profiles import bend_for, published
from tests.studio.recipe import Recipe, SheetTrouble, Shot
from tests.studio.scene import design_of

WIDTH, HEIGHT = 4000, 3000
#: glow of a window, of an overcast sky, of a warm lamp, of a cold one
GLOWS = ((1.0, 1.0, 1.03), (0.97, 1.0, 1.08), (1.1, 0.98, 0.78), (0.98, 1.01, 1.0))
ROOMS = ((1.0, 0.985, 0.95), (0.98, 1.0, 1.03), (1.04, 0.99, 0.88))
#: how often a phone is of each kind: with a record, without one, with a published profile
KINDS = {"record": 0.45, "no record": 0.3, "profile": 0.25}


def kind_of(seed: int) -> str:
    """Which kind of phone a varied scene has."""
    return str(np.random.default_rng((seed, 77)).choice(list(KINDS), p=list(KINDS.values())))


def varied_recipe(seed: int) -> Recipe:
    """A scene that depends on the seed alone.

    Raises:
        ImportError: it wants a published profile, and `lensfunpy` is not there.
    """
    kind = kind_of(seed)
    rng = np.random.default_rng((seed, 78))
    photos = 3 if rng.random() < 0.2 else 1
    recipe = random_recipe(seed, photos=photos)
    phone = random_phone(rng) if kind == "record" else _stranger(rng, kind)
    phone = replace(
        phone,
        full_well=float(rng.uniform(2200, 7500)),
        sharpen=float(rng.uniform(0.15, 0.8)),
        quality=int(rng.integers(82, 96)),
        corner=float(rng.uniform(0.6, 0.85)),
    )
    design = design_of(recipe)
    longest = recipe.mat_width - 40.0
    least = longest * phone.lens.f / phone.lens.width
    shots = []
    middle = (design.width / 2, design.height / 2)
    for shot in recipe.shots:
        height = float(least * rng.uniform(1.04, 1.3))
        reach = 0.12 * height
        shots.append(
            Shot(
                (middle[0] + rng.uniform(-reach, reach), middle[1] + rng.uniform(-reach, reach)),
                height,
                (middle[0] + rng.uniform(-30, 30), middle[1] + rng.uniform(-20, 20)),
                float(rng.normal(0, 2.5)) + (180.0 if rng.random() < 0.2 else 0.0),
                taken=shot.taken,
            )
        )
    light = {
        **recipe.light,
        "elevation_deg": float(rng.uniform(28, 65)),
        "ratio": float(rng.uniform(0.25, 0.66)),
        "glow_rgb": GLOWS[rng.integers(len(GLOWS))],
        "room_rgb": ROOMS[rng.integers(len(ROOMS))],
        "person_deg": float(rng.uniform(0, 360)),
    }
    tint = recipe.tint
    if recipe.body != "skerry" and rng.random() < 0.3:
        tint = WARM
    badly = rng.random() < 0.3
    return replace(
        recipe,
        name=f"varied-{seed}",
        phone=phone,
        shots=tuple(shots),
        light=light,
        tint=tint if tint in (BLUE, WARM) else BLUE,
        rule_step=float(rng.choice([0.1, 0.25, 0.5])),
        sheet_shift=5.0 if badly else float(rng.uniform(0.5, 3.0)),
        sheet_turn=2.0 if badly else float(rng.uniform(0.1, 0.8)),
        bench=BENCHES[int(rng.integers(len(BENCHES)))],
        exposure=float(rng.uniform(0.97, 1.4)),
        sheets=_curling(design.count, rng),
    )


def _stranger(rng: np.random.Generator, kind: str) -> Phone:
    """A phone of which nothing is known but what EXIF says, rounded as makers round it."""
    bend: tuple[float, ...] = ()
    if kind == "profile":
        profiles = published()
        equivalent, bend = profiles[int(rng.integers(len(profiles)))]
    else:
        equivalent = float(rng.uniform(24.0, 28.5))
    # makers round from the diagonal or from the width, and focus lengthens the lens a little
    f = equivalent * float(np.hypot(WIDTH, HEIGHT)) / DIAGONAL_35_MM * (1 + rng.normal(0, 0.012))
    terms = dict.fromkeys(("k1", "k2", "k3"), 0.0)
    if kind != "profile":
        k1 = float(rng.normal(0, 0.05))
        terms = {"k1": k1, "k2": float(-2.0 * k1 + rng.normal(0, 0.03)), "k3": float(0.9 * k1)}
    lens = Lens(
        WIDTH,
        HEIGHT,
        f,
        (WIDTH - 1) / 2 + float(rng.normal(0, 20)),
        (HEIGHT - 1) / 2 + float(rng.normal(0, 20)),
        1.0,
        p1=float(rng.normal(0, 3e-4)),
        p2=float(rng.normal(0, 3e-4)),
        **terms,
    )
    return Phone(
        "Merle",
        f"Stint {int(rng.integers(2, 90))}",
        lens,
        round(equivalent / 5.6, 2),
        round(equivalent),
        bend=bend_for(f, WIDTH, HEIGHT, bend) if bend else (),
    )


def _curling(count: int, rng: np.random.Generator) -> dict[int, SheetTrouble]:
    """In one scene of four one edge of one sheet rises, by up to 1.5 mm."""
    if rng.random() > 0.25:
        return {}
    curl = Curl(str(rng.choice(EDGES)), float(rng.uniform(0.4, 1.5)), float(rng.uniform(50, 110)))
    return {int(rng.integers(count)) + 1: SheetTrouble(curl=curl)}
