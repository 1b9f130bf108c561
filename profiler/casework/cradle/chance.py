"""How likely it is that the instrument presses where it must not, given what is uncertain.

Monte Carlo over everything that has a stated uncertainty (in the manner of JCGM 101): the gap at
every point of the wood is moved along its own direction to the instrument. All terms are normal.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from profiler.casework.cradle.certainty import ONLY_WIDER, Source
from profiler.casework.cradle.fit import PieceFit
from profiler.casework.cradle.linings import U95_GIVE, U95_THICKNESS, Lining
from profiler.casework.cradle.plan import CradlePlan

DRAWS, SEED = 4000, 20261128
#: coverage factor for 95 % (JCGM 100:2008, 6.3.3, many degrees of freedom)
K95 = 2.0


@dataclass(frozen=True)
class Chance:
    """Of one piece.

    Attributes:
        presses: share of draws in which a lining is crushed or the wood itself is met.
        touches: share in which a lining that only guards is touched; None where it bears.
        hangs: share in which the instrument does not reach the lining that it should rest on; None
            where the piece only guards.
        u95: of the gap at the tightest place, mm.
        mostly: the largest part of that, in words.
    """

    presses: float
    touches: float | None
    hangs: float | None
    u95: float
    mostly: str


def chance_of(plan: CradlePlan, fit: PieceFit, instrument: Sequence[Source]) -> Chance:
    """See `Chance`.

    Args:
        plan: the cradle.
        fit: of one of its pieces.
        instrument: what is uncertain about the instrument itself.
    """
    presses = [s for s in instrument if s.name not in ONLY_WIDER]
    sources = [s for s in (*_making(plan, fit), *presses) if s.u95 > 0]
    rng = np.random.default_rng(SEED)
    gaps = np.tile(fit.gaps, (DRAWS, 1))
    for source in sources:
        by = rng.normal(0.0, source.u95 / K95, DRAWS)
        gaps += by[:, None] * source.follows[None, :]
    tight = int(np.argmin(fit.gaps - fit.linings))
    parts = {s.name: (s.u95 * s.follows[tight]) ** 2 for s in sources}
    whole = sum(parts.values())
    largest = max(parts, key=lambda n: parts[n]) if parts else ""
    bears = fit.piece.contact.bears
    return Chance(
        float((gaps < fit.needs).any(axis=1).mean()),
        None if bears else float((gaps < fit.linings).any(axis=1).mean()),
        float((gaps > fit.linings).all(axis=1).mean()) if bears else None,
        math.sqrt(whole),
        largest if whole and parts[largest] > 0.4 * whole else "",
    )


def lining_u95(lining: Lining, loaded: bool) -> float:
    """Of its thickness as it stands there, mm."""
    thick = U95_THICKNESS * lining.thickness * ((1 - lining.give) if loaded else 1.0)
    give = U95_GIVE * lining.give * lining.thickness if loaded else 0.0
    return math.hypot(thick, give)


def _making(plan: CradlePlan, fit: PieceFit) -> list[Source]:
    """What saw, glue and foam do to the gaps of one piece."""
    x, y, z = fit.towards.T
    w = plan.wishes
    body = w.scheme["body"].lining
    return [
        Source("the cut", w.u95_cut, np.ones(len(x))),
        Source("where the piece stands across", w.u95_place, -y),
        Source("where the piece stands along", w.u95_place, -x),
        Source(f"the {body.kind} under the body", lining_u95(body, True), z),
    ]
