"""No undercut in a thousand random instruments: each lowered straight down into its whole cradle.

    python -m tests.cradle.drops [--write] [FIRST LAST]

Every kind of piece (neck rest, headstock block, tail rest, blocks) of every instrument is held
against its true solid (`made`) at places along the piece's thickness that the planner never
looked at. The suite does the same with the first of them (`test_drop`).
Exit 1 if anything stands in the way.
"""

from __future__ import annotations

import sys

import numpy as np
import shapely

from profiler.casework.cradle.berth import berth_from_room
from profiler.casework.cradle.boards import tail_room
from profiler.casework.cradle.plan import CradlePlan, plan_cradle
from profiler.casework.cradle.wishes import CradleWishes, Wood
from profiler.casework.wishes import Room
from profiler.errors import RequestError
from tests.cradle.made import Made, random_made
from tests.docs.readme import write_between

#: instruments of the whole bench
ALL = 1000
#: how high the instrument hangs on its way down, mm
HEIGHTS = (0.0, 0.4, 3.0, 11.0, 27.0, 60.0)
#: pieces are judged here, not refused for thin wood
BRITTLE = Wood(beside=2.0, under=0.5, slender=50.0)


def planned(made: Made, seed: int, cutter: bool = True) -> CradlePlan:
    """Every piece that can be made, with random stock, cutter and depth of notch."""
    rng = np.random.default_rng(seed)
    wishes = CradleWishes(
        stock={"": float(rng.uniform(6, 25))},
        wood=BRITTLE,
        bit_radius=float(rng.choice([0.0, 3.0, 6.0])) if cutter else 0.0,
        hold=float(rng.uniform(0.5, 1.0)),
    )
    solid = made.solid()
    berth = berth_from_room(solid.plan, Room(side=40.0), tail=tail_room(solid, wishes))
    return plan_cradle(solid, berth, wishes)


def undercuts(plan: CradlePlan, made: Made, rng: np.random.Generator) -> list[str]:
    """Places where wood stands in the instrument's way as it comes down."""
    found = []
    for piece in plan.pieces:
        if not piece.upright:  # as wide all the way up: nothing of the outline may lie over it
            met = piece.shape.intersection(made.outline).area
            if met > 1e-3:
                found.append(f"{piece.name}: {met:.3f} mm²")
            continue
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


def dropped(seeds: range) -> tuple[dict[str, int], list[str]]:
    """How many pieces of each kind were made, and what stood in the way."""
    counts: dict[str, int] = {"instruments": 0}
    wrong: list[str] = []
    for seed in seeds:
        made = random_made(seed)
        try:
            plan = planned(made, seed)
        except RequestError:
            continue
        counts["instruments"] += 1
        wrong += [f"{seed}: {w}" for w in undercuts(plan, made, np.random.default_rng(seed))]
        for piece in plan.pieces:
            kind = piece.name.partition(",")[0]
            counts[kind] = counts.get(kind, 0) + 1
    return counts, wrong


def main(arguments: list[str]) -> int:
    """Print and, if asked, write the counts; 1 if anything stood in the way."""
    numbers = [int(a) for a in arguments if not a.startswith("-")]
    seeds = range(*numbers) if len(numbers) == 2 else range(ALL)
    counts, wrong = dropped(seeds)
    made = ", ".join(f"{n} {kind}s" for kind, n in counts.items() if kind != "instruments")
    line = (
        f"Of {len(seeds)} random instruments {counts['instruments']} got a cradle ({made}):"
        f" {len(wrong)} places stood in the way on {len(HEIGHTS)} heights on the way down."
    )
    print("\n".join([*wrong, line]))
    if "--write" in arguments:
        write_between("drops", line)
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
