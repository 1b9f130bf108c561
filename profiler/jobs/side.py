"""The part of `measurement.json` that a side view gives."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from profiler.instrument.record import Quantity, SideProfile, missing
from profiler.jobs.rendering import MM, quantity_record, rounded

Record = dict[str, Any]

#: numbers of a side view by their name in the record and in `SideProfile`
_NUMBERS = ("thickest", "rests_from", "rests_to", "rest", "tilt", "face", "button")
#: what they are called in the record where that says more
_CALLED = {"tilt": "headstock_tilt_deg", "face": "headstock_face"}
_WITH_X = ("thickest", "face", "button")


def side_record(side: SideProfile) -> Record:
    """As it stands in the record: one row a station, null where nothing was seen."""
    stations = []
    for i, x in enumerate(side.x):
        row: Record = {"x": rounded(float(x), MM)}
        for name, z, u95, of in (
            ("upper", side.upper, side.upper_u95, side.upper_of),
            ("lower", side.lower, side.lower_u95, side.lower_of),
        ):
            known = bool(np.isfinite(z[i]))
            row[name] = rounded(float(z[i]), MM) if known else None
            row[f"{name}_u95"] = rounded(float(u95[i]), MM) if known else None
            row[f"{name}_of"] = of[i] if known else ""
        stations.append(row)
    return {
        "photo": side.photo,
        **({"also": list(side.also)} if side.also else {}),
        **{
            _CALLED.get(name, name): quantity_record(getattr(side, name), with_x=name in _WITH_X)
            for name in _NUMBERS
        },
        "heights": stations,
    }


def side_photos(record: Mapping[str, Any]) -> tuple[str, ...]:
    """Names of the photos from the side in a `measurement.json`, as far as it is sound."""
    side = record.get("side_view")
    if not isinstance(side, dict):
        return ()
    also = side.get("also", [])
    names = [side.get("photo"), *(also if isinstance(also, list) else [])]
    return tuple(name for name in names if isinstance(name, str) and name)


def side_from_record(record: Mapping[str, Any] | None) -> SideProfile | None:
    """The side view of a `measurement.json`, None where it has none."""
    if record is None:
        return None

    def column(name: str) -> np.ndarray[Any, np.dtype[np.float64]]:
        values = [row[name] for row in record["heights"]]
        return np.array([np.nan if v is None else v for v in values], dtype=np.float64)

    def quantity(name: str) -> Quantity:
        # records of older jobs have no face
        older = {"value": None, "reason": "this job's side view was not asked for it"}
        q = record.get(_CALLED.get(name, name), older)
        if q["value"] is None:
            return missing(q.get("reason", ""))
        return Quantity(q["value"], q["u95"], mostly=q.get("mostly", ""), x=q.get("x"))

    rows = record["heights"]
    return SideProfile(
        record["photo"],
        column("x"),
        column("upper"),
        column("upper_u95"),
        column("lower"),
        column("lower_u95"),
        tuple(row["upper_of"] for row in rows),
        tuple(row["lower_of"] for row in rows),
        thickest=quantity("thickest"),
        rests_from=quantity("rests_from"),
        rests_to=quantity("rests_to"),
        rest=quantity("rest"),
        tilt=quantity("tilt"),
        face=quantity("face"),
        button=quantity("button"),
        also=tuple(record.get("also", ())),
    )
