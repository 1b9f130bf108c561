"""Measurements and findings as the plain values that the contract promises."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.findings import Finding, Level
from profiler.instrument.record import Measurement, Quantity, SideProfile
from profiler.plates.figures import in_inches, in_mm, rows
from profiler.web.wording import for_page

#: points of a thumbnail's line at most, and how far it may stray as a part of the length
_THUMB_STRAY = 0.002
_MARGIN = 0.04

PARTS_SAID = {
    "body": "soundboard's edge",
    "back": "back's edge",
    "neck": "fretboard's edge",
    "headstock": "headstock's face",
    "tuners": "middle of the tuner buttons",
    "button": "strap button",
    "side-button": "strap button on the side",
    "bridge": "bridge",
    "top": "thickest place",
}


def quantity(q: Quantity, inch_step: int = 64) -> dict[str, Any]:
    """A number with its uncertainty, and the words for both units."""
    return {
        "value": q.value,
        "u95": q.u95,
        "reason": for_page(q.reason),
        "mostly": q.mostly,
        "x": q.x,
        "mm": in_mm(q),
        "in": in_inches(q, inch_step),
    }


def number_rows(measurement: Measurement, inch_step: int = 64) -> list[dict[str, Any]]:
    """The numbers in the order in which they are printed, each with a key."""
    keys = ["length", "width", "height"]
    keys += [f"width:{name}" for name in measurement.widths]
    printed = rows(measurement)
    # between the widths and the box stands what a photo from the side gave
    keys += [f"side:{n}" for n in range(len(printed) - len(keys) - 2)]
    keys += ["box:long", "box:short"]
    return [
        {"key": key, "label": label, **quantity(q, inch_step)}
        for key, (label, q) in zip(keys, printed, strict=True)
    ]


SIDE_PARTS_SAID = {
    "rim": "rim",
    "over": "what stands above the rim",
    "strings": "strings",
    "neck": "neck",
    "head": "headstock",
    "tuners": "tuners",
    "button": "strap button",
    "bench": "back, where it rests",
}


def side_told(side: SideProfile | None, inch_step: int = 64) -> dict[str, Any] | None:
    """What the photo from the side showed; None without one."""
    if side is None:
        return None

    def column(z: NDArray[np.float64], u95: NDArray[np.float64], of: tuple[str, ...]) -> list[Any]:
        return [
            [round(float(x), 1), round(float(h), 2), round(float(u), 2), SIDE_PARTS_SAID.get(o, o)]
            for x, h, u, o in zip(side.x, z, u95, of, strict=True)
            if np.isfinite(h)
        ]

    return {
        "photo": side.photo,
        "thickest": quantity(side.thickest, inch_step),
        "from": float(side.x[0]) if len(side.x) else 0.0,
        "to": float(side.x[-1]) if len(side.x) else 0.0,
        "upper": column(side.upper, side.upper_u95, side.upper_of),
        "lower": column(side.lower, side.lower_u95, side.lower_of),
    }


def findings_told(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Remarks, worst first."""
    order = (Level.DOUBT, Level.CAUTION, Level.NOTE)
    return [
        {
            "code": f.code,
            "level": f.level.value,
            "message": for_page(f.message),
            "where": f.where,
        }
        for f in sorted(findings, key=lambda f: order.index(f.level))
    ]


def counts(findings: Iterable[Finding]) -> dict[str, int]:
    """How many of each level."""
    found = [f.level for f in findings]
    return {level.value: found.count(level) for level in (Level.DOUBT, Level.CAUTION, Level.NOTE)}


def measurement_told(
    measurement: Measurement, typed: Mapping[str, object], inch_step: int = 64
) -> dict[str, Any]:
    """Everything that the page shows beside the photo."""
    return {
        "rows": number_rows(measurement, inch_step),
        "findings": findings_told(measurement.findings),
        "heights": [
            {
                "part": h.part,
                "label": PARTS_SAID.get(h.part, h.part),
                **quantity(h.height, inch_step),
                "source": h.source,
                "typed": h.part in typed,
            }
            for h in measurement.heights
        ],
        "outline": line_told(measurement.outline),
        "u95": [round(float(u), 3) for u in measurement.outline_u95],
        "part": list(measurement.outline_part),
        "doubtful": [
            {"start": s.start, "end": s.end, "reason": s.reason} for s in measurement.doubtful
        ],
        "symmetric": measurement.symmetric,
        "side": side_told(measurement.side, inch_step),
    }


def line_told(points: NDArray[np.float64]) -> list[list[float]]:
    """Points to a hundredth of a mm."""
    return [[round(float(x), 2), round(float(y), 2)] for x, y in points]


def thumbnail_line(outline: NDArray[np.float64]) -> NDArray[np.float64]:
    """The outline with only as many points as a small picture needs, (K, 2) mm."""
    polygon = shapely.Polygon(outline)
    simple = polygon.simplify(_THUMB_STRAY * float(np.ptp(outline[:, 0])))
    return np.asarray(simple.exterior.coords)[:-1]


def thumbnail_svg(outline: NDArray[np.float64]) -> bytes:
    """A small drawing: the head to the right, grey on nothing, so that it suits light and dark."""
    line = thumbnail_line(outline)
    low, high = line.min(axis=0), line.max(axis=0)
    margin = _MARGIN * float((high - low).max())
    width, height = (high - low) + 2 * margin
    path = "M" + "L".join(f"{x - low[0] + margin:.1f} {high[1] - y + margin:.1f}" for x, y in line)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.1f} {height:.1f}">'
        f'<path d="{path}Z" fill="#8a94991f" stroke="#6d777c" stroke-width="{width / 160:.2f}"'
        ' stroke-linejoin="round"/></svg>'
    ).encode()
