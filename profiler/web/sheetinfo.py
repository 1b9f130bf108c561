"""The records of printed mats and cards, as the page shows them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from profiler.errors import ProfilerError
from profiler.jobs.records import cards_from_record, design_from_record, load_record


def mat_told(path: Path) -> dict[str, Any] | None:
    """A mat's record; None where there is none, or it is no good."""
    try:
        record = load_record(path)
        design, _ = design_from_record(record)
    except (ProfilerError, OSError):
        return None
    return {
        "paper": design.paper.name,
        "sheets": design.count,
        "width": round(design.width, 1),
        "height": round(design.height, 1),
        "tint": design.tint,
        "bars": _bars(record),
    }


def cards_told(path: Path) -> dict[str, Any] | None:
    """The cards' record; None where there is none, or it is no good."""
    try:
        record = load_record(path)
        _, thickness = cards_from_record(record)
    except (ProfilerError, OSError):
        return None
    return {"thickness": thickness, "bars": _bars(record)}


def _bars(record: dict[str, Any]) -> dict[str, Any]:
    return {
        axis: {
            "nominal": record[f"bar_{axis}"].get("designed_mm"),
            "read": record[f"bar_{axis}"].get("read_mm"),
        }
        for axis in ("x", "y")
    }
