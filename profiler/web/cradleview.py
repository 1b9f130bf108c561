"""What the page draws of a cradle: from above, cut across at each station, and what cannot be."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from profiler.casework.cradle.pieces import CradlePiece, Unmade
from profiler.casework.cradle.plan import CradlePlan
from profiler.casework.cradle.wishes import BLOCKS
from profiler.geometry.offset import parts_of
from profiler.instrument.record import Measurement
from profiler.instrument.shaping import neck_ends
from profiler.instrument.solid import Neck, Solid
from profiler.web.told import line_told, thumbnail_line
from profiler.web.wording import for_page

#: from one profile of the neck to the next, mm; the page draws straight between them, and between
#: two sections the neck is straight
_STEP_MM = 5.0
#: of a piece that is not there: how long it is drawn along x, mm, where nothing says it better
_BOARD_MM, _BLOCK_MM, _DEEP_MM = 12.0, 60.0, 40.0
_LABELS = {"neck": "neck rest", "headstock": "headstock block"}


def cradle_view(plan: CradlePlan, measurement: Measurement) -> dict[str, Any]:
    """Plain values, cradle frame, mm; for the page alone.

    Returns:
        `length`, `outline`, `stations` that can be moved, `places` of pieces that cannot be made,
        `cuts` across the standing pieces, `neck` as profiles along x or the reason why not.
    """
    stations = [_station(plan, measurement, key) for key in ("neck", "headstock", *BLOCKS)]
    return {
        "length": round(float(measurement.outline[:, 0].max()), 2),
        "outline": line_told(thumbnail_line(measurement.outline)),
        "stations": [s for s in stations if s is not None],
        "places": [_place(plan, measurement, u) for u in plan.unmade],
        "cuts": [_cut(plan, p) for p in plan.pieces],
        "neck": _neck(plan.solid, plan.lift.mm),
    }


def _key(piece: CradlePiece | Unmade) -> str:
    """The word of `--at` for a piece."""
    return piece.name.removeprefix("body block, ") if piece.key == "blocks" else piece.key


def _station(plan: CradlePlan, m: Measurement, key: str) -> dict[str, Any] | None:
    wanted = "blocks" if key in BLOCKS else key
    if wanted not in plan.wishes.pieces:
        return None
    made = next((p for p in plan.pieces if _key(p) == key), None)
    low, high = _range(plan, m, key)
    x = plan.wishes.at.get(key)
    if x is None:
        x = made.middle if made is not None else _usual(plan, key, low, high)
    return {
        "key": key,
        "label": _LABELS.get(key, f"block, {key}"),
        "x": round(float(x), 2),
        "low": round(low, 1),
        "high": round(high, 1),
        "made": made is not None,
        "own": key in plan.wishes.at,
    }


def _usual(plan: CradlePlan, key: str, low: float, high: float) -> float:
    neck = plan.solid.part("neck")
    if key == "neck" and isinstance(neck, Neck):
        return neck.loft.sections[-1].x
    if key in BLOCKS:
        return low + _BLOCK_MM / 2 if key.startswith("tail") else high - _BLOCK_MM / 2
    return (low + high) / 2


def _range(plan: CradlePlan, m: Measurement, key: str) -> tuple[float, float]:
    """From where to where along x a piece belongs; whether it fits there is the plan's to say."""
    join, nut = neck_ends(m)
    end = float(m.outline[:, 0].max())
    if key == "neck":
        return float(join), float(nut)
    if key == "headstock":
        return float(nut), end
    return (0.0, float(join) / 2) if key.startswith("tail") else (float(join) / 2, float(join))


def _place(plan: CradlePlan, m: Measurement, unmade: Unmade) -> dict[str, Any]:
    """Where a piece would stand that cannot be made, and why it cannot."""
    key, berth = _key(unmade), plan.berth
    across = (berth.right, berth.left)
    if key == "tail":
        thick = plan.wishes.thickness("tail")
        x0, x1 = -plan.wishes.scheme["tail"].offset - thick, -plan.wishes.scheme["tail"].offset
    else:
        low, high = _range(plan, m, key)
        x = plan.wishes.at.get(key, _usual(plan, key, low, high))
        half = (_BLOCK_MM if key in BLOCKS else plan.wishes.thickness(unmade.key)) / 2
        x0, x1 = x - half, x + half
        if key.endswith("left"):
            across = (berth.left - _DEEP_MM, berth.left)
        elif key.endswith("right"):
            across = (berth.right, berth.right + _DEEP_MM)
    return {
        "key": key,
        "name": unmade.name,
        "reason": for_page(unmade.reason),
        "box": [round(float(v), 1) for v in (x0, across[0], x1, across[1])],
    }


def _cut(plan: CradlePlan, piece: CradlePiece) -> dict[str, Any]:
    """Across the middle of a piece: its wood, and the instrument at rest in it."""
    x = piece.middle
    if piece.upright:
        wood = piece.shape
    else:
        line = shapely.LineString([(x, -1e4), (x, 1e4)]).intersection(piece.shape)
        _, y0, _, y1 = line.bounds
        wood = shapely.box(y0, piece.span[0], y1, piece.span[1])
    # behind the tail there is nothing to cut: what comes nearest is shown
    seen = plan.solid.slice_at(x if piece.key != "tail" else 1.0, plan.lift.mm)
    x0, y0, x1, y1 = piece.shape.bounds
    plan_box = (piece.span[0], x0, piece.span[1], x1) if piece.upright else (x0, y0, x1, y1)
    return {
        "key": _key(piece),
        "name": piece.name,
        "x": round(float(x), 2),
        "box": [round(float(v), 2) for v in plan_box],
        "wood": [_ring(p) for p in parts_of(wood)],
        "instrument": [_ring(p) for p in parts_of(seen)],
        "lining": round(piece.contact.lining.thickness, 2),
        "kind": piece.contact.lining.kind,
        "bears": piece.contact.bears,
    }


def _ring(shape: Any) -> list[list[float]]:
    return line_told(np.asarray(shape.simplify(0.05).exterior.coords)[:-1])


def _neck(solid: Solid, lift: float) -> dict[str, Any]:
    part = solid.part("neck")
    if not isinstance(part, Neck):
        why = solid.missing.get("neck", "the neck is not known")
        return {"reason": for_page(why), "at": [], "profiles": [], "sections": []}
    loft = part.loft
    low, high = loft.reach
    count = max(2, int(np.ceil((high - low) / _STEP_MM)) + 1)
    places = np.unique([*np.linspace(low, high, count), *(s.x for s in loft.sections)])
    profiles = []
    for x in places:
        up = float(loft.face.at(float(x))[0]) + lift
        profiles.append(line_told(loft.profile(float(x))[::2] + np.array([0.0, up])))
    sections = [
        {"name": s.name, "x": round(s.x, 2), "source": s.source, "detail": s.detail}
        for s in loft.sections
    ]
    at = [round(float(x), 3) for x in places]
    return {"reason": "", "at": at, "profiles": profiles, "sections": sections}
