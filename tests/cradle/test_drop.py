"""No undercut: an instrument can be lowered straight down into its cradle, whatever its shape.

The first of the thousand random instruments of `drops`, each with its whole cradle: `python -m
tests.cradle.drops` takes all of them and writes the README's line.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from tests.cradle.drops import dropped, planned, undercuts
from tests.cradle.made import Made, random_made

CHUNKS, CHUNK = 6, 30


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_nothing_stands_in_the_way(chunk: int) -> None:
    counts, wrong = dropped(range(chunk * CHUNK, (chunk + 1) * CHUNK))
    assert not wrong
    # else the property would be about nothing
    for kind, share in (("neck rest", 0.6), ("tail rest", 0.6)):
        assert counts[kind] > share * CHUNK, counts
    for kind, share in (("headstock block", 0.4), ("headstock yoke", 0.1)):
        assert counts[kind] > share * CHUNK, counts
    assert counts["body block"] > 2 * CHUNK, counts


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
    block = next(p for p in plan.pieces if p.key == "blocks")
    inward = shapely.affinity.translate(block.shape, 0.0, -8.0 if block.middle > 0 else 8.0)
    bad = replace(plan, pieces=(replace(block, shape=inward.buffer(6.0)),))
    assert undercuts(bad, made, np.random.default_rng(0))


def test_a_yoke_lets_a_scroll_and_its_pegs_through() -> None:
    """It stands where no peg does, as deep as the lowest point that is known, and a ground that
    is higher than the head hangs would be seen."""
    made = Made(carved=True, lowest=18.0, tuners=(560.0, 590.0))
    plan = planned(made, 3)
    yoke = next(p for p in plan.pieces if p.key == "headstock")
    assert yoke.name == "headstock yoke" and yoke.at_least
    assert not any(a - 6 < x < a + 6 for a in made.tuners for x in yoke.span)
    assert undercuts(plan, made, np.random.default_rng(0)) == []
    void = shapely.box(*yoke.shape.bounds).difference(yoke.shape)
    contact = plan.wishes.scheme["headstock"]
    assert void.bounds[1] == pytest.approx(plan.lift.mm + made.lowest - contact.seat, abs=0.05)
    assert void.bounds[2] - void.bounds[0] >= 2 * (made.head + contact.offset) - 0.05
    top = yoke.shape.bounds[3]
    ground = shapely.box(-made.head, void.bounds[1] - 1.0, made.head, top)
    bad = replace(plan, pieces=(replace(yoke, shape=yoke.shape.union(ground)),))
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
