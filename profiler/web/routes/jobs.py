"""Jobs: list, make, change, remove, measure."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from profiler.jobs.writing import write_atomically
from profiler.web.answers import (
    Refused,
    answered,
    fields_of,
    flag_in,
    missing,
    revision_in,
    text_in,
    told,
)
from profiler.web.bench import Bench
from profiler.web.desk import Desks, check_revision
from profiler.web.folder import JobPlace, JobState, has
from profiler.web.looks import Looks
from profiler.web.names import plain_line
from profiler.web.routes.at_desk import AtDesk
from profiler.web.sample import sample_files
from profiler.web.shown import job_told, short


class JobRoutes(AtDesk):
    """Handlers round the bench."""

    def __init__(self, bench: Bench, desks: Desks, looks: Looks) -> None:
        super().__init__(bench, desks)
        self._looks = looks

    def routes(self) -> list[Route]:
        """All of them."""
        table: list[tuple[str, str, Any]] = [
            ("GET", "/api/jobs", self.list),
            ("POST", "/api/jobs", self.make),
            ("POST", "/api/jobs/sample", self.sample),
            ("GET", "/api/jobs/{id}", self.show),
            ("PATCH", "/api/jobs/{id}", self.change),
            ("DELETE", "/api/jobs/{id}", self.remove),
            ("POST", "/api/jobs/{id}/measure", self.measure),
            ("POST", "/api/jobs/{id}/cancel", self.cancel),
        ]
        return [Route(path, answered(run), methods=[method]) for method, path, run in table]

    async def list(self, _request: Request) -> Response:
        def work() -> list[dict[str, Any]]:
            return [short(self._bench, self._desks, p) for p in self._bench.jobs.places()]

        return told({"jobs": await asyncio.to_thread(work)})

    async def make(self, request: Request) -> Response:
        fields = await fields_of(request)
        settings = self._bench.settings
        state = JobState(
            name=plain_line(text_in(fields, "name", "") or ""),
            customer=plain_line(text_in(fields, "customer", "") or ""),
            units=settings.units,
            inch_step=settings.inch_step,
        )
        place = await asyncio.to_thread(self._bench.jobs.new, state)
        self._bench.hub.tell("jobs")
        return await self.told(self._desks.desk(place.id), 201)

    async def sample(self, _request: Request) -> Response:
        settings = self._bench.settings
        photo, files = sample_files()
        state = JobState(
            name="Sample",
            units=settings.units,
            inch_step=settings.inch_step,
            sample=True,
            photos=((photo, photo),),
            own_records=True,
        )

        def work() -> JobPlace:
            place = self._bench.jobs.new(state)
            for name, data in files.items():
                write_atomically(place.path / name, data)
            return place

        place = await asyncio.to_thread(work)
        self._bench.hub.tell("jobs")
        desk = self._desks.desk(place.id)
        self._looks.begin(desk, photo)
        return await self.told(desk, 201)

    async def show(self, request: Request) -> Response:
        desk = self.desk(request)
        await desk.catch_up()
        job = await job_told(self._bench, self._desks, desk.place)
        for photo in job["photos"]:
            if photo["check"] is None:  # the server was ended before it had looked
                self._looks.begin(desk, photo["name"])
        return told(job)

    async def change(self, request: Request) -> Response:
        fields = await fields_of(request)
        revision = revision_in(fields)
        desk = self.desk(request)

        def how(state: JobState) -> JobState:
            units = text_in(fields, "units", state.units)
            if units not in ("mm", "in"):
                raise Refused(422, "request", "'units' is mm or in.", option="units")
            name, customer = (
                plain_line(text_in(fields, key, "") or "") if key in fields else before
                for key, before in (("name", state.name), ("customer", state.customer))
            )
            crop = flag_in(fields, "accept_crop", state.accept_crop)
            side = text_in(fields, "side", "") or "" if "side" in fields else state.side
            if side and not has(state, side):
                raise missing("This photo")
            changed = replace(
                state, name=name, customer=customer, units=units, accept_crop=crop, side=side
            )
            return changed if side == state.side else replace(changed, problem=None)

        before = (await asyncio.to_thread(desk.place.state)).side
        now = (await desk.change(revision, how)).side
        for photo in {before, now} - {""} if before != now else ():
            self._looks.again(desk, photo)
        self._bench.hub.tell("jobs")
        return await self.told(desk)

    async def remove(self, request: Request) -> Response:
        fields = await fields_of(request)
        revision = revision_in(fields)
        desk = self.desk(request)
        check_revision(await asyncio.to_thread(desk.place.state), revision)
        await desk.cancel()
        async with desk.lock:
            check_revision(await asyncio.to_thread(desk.place.state), revision)
            await asyncio.to_thread(self._bench.jobs.remove, desk.place)
        self._desks.forget(desk.place.id)
        self._bench.hub.tell("jobs")
        return Response(status_code=204)

    async def measure(self, request: Request) -> Response:
        fields = await fields_of(request)
        desk = self.desk(request)
        state = await asyncio.to_thread(desk.place.state)
        check_revision(state, revision_in(fields))
        if not desk.place.photo_paths(state):
            words = "There is no photo to measure. Add one first."
            if desk.place.side_path(state) is not None:
                words = "There is no photo from above yet. The one from the side adds to it."
            raise Refused(422, "request", words)
        desk.begin("measure")
        return await self.told(desk, 202)

    async def cancel(self, request: Request) -> Response:
        desk = self.desk(request)
        await desk.cancel()
        return await self.told(desk)
