"""Jobs: list, make, photos, measure, results."""

from __future__ import annotations

import asyncio
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from profiler.jobs.beside import CARDS_NAME, MAT_NAME
from profiler.jobs.reading import MEASUREMENT_NAME, measurement_from_record, read_record
from profiler.jobs.records import (
    CARDS_FORMAT,
    MAT_FORMAT,
    cards_from_record,
    design_from_record,
)
from profiler.jobs.records import record_bytes as sheet_record_bytes
from profiler.jobs.results import record_bytes
from profiler.jobs.sections import HEADSTOCK, SECTIONS
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
from profiler.web.desk import Desk, Desks, check_revision
from profiler.web.folder import MOST_PHOTOS, JobPlace, JobState
from profiler.web.names import disposition, plain_line
from profiler.web.sample import sample_files
from profiler.web.shown import job_told, job_url, short
from profiler.web.told import measurement_told, quantity, thumbnail_svg
from profiler.web.uploads import MOST_BYTES, take_photo
from profiler.web.workers import TaskRefused

TYPES = {".jpg": "image/jpeg", ".png": "image/png", ".tif": "image/tiff", ".heic": "image/heic"}


class JobRoutes:
    """Handlers round the bench."""

    def __init__(self, bench: Bench, desks: Desks) -> None:
        self._bench = bench
        self._desks = desks
        self._checks: dict[tuple[str, str], asyncio.Task[None]] = {}

    def routes(self) -> list[Route]:
        """All of them."""
        table: list[tuple[str, str, Any]] = [
            ("GET", "/api/jobs", self.list),
            ("POST", "/api/jobs", self.make),
            ("POST", "/api/jobs/sample", self.sample),
            ("GET", "/api/jobs/{id}", self.show),
            ("PATCH", "/api/jobs/{id}", self.change),
            ("DELETE", "/api/jobs/{id}", self.remove),
            ("POST", "/api/jobs/{id}/photos", self.add_photo),
            ("GET", "/api/jobs/{id}/photos/{photo}", self.photo),
            ("DELETE", "/api/jobs/{id}/photos/{photo}", self.drop_photo),
            ("POST", "/api/jobs/{id}/records", self.add_record),
            ("POST", "/api/jobs/{id}/measure", self.measure),
            ("POST", "/api/jobs/{id}/cancel", self.cancel),
            ("GET", "/api/jobs/{id}/measurement", self.measurement),
            ("GET", "/api/jobs/{id}/view", self.view),
            ("GET", "/api/jobs/{id}/view.jpg", self.picture),
            ("GET", "/api/jobs/{id}/thumbnail.svg", self.thumbnail),
        ]
        return [Route(path, answered(run), methods=[method]) for method, path, run in table]

    def desk(self, request: Request) -> Desk:
        """Of the job that the address names."""
        return self._desks.desk(request.path_params["id"])

    async def told(self, desk: Desk, status: int = 200) -> Response:
        """The job as it is now."""
        return told(await job_told(self._bench, self._desks, desk.place), status)

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
        self._look_at(desk, photo)
        return await self.told(desk, 201)

    async def show(self, request: Request) -> Response:
        desk = self.desk(request)
        await desk.catch_up()
        job = await job_told(self._bench, self._desks, desk.place)
        for photo in job["photos"]:
            if photo["check"] is None:  # the server was ended before it had looked
                self._look_at(desk, photo["name"])
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
            return replace(state, name=name, customer=customer, units=units, accept_crop=crop)

        await desk.change(revision, how)
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

    async def add_photo(self, request: Request) -> Response:
        desk = self.desk(request)
        said = plain_line(request.query_params.get("name", "")) or "photo"
        await asyncio.to_thread(self._bench.jobs.room_for, MOST_BYTES)
        if len((await asyncio.to_thread(desk.place.state)).photos) >= MOST_PHOTOS:
            raise too_many()
        draft, ending = await take_photo(request, desk.place.path, said)
        names: list[str] = []

        def how(state: JobState) -> JobState:
            if len(state.photos) >= MOST_PHOTOS:
                raise too_many()
            name = _free_name(desk.place.path, ending)
            os.rename(draft, desk.place.path / name)
            names.append(name)
            return replace(state, photos=(*state.photos, (name, said)), problem=None)

        try:
            await desk.change(None, how)
        finally:
            draft.unlink(missing_ok=True)
        self._bench.hub.tell("jobs")
        self._look_at(desk, names[0])
        job = await job_told(self._bench, self._desks, desk.place)
        photo = next(p for p in job["photos"] if p["name"] == names[0])
        return told({**photo, "revision": job["revision"]}, 201)

    async def photo(self, request: Request) -> Response:
        desk = self.desk(request)
        name = _photo_of(desk.place.state(), request.path_params["photo"])
        headers = {"Cache-Control": "private, max-age=3600", "Content-Security-Policy": "sandbox"}
        if request.query_params.get("small"):
            path = desk.place.bench / f"{name}.small.jpg"
            kind = "image/jpeg"
        else:
            path = desk.place.path / name
            kind = TYPES.get(path.suffix.lower(), "application/octet-stream")
            headers["Content-Disposition"] = disposition(name, inline=True)
        if not path.is_file():
            raise missing("This photo")
        return FileResponse(path, media_type=kind, headers=headers)

    async def drop_photo(self, request: Request) -> Response:
        fields = await fields_of(request)
        desk = self.desk(request)
        revision = revision_in(fields)
        wanted = request.path_params["photo"]

        def how(state: JobState) -> JobState:
            name = _photo_of(state, wanted)
            (desk.place.path / name).unlink(missing_ok=True)
            for extra in desk.place.bench.glob(f"{name}.*"):
                extra.unlink(missing_ok=True)
            rest = tuple(p for p in state.photos if p[0] != name)
            return replace(state, photos=rest, problem=None)

        await desk.change(revision, how)
        self._bench.hub.tell("jobs")
        return await self.told(desk)

    async def add_record(self, request: Request) -> Response:
        """The mat's or the cards' own record, as it lies beside photos in a folder."""
        desk = self.desk(request)
        record = await fields_of(request)
        name, data = await asyncio.to_thread(_checked_record, record)

        def how(state: JobState) -> JobState:
            _put(desk.place.path / name, data)
            other = CARDS_NAME if name == MAT_NAME else MAT_NAME
            source = self._bench.options.folder / other
            if not state.own_records and source.is_file():
                # from now on the folder's records are its own: the other one has to be there
                _put(desk.place.path / other, source.read_bytes())
            return replace(state, own_records=True, problem=None)

        await desk.change(None, how)
        for photo, _ in desk.place.state().photos:
            (desk.place.bench / f"{photo}.check.json").unlink(missing_ok=True)
            self._look_at(desk, photo)
        return await self.told(desk, 201)

    async def measure(self, request: Request) -> Response:
        fields = await fields_of(request)
        desk = self.desk(request)
        state = await asyncio.to_thread(desk.place.state)
        check_revision(state, revision_in(fields))
        if not desk.place.photo_paths(state):
            raise Refused(422, "request", "There is no photo to measure. Add one first.")
        desk.begin("measure")
        return await self.told(desk, 202)

    async def cancel(self, request: Request) -> Response:
        desk = self.desk(request)
        await desk.cancel()
        return await self.told(desk)

    async def measurement(self, request: Request) -> Response:
        desk = self.desk(request)
        place = desk.place

        def work() -> dict[str, Any]:
            state = place.state()
            if not place.measured:
                raise missing("The measurement")
            record = desk.record()
            found = measurement_from_record(record, place.path / MEASUREMENT_NAME)
            typed = place.corrections().heights
            said = measurement_told(found, typed, state.inch_step)
            said |= {SECTIONS: record.get(SECTIONS, []), HEADSTOCK: record.get(HEADSTOCK)}
            return {"revision": state.revision, **said}

        return told(await asyncio.to_thread(work))

    async def view(self, request: Request) -> Response:
        desk = self.desk(request)
        place = desk.place

        def work() -> dict[str, Any]:
            seen = desk.seen()
            if not isinstance(seen, dict):
                raise missing("The picture")
            state = place.state()
            key = seen.pop("key")
            seen.pop("view", None)
            base = f"{job_url(place.id)}/view.jpg?v={key}"
            if state.problem is not None:
                seen |= {"edge": None, "frame": None, "centreline": None, "stations": []}
                seen["marks"] = [m for m in seen.get("marks", []) if m.get("level") == "stop"]
            elif place.measured:
                widths = measurement_from_record(desk.record()).widths
                for station in seen["stations"]:
                    found = widths.get(station["key"].removeprefix("width:"))
                    if found is not None:
                        station |= quantity(found, state.inch_step)
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

    def _look_at(self, desk: Desk, name: str) -> None:
        """Check a photo behind, and tell when it is done."""
        key = (desk.place.id, name)
        if key in self._checks:
            return
        self._checks[key] = task = asyncio.create_task(self._check(desk, name))
        task.add_done_callback(lambda _task: self._checks.pop(key, None))

    async def _check(self, desk: Desk, name: str) -> None:
        place, hub = desk.place, self._bench.hub
        path = place.path / name
        try:
            state = await asyncio.to_thread(place.state)
            await asyncio.to_thread(desk.lay_records, state)
            small = await self._bench.drawing.call(
                "profiler.web.tasks.checking:small_copy", path, longest_s=60.0
            )
            if small is not None:
                await asyncio.to_thread(_put, place.bench_file(f"{name}.small.jpg"), small)
                hub.tell("photo", id=place.id, photo=name)
            found = await self._bench.measuring.call(
                "profiler.web.tasks.checking:check", path, state.accept_crop, longest_s=90.0
            )
        except (TaskRefused, RuntimeError) as error:
            message = error.message if isinstance(error, TaskRefused) else "It cannot be opened."
            point = {"what": "photo", "ok": False, "weight": "stop", "message": message}
            found = {"ok": False, "points": [point], "hints": {}}
        if path.is_file():
            data = record_bytes(found)
            await asyncio.to_thread(_put, place.bench_file(f"{name}.check.json"), data)
        hub.tell("photo", id=place.id, photo=name)


def _put(path: Path, data: bytes) -> None:
    write_atomically(path, data, overwrite=True)


def _checked_record(record: dict[str, Any]) -> tuple[str, bytes]:
    """The name that a record has beside photos, and its bytes written anew.

    Raises:
        SceneError: it is a record, but a broken one.
        Refused: it is neither.
    """
    kind = record.get("format")
    if kind == MAT_FORMAT:
        design_from_record(record)
        return MAT_NAME, sheet_record_bytes(record)
    if kind == CARDS_FORMAT:
        cards_from_record(record)
        return CARDS_NAME, sheet_record_bytes(record)
    raise Refused(
        422,
        "scene",
        "That is neither the record of a mat nor of cards. They are written beside the PDF, as"
        " mat.json and cards.json.",
    )


def _photo_of(state: JobState, wanted: str) -> str:
    for name, _ in state.photos:
        if name == wanted:
            return name
    raise missing("This photo")


def _free_name(folder: Path, ending: str) -> str:
    number = 1
    while any(folder.glob(f"photo-{number}.*")):
        number += 1
    return f"photo-{number}{ending}"


def too_many() -> Refused:
    """More photos than a job takes."""
    return Refused(422, "request", f"A job has at most {MOST_PHOTOS} photos.")
