"""How solid wood swells across its grain with the seasons, and how heavy sheets are."""

from __future__ import annotations

from dataclasses import dataclass

from profiler.errors import RequestError


@dataclass(frozen=True)
class Movement:
    """Change of size per 1 % moisture content, as a fraction of the width."""

    radial: float
    tangential: float


#: USDA Wood Handbook, FPL-GTR-190, Table 13-5
MOVEMENT: dict[str, Movement] = {
    "black cherry": Movement(0.00126, 0.00248),
    "walnut": Movement(0.00190, 0.00274),
    "hard maple": Movement(0.00165, 0.00353),
    "red oak": Movement(0.00158, 0.00369),
}

#: kg per m³, rounded, for estimates only (common practice, no source)
PLYWOOD_DENSITY = 680.0
SOLID_DENSITY = 650.0
FOAM_DENSITY = 30.0


def movement_of(wood: str) -> Movement:
    """Look a wood up without regard to case.

    Raises:
        RequestError: no wood of that name in the table.
    """
    found = MOVEMENT.get(wood.strip().lower().replace("_", " "))
    if found is None:
        raise RequestError(
            f"How much '{wood}' moves is not in the table. Known: {', '.join(MOVEMENT)}; or take"
            " plywood."
        )
    return found


def seasonal(width: float, wood: str, change: float, quarter_sawn: bool = False) -> float:
    """How much wider or narrower a board becomes, mm.

    Args:
        width: across the grain, mm.
        wood: a name of `MOVEMENT`.
        change: of moisture content, in percentage points, within 6 to 14 %.
        quarter_sawn: the radial coefficient, instead of the tangential one of flat-sawn wood.
    """
    m = movement_of(wood)
    return width * (m.radial if quarter_sawn else m.tangential) * change
