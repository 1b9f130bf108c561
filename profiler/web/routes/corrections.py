"""Corrections by hand: added, undone, redone, taken out."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from profiler.jobs.corrections import (
    MOST_CORRECTIONS,
    Correction,
    Corrections,
    correction_from_record,
)
from profiler.units import PARTS, parse_height_option
from profiler.web.answers import Refused, answered, fields_of, missing, revision_in, text_in
from profiler.web.desk import Desk
from profiler.web.folder import JobPlace
from profiler.web.picture import PhotoMap
from profiler.web.routes.at_desk import AtDesk

PLACES = ("at", "to", "path", "area")


class CorrectionRoutes(AtDesk):
    """Handlers round the bench."""

    def routes(self) -> list[Route]:
        """All of them."""
        base = "/api/jobs/{id}"
        table: list[tuple[str, Any]] = [
            (f"{base}/corrections", self.add),
            (f"{base}/corrections/{{n:int}}/remove", self.remove),
            (f"{base}/undo", self.undo),
            (f"{base}/redo", self.redo),
        ]
        return [Route(path, answered(run), methods=["POST"]) for path, run in table]

    async def add(self, request: Request) -> Response:
        fields = await fields_of(request)
        desk = self.desk(request)
        entry = fields.get("add")
        if not isinstance(entry, dict):
            raise Refused(422, "request", "The request adds no correction.")
        one, photo, sha256 = await asyncio.to_thread(self._read, desk.place, entry)

        def how(before: Corrections) -> Corrections:
            if len(before.done) >= MOST_CORRECTIONS:
                raise Refused(422, "request", "There are too many corrections. Undo some.")
            if not before.strokes and photo:
                before = replace(before, photo=photo, sha256=sha256)
            return replace(before, done=(*before.done, one), undone=())

        return await self._changed(desk, fields, how)

    async def undo(self, request: Request) -> Response:
        fields = await fields_of(request)

        def how(before: Corrections) -> Corrections:
            if not before.done:
                raise Refused(422, "request", "There is nothing to undo.")
            return replace(before, done=before.done[:-1], undone=(*before.undone, before.done[-1]))

        return await self._changed(self.desk(request), fields, how)

    async def redo(self, request: Request) -> Response:
        fields = await fields_of(request)

        def how(before: Corrections) -> Corrections:
            if not before.undone:
                raise Refused(422, "request", "There is nothing to redo.")
            return replace(
                before, done=(*before.done, before.undone[-1]), undone=before.undone[:-1]
            )

        return await self._changed(self.desk(request), fields, how)

    async def remove(self, request: Request) -> Response:
        fields = await fields_of(request)
        number = request.path_params["n"]

        def how(before: Corrections) -> Corrections:
            if not 0 <= number < len(before.done):
                raise missing("This correction")
            done = tuple(c for i, c in enumerate(before.done) if i != number)
            return replace(before, done=done, undone=())

        return await self._changed(self.desk(request), fields, how)

    async def _changed(
        self, desk: Desk, fields: dict[str, Any], how: Callable[[Corrections], Corrections]
    ) -> Response:
        await desk.correct(revision_in(fields), how)
        return await self.told(desk, 202)

    def _read(self, place: JobPlace, entry: dict[str, Any]) -> tuple[Correction, str, str]:
        """One correction as sent, its places brought back into the photo; that photo, its hash."""
        if entry.get("kind") == "height":
            return _height(entry, place.state().units), "", ""
        correction_from_record(entry)  # judged before anything is computed with it
        seen = place.bench_json("view.json") or {}
        try:
            photo_map = PhotoMap(seen["view"])
        except (KeyError, TypeError, ValueError):
            raise Refused(
                422, "request", "There is no measured photo to correct yet. Measure it first."
            ) from None
        record = dict(entry)
        for key in PLACES:
            if key in record:
                single = key in ("at", "to")
                points = np.array([record[key]] if single else record[key], dtype=np.float64)
                there = photo_map.to_photo(points).tolist()
                record[key] = there[0] if single else there
        made_in = str(seen.get("photo", "")), str(seen.get("sha256", ""))
        return (correction_from_record(record), *made_in)


def _height(entry: dict[str, Any], units: str) -> Correction:
    part = text_in(entry, "part", "") or ""
    if part not in PARTS:
        raise Refused(422, "request", f"A height is for one of {', '.join(PARTS)}.", option="part")
    text, doubt = text_in(entry, "height"), text_in(entry, "u95")
    if text is None:
        return correction_from_record({"kind": "height", "part": part, "mm": None})
    _, mm, u95 = parse_height_option(f"{part}={text}" + (f"±{doubt}" if doubt else ""), units)
    return correction_from_record({"kind": "height", "part": part, "mm": mm, "u95": u95})
