"""Values as JSON: fixed rounding, fixed order, no -0.0, one line for a list of numbers."""

from __future__ import annotations

import json
from collections.abc import Sequence
from math import isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

from profiler.findings import Finding
from profiler.instrument.record import Quantity

Record = dict[str, Any]

#: decimals of mm in numbers
MM = 4
_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False)


def record_bytes(record: Record) -> bytes:
    """The record as JSON that a person can read: lists of numbers on one line each."""
    return (_text(record, "") + "\n").encode("utf-8", "replace")


def quantity_record(q: Quantity, with_x: bool = False) -> Record:
    """A number with its uncertainty or its reason."""
    out: Record = {}
    if with_x:
        out["x"] = rounded(q.x, MM)
    out["value"] = rounded(q.value, MM)
    out["u95"] = rounded(q.u95, MM)
    out["mostly"] = q.mostly
    out["reason"] = q.reason
    return out


def warning_record(finding: Finding) -> Record:
    """A remark."""
    return {
        "code": finding.code,
        "level": finding.level.value,
        "message": finding.message,
        "where": finding.where,
    }


def rounded(value: float | None, digits: int) -> float | None:
    """None where there is no number; never -0.0."""
    if value is None or not isfinite(value):
        return None
    return round(float(value), digits) + 0.0


def numbers(values: Sequence[float] | NDArray[np.float64], digits: int) -> list[float | None]:
    """Each rounded."""
    return [rounded(float(v), digits) for v in values]


def _text(value: Any, indent: str) -> str:
    deeper = indent + "  "
    if isinstance(value, dict) and value:
        rows = (f"{deeper}{json.dumps(k)}: {_text(v, deeper)}" for k, v in value.items())
        return "{\n" + ",\n".join(rows) + f"\n{indent}}}"
    if isinstance(value, list) and any(isinstance(v, (dict, list)) for v in value):
        return "[\n" + ",\n".join(deeper + _text(v, deeper) for v in value) + f"\n{indent}]"
    return _ENCODER.encode(value)
