"""A planned cradle with its fit and its chances: what sheets, table and record are made from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.casework.cradle.certainty import (
    PROMISE_MM,
    READINGS,
    Certainty,
    certainty_of,
    instrument_sources,
)
from profiler.casework.cradle.chance import Chance, chance_of
from profiler.casework.cradle.fit import Fit, PieceFit, check_fit
from profiler.casework.cradle.pieces import CradlePiece
from profiler.casework.cradle.plan import CradlePlan
from profiler.casework.words import both
from profiler.findings import Finding, Level

Array = NDArray[np.float64]

#: a chance above this is told as a caution, and as a doubt
LIKELY, VERY_LIKELY = 0.05, 0.25


@dataclass(frozen=True)
class Checked:
    """Attributes:
    plan: the cradle.
    fit: the instrument laid into it.
    chances: by the piece's name.
    known: how well the gaps are known, by the piece's name.
    findings: the plan's, and what the check noticed.
    """

    plan: CradlePlan
    fit: Fit
    chances: dict[str, Chance]
    known: dict[str, Certainty]
    findings: tuple[Finding, ...]

    def fit_of(self, piece: CradlePiece) -> PieceFit | None:
        """How a piece fits, None where nothing of it looks at the instrument."""
        return next((f for f in self.fit.pieces if f.piece is piece), None)


def checked(
    plan: CradlePlan, outline: Array, outline_u95: Array, remarks: Sequence[Finding] = ()
) -> Checked:
    """Lay the instrument in and judge.

    Args:
        plan: the cradle.
        outline: (N, 2) mm, cradle frame.
        outline_u95: (N,) mm, across it.
        remarks: made before.
    """
    fit = check_fit(plan)
    chances: dict[str, Chance] = {}
    known: dict[str, Certainty] = {}
    for f in fit.pieces:
        sources = instrument_sources(plan, f, outline, outline_u95)
        chances[f.piece.name] = chance_of(plan, f, sources)
        known[f.piece.name] = certainty_of(f, sources)
    found = [r for f in fit.pieces if (r := _remark(f, chances[f.piece.name])) is not None]
    unsure = _unsure(known)
    if unsure is not None:
        found.append(unsure)
    return Checked(plan, fit, chances, known, (*remarks, *plan.findings, *found))


def _unsure(known: dict[str, Certainty]) -> Finding | None:
    """Pieces whose gaps cannot be promised, with the figure, and the reading that would help."""
    unsure = {name: c for name, c in known.items() if not c.promised}
    if not unsure:
        return None
    by: dict[str, list[str]] = {}
    for name, c in unsure.items():
        by.setdefault(c.mostly, []).append(f"{name} ± {both(c.worst)}")
    told = []
    for mostly, pieces in by.items():
        reading = READINGS.get(mostly, "")
        because = f" (mostly {mostly}; {reading})" if reading else ""
        told.append(f"{', '.join(pieces)}{because}")
    return Finding(
        823,
        Level.CAUTION,
        f"What is known of the instrument does not promise every gap within {PROMISE_MM:g} mm:"
        f" {'; '.join(told)}.",
        "fit",
    )


def _remark(fit: PieceFit, chance: Chance) -> Finding | None:
    if chance.presses < LIKELY:
        return None
    mostly = f", mostly because of {chance.mostly}" if chance.mostly else ""
    return Finding(
        822,
        Level.DOUBT if chance.presses > VERY_LIKELY else Level.CAUTION,
        f"The {fit.piece.name} presses hard in {100 * chance.presses:.0f} of 100 cases, by what is"
        f" uncertain (gap ± {both(chance.u95)}{mostly}): cut it in scrap first and lay the"
        " instrument in with the lining.",
        fit.piece.name,
    )
