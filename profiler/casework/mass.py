"""How heavy the case will be, and where its centre of gravity lies: an estimate."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from profiler.casework.body import Body
from profiler.casework.pieces import Piece, Triple, solid_moments
from profiler.casework.wishes import CaseWishes
from profiler.casework.wood import FOAM_DENSITY, PLYWOOD_DENSITY, SOLID_DENSITY

MM3_PER_M3 = 1e9
KG_PER_POUND = 0.45359237


@dataclass(frozen=True)
class Weight:
    """Masses in kg, centre in the case frame, mm.

    Attributes:
        wood, foam: of the case.
        hardware, instrument: as typed; None where nobody weighed it.
        centre: of everything that has a mass here.
    """

    wood: float
    foam: float
    hardware: float | None
    instrument: float | None
    centre: Triple

    @property
    def case(self) -> float:
        """Without the instrument."""
        return self.wood + self.foam + (self.hardware or 0.0)

    @property
    def total(self) -> float:
        return self.case + (self.instrument or 0.0)


def spoken_mass(kg: float) -> str:
    """As '3.5 kg (7.7 lb)'."""
    return f"{kg:.1f} kg ({kg / KG_PER_POUND:.1f} lb)"


def weigh(
    pieces: Iterable[Piece], body: Body, wishes: CaseWishes, at: tuple[float, float], floor: float
) -> Weight:
    """Sum over everything.

    Args:
        pieces: the cut list.
        body: the instrument.
        wishes: foam and masses.
        at: where the instrument's tail and centreline lie, case frame, mm.
        floor: z of the floor.
    """
    parts: list[tuple[float, Triple]] = []
    for piece in pieces:
        if not piece.places:
            continue
        volume, centre = solid_moments(piece)
        density = SOLID_DENSITY if piece.use == "cover wood" else PLYWOOD_DENSITY
        for place in piece.places:
            parts.append((volume / MM3_PER_M3 * density, place.to_case(centre)))
    wood = sum(m for m, _ in parts)
    middle = body.outline.centroid
    spot = (at[0] + float(middle.x), at[1] + float(middle.y))
    foam = float(body.outline.area) * wishes.room.foam / MM3_PER_M3 * FOAM_DENSITY
    parts.append((foam, (*spot, floor + wishes.room.foam / 2)))
    if wishes.instrument_mass:
        z = floor + wishes.room.foam + body.height / 2
        parts.append((wishes.instrument_mass, (*spot, z)))
    whole = sum(m for m, _ in parts)
    x, y, z = (sum(m * c[i] for m, c in parts) / whole for i in range(3))
    return Weight(wood, foam, wishes.hardware.mass, wishes.instrument_mass, (x, y, z))
