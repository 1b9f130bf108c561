"""Neck and headstock: sections typed, put between two, or read in the photo of a contour gauge."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from profiler.instrument.neck import neck_span
from profiler.instrument.record import Measurement
from profiler.instrument.sections import Section
from profiler.instrument.shapes import SHAPES
from profiler.jobs.reading import Record, measurement_from_record, read_record
from profiler.jobs.sections import (
    HEADSTOCK,
    face_planes,
    headstock_from_record,
    sections_from_record,
    with_headstock,
    with_section,
    without_section,
)
from profiler.pipeline.headstock import headstock_typed
from profiler.pipeline.section import place_on, section_by_word, section_put_between, sized, station
from profiler.units import optional_length, optional_measured, parse_length
from profiler.web import shapehistory
from profiler.web.answers import Refused, answered, fields_of, revision_in, text_in, told
from profiler.web.bench import Bench
from profiler.web.desk import Desk, Desks, check_revision
from profiler.web.folder import JobPlace
from profiler.web.names import plain_line
from profiler.web.tasks.gauging import GaugeOrder
from profiler.web.told import findings_told, line_told, quantity
from profiler.web.uploads import MOST_BYTES, take_photo

TIPS = ("round", "flat", "sharp")
#: fields of a section that lies on the neck, and of a photo of it
PHOTO_FIELDS = (
    "revision", "at", "from", "name", "depth", "width", "face_height", "needle_height", "tips",
    "pitch", "seen_from", "kind", "flush", "units", "said",
)  # fmt: skip


class ShapeRoutes:
    """Handlers round the bench."""

    def __init__(self, bench: Bench, desks: Desks) -> None:
        self._bench = bench
        self._desks = desks

    def routes(self) -> list[Route]:
        """All of them."""
        base = "/api/jobs/{id}"
        table: list[tuple[str, str, Any]] = [
            ("GET", f"{base}/shape", self.shape),
            ("POST", f"{base}/sections", self.add),
            ("POST", f"{base}/sections/photo", self.add_photo),
            ("POST", f"{base}/sections/remove", self.remove),
            ("POST", f"{base}/headstock", self.headstock),
            ("POST", f"{base}/shape/undo", self.undo),
            ("POST", f"{base}/shape/redo", self.redo),
        ]
        return [Route(path, answered(run), methods=[method]) for method, path, run in table]

    async def shape(self, request: Request) -> Response:
        desk = self._desks.desk(request.path_params["id"])
        return told(await asyncio.to_thread(_shape, _measured(desk.place)))

    async def add(self, request: Request) -> Response:
        fields = await fields_of(request)
        desk = self._desks.desk(request.path_params["id"])
        _measured(desk.place)
        made = await asyncio.to_thread(_typed_section, desk.place, fields)
        return await self._put(desk, fields, made)

    async def add_photo(self, request: Request) -> Response:
        """The body is the photo; the rest stands in the query, as text."""
        fields = {n: request.query_params.get(n, "")[:200] for n in PHOTO_FIELDS}
        desk = self._desks.desk(request.path_params["id"])
        _measured(desk.place)
        try:
            fields["revision"] = int(fields["revision"])  # type: ignore[assignment]
        except ValueError:
            raise Refused(422, "request", "'revision' is the number of the job's state.") from None
        check_revision(await asyncio.to_thread(desk.place.state), revision_in(fields))
        said = plain_line(fields["said"]) or "photo"
        await asyncio.to_thread(self._bench.jobs.room_for, MOST_BYTES)
        draft, ending = await take_photo(request, desk.place.path, said)
        photo = desk.place.path / _free_name(desk.place.path, ending)
        os.rename(draft, photo)
        try:
            order = await asyncio.to_thread(_order, desk.place, photo, fields)
            before = await asyncio.to_thread(read_record, desk.place.path)

            def progress(words: str, share: float) -> None:
                self._bench.hub.tell("section", id=desk.place.id, words=words, share=share)

            made: Section = await self._bench.measuring.call(
                "profiler.web.tasks.gauging:from_photo", order, progress=progress
            )
            return await self._put(desk, fields, made, before)
        except BaseException:
            photo.unlink(missing_ok=True)
            raise

    async def remove(self, request: Request) -> Response:
        fields = await fields_of(request)
        name = text_in(fields, "name", "") or ""
        return await self._change(
            fields, request, f"“{name}” removed", lambda r: without_section(r, name)
        )

    async def headstock(self, request: Request) -> Response:
        fields = await fields_of(request)
        desk = self._desks.desk(request.path_params["id"])
        _measured(desk.place)
        state = await asyncio.to_thread(desk.place.state)
        units = _units(fields, state.units)
        texts = {n: text_in(fields, n) for n in ("tilt", "thickness", "lowest", "edge")}

        def change(record: Record) -> Record:
            head = headstock_typed(
                measurement_from_record(record), face_planes(record), units, **texts
            )
            return with_headstock(record, head, force=True)

        return await self._change(fields, request, "Headstock", change)

    async def undo(self, request: Request) -> Response:
        return await self._step(request, "undo")

    async def redo(self, request: Request) -> Response:
        return await self._step(request, "redo")

    async def _step(self, request: Request, way: str) -> Response:
        fields = await fields_of(request)
        desk = self._desks.desk(request.path_params["id"])
        return await self._locked(desk, fields, lambda: shapehistory.stepped(desk.place, way))

    async def _put(
        self,
        desk: Desk,
        fields: Mapping[str, Any],
        made: Section,
        before: Record | None = None,
    ) -> Response:
        return await self._locked(
            desk,
            fields,
            lambda: shapehistory.changed(
                desk.place, f"“{made.name}” added", lambda r: with_section(r, made, force=True)
            ),
            before,
        )

    async def _change(
        self,
        fields: Mapping[str, Any],
        request: Request,
        words: str,
        change: Callable[[Record], Record],
    ) -> Response:
        desk = self._desks.desk(request.path_params["id"])
        _measured(desk.place)
        return await self._locked(
            desk, fields, lambda: shapehistory.changed(desk.place, words, change)
        )

    async def _locked(
        self,
        desk: Desk,
        fields: Mapping[str, Any],
        work: Callable[[], None],
        before: Record | None = None,
    ) -> Response:
        """Change the measurement as long as nobody else was quicker; the shape as it is then.

        Args:
            before: the measurement that long work started from. Where that is still what the job
                holds, what else was changed meanwhile does not matter.
        """
        revision = revision_in(dict(fields))
        async with desk.lock:
            if before is None or before != await asyncio.to_thread(read_record, desk.place.path):
                check_revision(await asyncio.to_thread(desk.place.state), revision)
            await asyncio.to_thread(work)
            await desk.bump()
        return told(await asyncio.to_thread(_shape, desk.place))


def _measured(place: JobPlace) -> JobPlace:
    if not place.measured:
        raise Refused(422, "request", "This job is not measured yet.")
    return place


def _shape(place: JobPlace) -> dict[str, Any]:
    """What is known of neck and headstock, ready to show."""
    state = place.state()
    record = read_record(place.path)
    head = headstock_from_record(record)
    step = state.inch_step
    return {
        "revision": state.revision,
        "sections": [
            {
                "name": s.name,
                "x": round(s.x, 2),
                "source": s.source,
                "detail": s.detail,
                "width": quantity(s.width, step),
                "depth": quantity(s.depth, step),
                "face_height": quantity(s.face_height, step),
                "points": line_told(s.points[:: max(1, len(s.points) // 120)]),
                "findings": findings_told(s.findings),
            }
            for s in sections_from_record(record)
        ],
        "headstock": None
        if HEADSTOCK not in record or head is None
        else {
            "tilt": {"value": head.tilt.value, "u95": head.tilt.u95, "reason": head.tilt.reason},
            "thickness": quantity(head.thickness, step),
            "lowest_wood": quantity(head.lowest_wood, step),
            "lowest": quantity(head.lowest, step),
            "edge": quantity(head.edge, step),
        },
        "neck": _span(measurement_from_record(record)),
        "shapes": list(SHAPES),
        **shapehistory.words_of(place),
    }


def _span(measurement: Measurement) -> list[float] | None:
    from profiler.instrument.neck import NoNeck

    try:
        return [round(v, 1) for v in neck_span(measurement)]
    except NoNeck:
        return None


def _typed_section(place: JobPlace, fields: Mapping[str, Any]) -> Section:
    """From a word, or between two others where no word was said."""
    units = _units(fields, place.state().units)
    record = read_record(place.path)
    measurement = measurement_from_record(record)
    depth = optional_measured(text_in(fields, "depth"), units, "--depth")
    width = optional_measured(text_in(fields, "width"), units, "--width")
    on = place_on(
        measurement,
        face_planes(record),
        station(measurement, _at(fields, units), _from_nut(fields)),
        plain_line(text_in(fields, "name", "") or ""),
        width,
        optional_measured(text_in(fields, "face_height"), units, "--face-height"),
    )
    shape = text_in(fields, "shape")
    if shape is None:
        known = sections_from_record(record)
        return section_put_between(on, known, width is not None, depth)
    if depth is None and sized(on, None)[1] is None:
        raise Refused(
            422,
            "request",
            "A shape needs the neck's thickness there: measure it with calipers and type it.",
            option="depth",
        )
    side = optional_length(text_in(fields, "side"), units, "--side")
    apex = text_in(fields, "apex")
    sideways = 0.0 if apex is None else parse_length(apex, units, allow_negative=True)
    return section_by_word(on, shape, depth, side, sideways)


def _order(place: JobPlace, photo: Path, fields: Mapping[str, Any]) -> GaugeOrder:
    state = place.state()
    units = _units(fields, state.units)

    def sized(name: str) -> tuple[float, float | None] | None:
        return optional_measured(text_in(fields, name), units, "--" + name.replace("_", "-"))

    tips = text_in(fields, "tips", "round") or "round"
    if tips not in TIPS:
        raise Refused(422, "request", f"Tips are {', '.join(TIPS)}.", option="tips")
    kind = text_in(fields, "kind", "gauge")
    if kind not in ("gauge", "tracing"):
        raise Refused(422, "request", "'kind' is gauge or tracing.", option="kind")
    return GaugeOrder(
        place.path,
        photo,
        _at(fields, units),
        _from_nut(fields),
        plain_line(text_in(fields, "name", "") or ""),
        sized("width"),
        sized("face_height"),
        sized("depth"),
        sized("needle_height"),
        tips,
        optional_length(text_in(fields, "pitch"), units, "--pitch"),
        text_in(fields, "flush") == "true",
        kind == "gauge",
        text_in(fields, "seen_from") == "head",
        state.accept_crop,
    )


def _at(fields: Mapping[str, Any], units: str) -> str | float:
    text = text_in(fields, "at")
    if text is None:
        raise Refused(
            422, "request", "Where along the neck is that? Type the station.", option="at"
        )
    return text if text.strip()[:1].isalpha() else parse_length(text, units)


def _from_nut(fields: Mapping[str, Any]) -> bool:
    return text_in(fields, "from") == "nut"


def _units(fields: Mapping[str, Any], default: str) -> str:
    units = text_in(fields, "units", default) or "mm"
    if units not in ("mm", "in"):
        raise Refused(422, "request", "'units' is mm or in.", option="units")
    return units


def _free_name(folder: Path, ending: str) -> str:
    number = 1
    while any(folder.glob(f"gauge-{number}.*")):
        number += 1
    return f"gauge-{number}{ending}"
