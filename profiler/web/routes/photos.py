"""A job's photos and the records that lie beside them: taken, shown, taken away."""

from __future__ import annotations

import asyncio
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from profiler.jobs.beside import CARDS_NAME, MAT_NAME, UPRIGHT_NAME
from profiler.jobs.records import (
    CARDS_FORMAT,
    MAT_FORMAT,
    cards_from_record,
    design_from_record,
    record_bytes,
)
from profiler.web.answers import Refused, answered, fields_of, missing, revision_in, told
from profiler.web.bench import Bench
from profiler.web.desk import Desks
from profiler.web.folder import MOST_PHOTOS, JobState, put
from profiler.web.looks import Looks
from profiler.web.names import disposition, plain_line
from profiler.web.routes.at_desk import AtDesk
from profiler.web.shown import job_told
from profiler.web.uploads import MOST_BYTES, take_photo

TYPES = {".jpg": "image/jpeg", ".png": "image/png", ".tif": "image/tiff", ".heic": "image/heic"}


class PhotoRoutes(AtDesk):
    """Handlers round the bench."""

    def __init__(self, bench: Bench, desks: Desks, looks: Looks) -> None:
        super().__init__(bench, desks)
        self._looks = looks

    def routes(self) -> list[Route]:
        """All of them."""
        table: list[tuple[str, str, Any]] = [
            ("POST", "/api/jobs/{id}/photos", self.add),
            ("GET", "/api/jobs/{id}/photos/{photo}", self.photo),
            ("DELETE", "/api/jobs/{id}/photos/{photo}", self.drop),
            ("POST", "/api/jobs/{id}/records", self.add_record),
        ]
        return [Route(path, answered(run), methods=[method]) for method, path, run in table]

    async def add(self, request: Request) -> Response:
        desk = self.desk(request)
        said = plain_line(request.query_params.get("name", "")) or "photo"
        from_side = request.query_params.get("side", "") == "1"
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
            side = name if from_side else state.side
            return replace(state, photos=(*state.photos, (name, said)), side=side, problem=None)

        try:
            await desk.change(None, how)
        finally:
            draft.unlink(missing_ok=True)
        self._bench.hub.tell("jobs")
        self._looks.begin(desk, names[0])
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
        if path.is_symlink() or not path.is_file():  # a folder from elsewhere may hold links
            raise missing("This photo")
        return FileResponse(path, media_type=kind, headers=headers)

    async def drop(self, request: Request) -> Response:
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
            side = "" if state.side == name else state.side
            return replace(state, photos=rest, side=side, problem=None)

        await desk.change(revision, how)
        self._bench.hub.tell("jobs")
        return await self.told(desk)

    async def add_record(self, request: Request) -> Response:
        """A record of mat, cards or upright row, as it lies beside photos in a folder."""
        desk = self.desk(request)
        record = await fields_of(request)
        name, data = await asyncio.to_thread(_checked_record, record)

        def how(state: JobState) -> JobState:
            put(desk.place.path / name, data)
            for other in {MAT_NAME, CARDS_NAME, UPRIGHT_NAME} - {name}:
                source = self._bench.options.folder / other
                if not state.own_records and source.is_file():
                    # from now on the folder's records are its own: the others have to be there
                    put(desk.place.path / other, source.read_bytes())
            return replace(state, own_records=True, problem=None)

        await desk.change(None, how)
        for photo, _ in desk.place.state().photos:
            self._looks.again(desk, photo)
        return await self.told(desk, 201)


def _checked_record(record: dict[str, Any]) -> tuple[str, bytes]:
    """The name that a record has beside photos, and its bytes written anew.

    Raises:
        SceneError: it is a record, but a broken one.
        Refused: it is neither.
    """
    kind = record.get("format")
    if kind == MAT_FORMAT:
        upright = design_from_record(record)[0].upright
        return UPRIGHT_NAME if upright else MAT_NAME, record_bytes(record)
    if kind == CARDS_FORMAT:
        cards_from_record(record)
        return CARDS_NAME, record_bytes(record)
    raise Refused(
        422,
        "scene",
        "That is no record of a mat, of cards or of an upright row. They are written beside the"
        " PDF, as mat.json, cards.json and upright.json.",
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
