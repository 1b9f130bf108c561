"""What was measured of a job, as the page draws and tells it."""

from __future__ import annotations

import asyncio
from typing import Any

from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from profiler.jobs.reading import MEASUREMENT_NAME, measurement_from_record, read_record
from profiler.jobs.sections import HEADSTOCK, SECTIONS
from profiler.web.answers import answered, missing, told
from profiler.web.desk import Desk, Desks
from profiler.web.names import with_names_said
from profiler.web.shown import job_url
from profiler.web.told import measurement_told, quantity, thumbnail_svg


class ResultRoutes:
    """Handlers round the desks."""

    def __init__(self, desks: Desks) -> None:
        self._desks = desks

    def routes(self) -> list[Route]:
        """All of them."""
        table: list[tuple[str, Any]] = [
            ("/api/jobs/{id}/measurement", self.measurement),
            ("/api/jobs/{id}/view", self.view),
            ("/api/jobs/{id}/view.jpg", self.picture),
            ("/api/jobs/{id}/thumbnail.svg", self.thumbnail),
        ]
        return [Route(path, answered(run), methods=["GET"]) for path, run in table]

    def desk(self, request: Request) -> Desk:
        """Of the job that the address names."""
        return self._desks.desk(request.path_params["id"])

    async def measurement(self, request: Request) -> Response:
        desk = self.desk(request)
        place = desk.place

        def work() -> dict[str, Any]:
            state = place.state()
            if not place.measured:
                raise missing("The measurement")
            record = desk.results.record()
            found = measurement_from_record(record, place.path / MEASUREMENT_NAME)
            typed = place.corrections().heights
            said = measurement_told(found, typed, state.inch_step)
            for finding in said["findings"]:
                finding["message"] = with_names_said(finding["message"], state.photos)
            said |= {SECTIONS: record.get(SECTIONS, []), HEADSTOCK: record.get(HEADSTOCK)}
            return {"revision": state.revision, **said}

        return told(await asyncio.to_thread(work))

    async def view(self, request: Request) -> Response:
        desk = self.desk(request)
        place = desk.place

        def work() -> dict[str, Any]:
            seen = desk.results.seen()
            if not isinstance(seen, dict) or "key" not in seen or "stations" not in seen:
                raise missing("The picture")
            state = place.state()
            key = seen.pop("key")
            seen.pop("view", None)
            base = f"{job_url(place.id)}/view.jpg?v={key}"
            if state.problem is not None:
                seen |= {"edge": None, "frame": None, "centreline": None, "stations": []}
                seen["marks"] = [m for m in seen.get("marks", []) if m.get("level") == "stop"]
            elif place.measured:
                widths = measurement_from_record(desk.results.record()).widths
                for station in seen["stations"]:
                    found = widths.get(station["key"].removeprefix("width:"))
                    if found is not None:
                        station |= quantity(found, state.inch_step)
            for mark in seen.get("marks", []):
                mark["message"] = with_names_said(str(mark["message"]), state.photos)
            return {
                "marks": [],
                "revision": state.revision,
                "image": base,
                "small": f"{base}&small=1",
                **seen,
            }

        return told(await asyncio.to_thread(work))

    async def picture(self, request: Request) -> Response:
        place = self.desk(request).place
        name = "view-small.jpg" if request.query_params.get("small") else "view.jpg"
        path = place.bench / name
        if not path.is_file():
            raise missing("The picture")
        headers = {"Cache-Control": "private, max-age=86400"}
        return FileResponse(path, media_type="image/jpeg", headers=headers)

    async def thumbnail(self, request: Request) -> Response:
        place = self.desk(request).place

        def work() -> bytes:
            if not place.measured:
                raise missing("The outline")
            return thumbnail_svg(measurement_from_record(read_record(place.path)).outline)

        return Response(
            await asyncio.to_thread(work),
            media_type="image/svg+xml",
            headers={"Cache-Control": "no-store", "Content-Security-Policy": "sandbox"},
        )
