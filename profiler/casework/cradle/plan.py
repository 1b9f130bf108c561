"""The whole cradle: every piece that can be made, and why the others cannot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from profiler.casework.cradle.berth import Berth
from profiler.casework.cradle.blocks import body_blocks
from profiler.casework.cradle.boards import Setting, headstock_block, neck_rest, tail_rest
from profiler.casework.cradle.notch import CannotBe
from profiler.casework.cradle.pieces import CradlePiece, Unmade
from profiler.casework.cradle.wishes import BLOCKS, LET_IN, PIECES, CradleWishes
from profiler.casework.trace import Size, Term, total
from profiler.casework.words import both
from profiler.errors import RequestError
from profiler.findings import Finding, Level
from profiler.instrument.solid import Solid

BOARDS: dict[str, tuple[str, Callable[[Setting], CradlePiece]]] = {
    "neck": ("neck rest", neck_rest),
    "headstock": ("headstock block", headstock_block),
    "tail": ("tail rest", tail_rest),
}


@dataclass(frozen=True)
class CradlePlan:
    """One cradle.

    Attributes:
        solid: the instrument.
        berth: the room it stands in.
        wishes: the maker's.
        lift: the instrument's underside above the floor, at rest.
        pieces: that can be made.
        unmade: that cannot.
        findings: remarks.
    """

    solid: Solid
    berth: Berth
    wishes: CradleWishes
    lift: Size
    pieces: tuple[CradlePiece, ...]
    unmade: tuple[Unmade, ...]
    findings: tuple[Finding, ...]


def plan_cradle(solid: Solid, berth: Berth, wishes: CradleWishes) -> CradlePlan:
    """Plan every piece that was asked for.

    Raises:
        RequestError: a wish that makes no sense, or not one piece can be made; the sentence says
            why of each.
    """
    plan = lay_cradle(solid, berth, wishes)
    if not plan.pieces:
        reasons = "; ".join(f"{u.name}: {u.reason}" for u in plan.unmade)
        raise RequestError(f"Not one piece of the cradle can be made. {reasons}.")
    return plan


def lay_cradle(solid: Solid, berth: Berth, wishes: CradleWishes) -> CradlePlan:
    """The same for looking at: where no piece can be made, a plan without pieces says why of each.

    Raises:
        RequestError: a wish that makes no sense.
    """
    _check(wishes)
    lift = lift_of(wishes)
    setting = Setting(solid, berth, wishes, lift)
    pieces: list[CradlePiece] = []
    unmade: list[Unmade] = []
    for key, (name, make) in BOARDS.items():
        if key not in wishes.pieces:
            continue
        try:
            pieces.append(_clear_of(make(setting), pieces, berth))
        except CannotBe as why:
            unmade.append(Unmade(key, name, str(why)))
    if "blocks" in wishes.pieces:
        tail = next((p.span[1] for p in pieces if p.key == "tail"), berth.tail)
        blocks, failed = body_blocks(setting, tail)
        pieces += blocks
        unmade += failed
    findings = [Finding(820, Level.CAUTION, f"No {u.name}: {u.reason}.", u.name) for u in unmade]
    if berth.source != "case":
        findings.append(_no_case(berth))
    findings += solid.findings
    return CradlePlan(solid, berth, wishes, lift, tuple(pieces), tuple(unmade), tuple(findings))


def lift_of(wishes: CradleWishes) -> Size:
    """How high the lining under the body carries the instrument, at rest."""
    lining = wishes.scheme["body"].lining
    return total(
        "instrument's underside above the floor",
        "cradle-lift",
        Term(f"{lining.kind} under the body", lining.thickness),
        Term("what it gives under the weight", lining.thickness * lining.give, -1),
    )


def _no_case(berth: Berth) -> Finding:
    across = both(berth.left - berth.right)
    how = "typed" if berth.source == "typed" else "taken from the case's defaults"
    return Finding(
        821,
        Level.NOTE,
        f"The case's inside width, {across}, is {how}. 'profiler case' of the same job takes the"
        " cradle along and fits its pieces to the case: cut from those sheets once there is a"
        " case.",
        "case",
    )


def _clear_of(piece: CradlePiece, others: list[CradlePiece], berth: Berth) -> CradlePiece:
    """The piece, known to stand where nothing else does."""
    for other in others:
        if piece.span[0] < other.span[1] and piece.span[1] > other.span[0]:
            raise CannotBe(f"it would stand where the {other.name} stands: move one (--at)")
    for lane in berth.lanes:
        # a cross wall that begins within the piece's thickness leaves two different widths
        for edge in (lane.x0, lane.x1):
            if piece.span[0] < edge < piece.span[1]:
                raise CannotBe(
                    f"a compartment's cross wall begins within its thickness, at {edge:.0f} mm from"
                    " the tail: move it (--at)"
                )
    if berth.high is not None and piece.shape.bounds[3] > berth.high + 1e-6:
        raise CannotBe(
            f"it would be {piece.shape.bounds[3]:.0f} mm high and stand in the lid's way, which"
            f" begins {berth.high:.0f} mm above the floor: a smaller --hold makes it lower"
        )
    return piece


def _check(w: CradleWishes) -> None:
    for name in w.pieces:
        if name not in PIECES:
            raise RequestError(f"No cradle piece is called '{name}'. Known: {', '.join(PIECES)}.")
    for option, keys, known in (
        ("--at", w.at, (*PIECES[:2], *BLOCKS)),
        ("--stock", w.stock, ("", *PIECES)),
        ("--let-in", w.let_in, ("", *PIECES)),
    ):
        for key in keys:
            if key not in known:
                words = ", ".join(k for k in known if k)
                raise RequestError(f"{option}: '{key}' cannot be said here. Known: {words}.")
    for key, joint in w.let_in.items():
        if joint not in LET_IN:
            raise RequestError(f"--let-in: '{joint}' is not known. Known: {', '.join(LET_IN)}.")
        if key == "blocks" and joint != "glued":
            raise RequestError("--let-in blocks: body blocks lie on the floor and are glued.")
    if not 0.2 <= w.hold <= 1.0:
        raise RequestError(f"--hold {w.hold:g}: a notch holds 0.2 to 1 of the depth in it.")
    for key, mm in w.stock.items():
        if not 3.0 <= mm <= 60.0:
            raise RequestError(
                f"--stock{' ' + key if key else ''}: {both(mm)} cannot be: 3 to 60 mm. Was the unit"
                " meant?"
            )
    if not 0.0 <= w.bit_radius <= 15.0:
        raise RequestError(f"--bit-radius: {both(w.bit_radius)} cannot be: 0 to 15 mm.")
