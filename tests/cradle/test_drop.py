"""No undercut: an instrument can be lowered straight down into its cradle, whatever its shape.

A thousand random instruments, each with a solid that is known by its formula (`made`); the wood is
held against that solid at places along the piece's thickness that the planner never looked at. All
have a neck rest, and by turns a headstock block or a tail rest.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from profiler.casework.cradle.berth import berth_from_room
from profiler.casework.cradle.boards import tail_room
from profiler.casework.cradle.plan import CradlePlan, plan_cradle
from profiler.casework.cradle.wishes import CradleWishes, Wood
from profiler.casework.wishes import Room
from profiler.errors import RequestError
from tests.cradle.made import Made, random_made

CHUNKS, CHUNK = 8, 125
#: how high the instrument hangs on its way down, mm
HEIGHTS = (0.0, 0.4, 3.0, 11.0, 27.0, 60.0)
#: pieces are judged here, not refused for thin wood
BRITTLE = Wood(beside=2.0, under=0.5, slender=50.0)


def planned(made: Made, seed: int, cutter: bool = True) -> CradlePlan:
    rng = np.random.default_rng(seed)
    boards = CradleWishes(
        pieces=("neck", "headstock" if seed % 2 else "tail"),
        stock={"": float(rng.uniform(6, 25))},
        wood=BRITTLE,
        bit_radius=float(rng.choice([0.0, 3.0, 6.0])) if cutter else 0.0,
        hold=float(rng.uniform(0.5, 1.0)),
    )
    solid = made.solid()
    berth = berth_from_room(solid.plan, Room(side=40.0), tail=tail_room(solid, boards))
    return plan_cradle(solid, berth, boards)


def undercuts(plan: CradlePlan, made: Made, rng: np.random.Generator) -> list[str]:
    """Places where wood stands in the instrument's way as it comes down."""
    found = []
    for piece in plan.pieces:
        xs = [*piece.span, *rng.uniform(*piece.span, 3)]
        wood = piece.shape
        shapely.prepare(wood)
        for x in xs:
            shape = made.true_slice(float(x))
            if shape.is_empty:
                continue
            for up in HEIGHTS:
                there = shapely.affinity.translate(shape, 0.0, plan.lift.mm + up)
                met = wood.intersection(there).area
                if met > 1e-3:
                    found.append(f"{piece.name} at {x:.1f}, {up} up: {met:.3f} mm²")
    return found


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_nothing_stands_in_the_way(chunk: int) -> None:
    made_of: dict[str, int] = {}
    for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK):
        made = random_made(seed)
        try:
            plan = planned(made, seed)
        except RequestError:
            continue
        assert not undercuts(plan, made, np.random.default_rng(seed)), seed
        for piece in plan.pieces:
            made_of[piece.name] = made_of.get(piece.name, 0) + 1
    # else the property would be about nothing
    assert made_of["neck rest"] > 0.6 * CHUNK, made_of
    assert min(made_of["headstock block"], made_of["tail rest"]) > 0.3 * CHUNK, made_of


def test_an_undercut_would_be_seen() -> None:
    """A notch that only follows the neck, and is not swept up, catches a tuner or a wide face."""
    made = Made(square=1.3, neck=((30.0, 24.0), (26.0, 19.0)))
    plan = planned(made, 3)
    rest = next(p for p in plan.pieces if p.key == "neck")
    y0, _, y1, top = rest.shape.bounds
    lips = shapely.union_all(
        [shapely.box(y0, top - 2.0, -12.0, top), shapely.box(12.0, top - 2.0, y1, top)]
    )
    spoiled = replace(rest, shape=rest.shape.union(lips))
    bad = replace(plan, pieces=(spoiled,))
    assert undercuts(bad, made, np.random.default_rng(0))


def test_between_the_sides_nothing_overhangs() -> None:
    """Above every place of a notch all is free, up to the piece's upper edge."""
    for seed in range(60):
        plan = planned(random_made(seed), seed, cutter=False)
        for piece in plan.pieces:
            y0, low, y1, top = piece.shape.bounds
            for y in np.linspace(y0 + 0.1, y1 - 0.1, 41):
                line = shapely.LineString([(y, low - 1.0), (y, top + 1.0)])
                met = piece.shape.intersection(line)
                assert len(shapely.get_parts(met)) == 1, (seed, piece.name, y)
