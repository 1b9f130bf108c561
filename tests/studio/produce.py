"""A recipe to files: photos, the user's records, truth."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from pathlib import Path

from tests.studio import phone as phones
from tests.studio.bodies.body import Body
from tests.studio.phone import held
from tests.studio.recipe import Recipe
from tests.studio.scene import readings, recipe_record, stage, user_records
from tests.studio.tracer import Quality
from tests.studio.truth import measured

ROUGH = Quality(
    plain_side=2,
    edge_spp=4,
    inner_spp=1,
    light_side=2,
    inner_light_side=2,
    ambient=3,
    mirrors=1,
    map_light_side=4,
    map_ambient=12,
)

#: for pictures of half the size: shadows, whose noise a pixel there would show, are as smooth as at
#: full size; all else is rough
SMALL = replace(
    ROUGH,
    light_side=4,
    inner_light_side=2,
    ambient=8,
    mirrors=2,
    map_step=3.0,
    dpi=170.0,
    quick=True,
)

#: the same where what lies there is thin: the light just beside it must not leak under its edge
THIN = replace(SMALL, map_step=0.6)


def produce(
    recipe: Recipe,
    out: Path,
    width: int = 0,
    say: Callable[[str], None] = lambda _: None,
    truth: bool = True,
    rough: Quality | bool = False,
    body: Body | None = None,
    names: Sequence[str] = (),
    numbers: Collection[int] = (),
) -> None:
    """Render every photo of a recipe into a folder.

    Args:
        width: px of the photos, 0 for the phone's own.
        rough: True or a quality to save rays.
        body: what lies on the mat, instead of the instrument that the recipe names.
        names: of the photos; 'top-1.jpg' and so on where none are given.
        numbers: of the photos wanted, from 1; none for all.
    """
    out.mkdir(parents=True, exist_ok=True)
    full = recipe.phone.lens
    lens = full if not width else full.scaled(width, round(full.height * width / full.width))
    quality = rough if isinstance(rough, Quality) else ROUGH if rough else Quality()
    built = stage(recipe, quality, say, body)
    say("light on the ground is ready")
    for name, data in user_records(recipe, built.design).items():
        (out / name).write_bytes(data)
    for number, shot in enumerate(recipe.shots, start=1):
        if numbers and number not in numbers:
            continue
        camera = held(lens, shot.nadir, shot.height, shot.look, shot.spin)
        radiance = built.tracer.photograph(camera, say)
        picture = phones.develop(radiance, recipe.phone, recipe.exposure, recipe.seed + number)
        data = phones.jpeg(picture, recipe.phone, shot.orientation, shot.taken)
        name = names[number - 1] if names else f"top-{number}.jpg"
        (out / name).write_bytes(data)
        say(f"{name} {len(data) / 1e6:.2f} MB")
    if truth:
        facts = {"units": "mm", **measured(built.body)}
        record = recipe_record(built)
        facts["readings"] = readings(recipe, built.design)
        facts["recipe"] = record
        text = json.dumps(facts, indent=None, separators=(",", ":"))
        (out / "truth.json").write_text(text + "\n")
        say(", ".join(f"{k} {facts[k]}" for k in ("length", "width", "height")))
