"""What a job knows of the instrument beyond its outline, and what was typed, to its solid."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from profiler.errors import RequestError
from profiler.findings import Finding, Level
from profiler.instrument.headstock import FacePlane, Headstock
from profiler.instrument.lofts import HeightLine
from profiler.instrument.neck import underside_at
from profiler.instrument.record import Measurement, Quantity
from profiler.instrument.sections import Section
from profiler.instrument.shaping import (
    HOUSING_MM,
    BodySides,
    HeadShape,
    build_solid,
    height_line,
    neck_ends,
)
from profiler.instrument.solid import Solid
from profiler.pipeline.casing.typed import Typed
from profiler.pipeline.cradling.readings import bulge_from, button_from, button_height
from profiler.units import optional_measured

#: a top that slopes more is arched under its card, and says nothing of its rim
STEEPEST = 0.09
#: 95 % of a height that was typed without its own: a rule on a bench, mm
TYPED_U95 = 0.5


def solid_from(typed: Typed, record: Mapping[str, Any], job: Path) -> tuple[Measurement, Solid]:
    """The job's instrument as a solid.

    Raises:
        RequestError: a typed size that makes no sense.
        MeasurementFileError: the job is damaged.
    """
    from profiler.jobs.reading import measurement_from_record
    from profiler.jobs.sections import face_planes, headstock_from_record, sections_from_record

    whole = dict(record)
    measurement = measurement_from_record(whole, job)
    planes = face_planes(whole)
    sections = list(sections_from_record(whole, job))
    neck = _typed_section(typed, measurement, planes)
    if neck is not None:
        sections = [neck]
    told: list[Finding] = []
    placed = (_placed(typed, s, underside_at(measurement, s.x), told) for s in sections)
    sections = [s for s in placed if s is not None]
    solid = build_solid(
        measurement,
        sections,
        head_shape(headstock_from_record(whole, job), typed),
        button_from(typed),
        body_sides(typed, measurement, planes),
        button_height(typed),
        _neck_slope(measurement, planes),
    )
    why = headstock_missing(headstock_from_record(whole, job))
    if "headstock" in solid.missing and why:
        solid.missing["headstock"] = why
    return measurement, replace(solid, findings=tuple(told))


def _typed_section(typed: Typed, m: Measurement, planes: tuple[FacePlane, ...]) -> Section | None:
    """A section from a trade word, for quick use."""
    from profiler.pipeline.section import place_on, section_by_word, sized, station

    depth = optional_measured(typed.text("neck_depth"), typed.units, "--neck-depth")
    at = typed.length("neck_at")
    if depth is None and at is None:
        if typed.text("neck_shape") is not None:
            raise RequestError("--neck-shape goes with --neck-at and --neck-depth.")
        return None
    width = optional_measured(typed.text("neck_width"), typed.units, "--neck-width")
    place = None if at is None else place_on(m, planes, station(m, at), "", width)
    if place is None or (depth is None and sized(place, None)[1] is None):
        raise RequestError(
            "A neck's section takes a place and a depth: give both --neck-at (from the tail) and"
            " --neck-depth (from the top of the fingerboard, with calipers)."
        )
    return section_by_word(place, typed.text("neck_shape") or "round", depth)


def _neck_slope(m: Measurement, planes: tuple[FacePlane, ...]) -> float | None:
    """Of the face along x as cards on the neck show it; None where none lay there."""
    join, nut = neck_ends(m)
    found = [p.slope for p in planes if join < p.x < nut]
    return float(np.mean(found)) if found else None


def _placed(typed: Typed, section: Section, seen: Quantity, told: list[Finding]) -> Section | None:
    """The section at its height: a rule from the bench to the neck's underside goes first; else a
    photo from the side where that knows it better than face and depth do.

    Args:
        seen: the underside there, from the side.
        told: what is to be said of it is added.
    """
    deep = -float(section.points[:, 1].min())
    low = optional_measured(typed.text("neck_height"), typed.units, "--neck-height")
    if low is None:
        face, depth = section.face_height, section.depth
        known = face.value is not None and depth.value is not None
        so_far = math.hypot(face.u95 or 0.0, depth.u95 or 0.0) if known else math.inf
        if seen.value is not None and (seen.u95 or 0.0) < so_far:
            told.append(
                Finding(
                    619,
                    Level.NOTE,
                    f"The underside of {section.name} is taken to be {seen.value:.1f} ±"
                    f" {seen.u95:.1f} mm above the bench, by {seen.mostly}. A rule there"
                    " (--neck-height) is surer.",
                    section.name,
                )
            )
            return replace(
                section,
                face_height=Quantity(seen.value + deep, seen.u95, mostly=seen.mostly),
            )
        # without its depth nobody knows how far below the face the curve lies
        return section if depth.value is not None else None
    at = typed.length("neck_at")
    if at is not None and abs(section.x - at) > 15.0:
        return replace(section, face_height=Quantity(None, None, "typed elsewhere"))
    u95 = TYPED_U95 if low[1] is None else low[1]
    return replace(section, face_height=Quantity(low[0] + deep, u95, mostly="the typed height"))


def head_shape(head: Headstock | None, typed: Typed) -> HeadShape | None:
    """The headstock, None where its tilt, thickness or height is not known."""
    if head is None or headstock_missing(head):
        return None
    low = _lowest(head)
    if head.tilt.value is None or head.thickness.value is None:
        assert low.value is not None
        return HeadShape(low.value, 0.0, 0.0, low.u95 or TYPED_U95, carved=True)
    assert low.value is not None and head.tilt.value is not None
    assert head.thickness.value is not None
    return HeadShape(
        low.value,
        head.tilt.value,
        head.thickness.value,
        low.u95 or TYPED_U95,
        typed.length("tuner_height"),
        typed.length_or("housing", HOUSING_MM),
        head.edge.value,
        head.edge.u95 or 0.0,
    )


def _lowest(head: Headstock) -> Quantity:
    """Of the wood, or of all that hangs below where that is known much better: the block guards,
    and a notch too deep does no harm."""
    wood, everything = head.lowest_wood, head.lowest
    if wood.value is None or everything.value is None:
        return everything if wood.value is None else wood
    unsure = (wood.u95 or 0.0) > 3 * (everything.u95 or TYPED_U95)
    return everything if unsure else wood


def headstock_missing(head: Headstock | None) -> str:
    """Why the headstock's solid is not known, '' where it is."""
    if head is None:
        return (
            "the headstock's tilt and thickness are not in the job: add them with 'profiler"
            " headstock JOB --thickness … --tilt … --lowest …'; a scroll takes its lowest point"
            " alone, scroll and pegs included: 'profiler headstock JOB --lowest …'"
        )
    if head.lowest.value is not None:
        return ""  # a yoke takes no more
    for what, quantity in (("tilt", head.tilt), ("thickness", head.thickness)):
        if quantity.value is None:
            return f"the headstock's {what} is not known: {quantity.reason}"
    if head.lowest_wood.value is None and head.lowest.value is None:
        return f"how low the headstock hangs is not known: {head.lowest_wood.reason}"
    return ""


def body_sides(typed: Typed, m: Measurement, planes: tuple[FacePlane, ...]) -> BodySides | None:
    """The side between its rims: typed, or as the job has it."""
    overhang, plate = typed.length_or("overhang", 0.0), typed.length_or("plate", 4.0)
    join = neck_ends(m)[0]
    text = typed.text("side")
    if text is not None and "=" in text:
        bulge = bulge_from(text, typed.units, join)
        return BodySides(bulge.low, bulge.high, bulge=bulge)
    pair = typed.pair("side")
    if pair is not None:
        if not pair[0] < pair[1]:
            raise RequestError("--side: the lower edge comes first, as 0x72mm.")
        low, high = (HeightLine(((join / 2, mm, TYPED_U95),)) for mm in pair)
        return BodySides(low, high, overhang, plate, straight=True)
    upper = height_line(m, "body")
    if upper is None:
        return None
    on_body = [p.slope for p in planes if 0 < p.x < join and abs(p.slope) < STEEPEST]
    lower = height_line(m, "back") or HeightLine(((join / 2, 0.0, 1.0),))
    if on_body and len(upper.places) == 1:
        x, z, u = upper.places[0]
        slope = float(np.mean(on_body))
        upper = HeightLine(tuple((v, z + slope * (v - x), u) for v in (0.0, join)))
    return BodySides(lower, upper, overhang, plate)
