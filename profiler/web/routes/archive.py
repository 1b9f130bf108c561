"""The archive: list, search by words and shape, keep, compare, print again, open."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from profiler.archive.container import rectangle_line
from profiler.archive.database import Archive, open_archive
from profiler.archive.entries import Details, InstrumentEntry
from profiler.archive.erase import finish_erasures
from profiler.archive.errors import ArchiveUnusable
from profiler.archive.find import (
    Wanted,
    find,
    measurement_bytes,
    measurement_of,
    number_of,
    revision_of,
)
from profiler.archive.intake import job_from_folder
from profiler.archive.keep import add_job, edit
from profiler.archive.search import Fitting, fitting, nearest, outline_of, serving
from profiler.archive.words import checked_date, file_name
from profiler.instrument.record import Measurement
from profiler.jobs.reading import (
    MEASUREMENT_NAME,
    measurement_from_record,
    notes_from_record,
    read_record,
)
from profiler.jobs.side import side_photos
from profiler.jobs.writing import write_atomically
from profiler.pipeline.comparison import Headings
from profiler.pipeline.wording import Wording
from profiler.plates.notes import Wishes
from profiler.units import optional_length
from profiler.web.answers import (
    Fields,
    Refused,
    answered,
    fields_of,
    flag_in,
    text_in,
    told,
    whole_in,
)
from profiler.web.bench import Bench
from profiler.web.desk import Desks
from profiler.web.folder import JobPlace, JobState
from profiler.web.handing import DOUBT_WORDS, PRINT_WORDS, made_told
from profiler.web.names import plain_line
from profiler.web.ordering import correction_for, paper_in
from profiler.web.shown import job_told
from profiler.web.tasks.drawing_values import Sheets
from profiler.web.told import line_told, measurement_told, thumbnail_line, thumbnail_svg

T = TypeVar("T")
Outline = NDArray[np.float64]

DETAILS = ("customer", "name", "maker", "kind", "notes")


class ArchiveRoutes:
    """Handlers round the bench."""

    def __init__(self, bench: Bench, desks: Desks) -> None:
        self._bench = bench
        self._desks = desks

    def routes(self) -> list[Route]:
        """All of them."""
        table: list[tuple[str, str, Any]] = [
            ("GET", "/api/archive", self.list),
            ("POST", "/api/archive", self.add),
            ("POST", "/api/archive/near", self.near),
            ("POST", "/api/archive/fits", self.fits),
            ("POST", "/api/archive/serves", self.serves),
            ("POST", "/api/archive/compare", self.compare),
            ("GET", "/api/archive/{number}", self.show),
            ("PATCH", "/api/archive/{number}", self.edit),
            ("GET", "/api/archive/{number}/thumbnail.svg", self.thumbnail),
            ("POST", "/api/archive/{number}/print", self.print),
            ("POST", "/api/archive/{number}/open", self.open),
        ]
        return [Route(path, answered(run), methods=[method]) for method, path, run in table]

    async def list(self, request: Request) -> Response:
        asked = {k: v[:500] for k, v in request.query_params.items()}
        limit = whole_in({"limit": _number(asked.get("limit", "50"))}, "limit", 50, 1, 500)
        wanted = Wanted(
            words=asked.get("words", ""),
            customer=asked.get("customer", ""),
            maker=asked.get("maker", ""),
            kind=asked.get("kind", ""),
            tag=asked.get("tag", ""),
            since=asked.get("since") or None,
            until=asked.get("until") or None,
        )

        def work() -> dict[str, Any]:
            try:
                with self._opened() as shelf:
                    found, count = find(shelf, wanted, limit)
                    return {"count": count, "entries": [_entry(shelf, i) for i in found]}
            except ArchiveUnusable:
                if self._there():
                    raise
                return {"count": 0, "entries": []}

        return told(await asyncio.to_thread(work))

    async def show(self, request: Request) -> Response:
        number = number_of(request.path_params["number"])

        def work() -> dict[str, Any]:
            with self._opened() as shelf:
                instrument, revision = revision_of(shelf, number)
                _, measurement = measurement_of(shelf, revision)
                said = measurement_told(measurement, {}, self._bench.settings.inch_step)
                files = [{"role": f.role, "name": f.name} for f in revision.files]
                return {
                    **_entry(shelf, instrument),
                    "shown": f"{instrument.id}.{revision.number}",
                    "files": files,
                    **said,
                }

        return told(await asyncio.to_thread(work))

    async def thumbnail(self, request: Request) -> Response:
        number = number_of(request.path_params["number"])

        def work() -> bytes:
            with self._opened() as shelf:
                _, revision = revision_of(shelf, number)
                return thumbnail_svg(outline_of(shelf, revision.id))

        return Response(
            await asyncio.to_thread(work),
            media_type="image/svg+xml",
            headers={"Cache-Control": "no-store", "Content-Security-Policy": "sandbox"},
        )

    async def add(self, request: Request) -> Response:
        fields = await fields_of(request)
        place = self._place(fields)
        photos = flag_in(fields, "photos", True)
        another = flag_in(fields, "another")
        revision_of_ = fields.get("revision_of")
        if revision_of_ is not None:
            revision_of_ = whole_in(fields, "revision_of", 1, 1, 999_999_999)
        if revision_of_ is not None and another:
            raise Refused(422, "request", "Either a revision or another instrument, not both.")
        details = _details(fields)

        def work() -> dict[str, Any]:
            read = job_from_folder(place.path, without_photos=not photos)
            with self._opened(make=revision_of_ is None) as shelf:
                kept = add_job(shelf, read, details, revision_of_, another)
            number = f"{kept.instrument}.{kept.revision}"
            return {"number": number, "known": kept.known, "messages": list(read.missing)}

        answer = await asyncio.to_thread(work)
        self._bench.hub.tell("archive")
        return told(answer, 201)

    async def edit(self, request: Request) -> Response:
        fields = await fields_of(request)
        number = number_of(request.path_params["number"])
        details = _details(fields)

        def work() -> dict[str, Any]:
            with self._opened() as shelf:
                edit(shelf, number.instrument, details, number.revision)
                return _entry(shelf, revision_of(shelf, number)[0])

        answer = await asyncio.to_thread(work)
        self._bench.hub.tell("archive")
        return told(answer)

    async def near(self, request: Request) -> Response:
        fields = await fields_of(request)
        mirrored = flag_in(fields, "mirrored")
        limit = whole_in(fields, "limit", 5, 1, 50)

        def work() -> dict[str, Any]:
            with self._opened() as shelf:
                outline, without = self._outline(shelf, fields)
                found = nearest(shelf, outline, limit, mirrored, without)
                return {
                    "found": [
                        {
                            **_entry(shelf, one.instrument, one.revision),
                            "largest": one.overlay.largest,
                            "mean": one.overlay.mean,
                            "mirrored": bool(one.overlay.lay.mirrored),
                        }
                        for one in found.found
                    ],
                    "left_open": found.open_,
                    "looked_at": found.looked_at,
                }

        return told(await asyncio.to_thread(work))

    async def fits(self, request: Request) -> Response:
        fields = await fields_of(request)
        units = text_in(fields, "units", self._bench.settings.units) or "mm"
        room = optional_length(text_in(fields, "clearance", "0mm"), units, "clearance") or 0.0
        limit = whole_in(fields, "limit", 10, 1, 50)
        inside = fields.get("inside")

        def work(shelf: Archive) -> Fitting:
            if isinstance(inside, dict):
                line = self._outline(shelf, inside)[0]
            else:
                line = rectangle_line(text_in(fields, "inside", "") or "", units)
            return fitting(shelf, line, room, limit)

        return told(await self._fitting(work))

    async def serves(self, request: Request) -> Response:
        fields = await fields_of(request)
        units = text_in(fields, "units", self._bench.settings.units) or "mm"
        cut = optional_length(text_in(fields, "clearance", "3mm"), units, "clearance") or 0.0
        least = optional_length(text_in(fields, "least", "1mm"), units, "least") or 0.0
        limit = whole_in(fields, "limit", 5, 1, 50)

        def work(shelf: Archive) -> Fitting:
            outline, without = self._outline(shelf, fields)
            return serving(shelf, outline, cut, least, limit, without)

        return told(await self._fitting(work))

    async def compare(self, request: Request) -> Response:
        fields = await fields_of(request)
        sides = [fields.get("before"), fields.get("now")]
        if not all(isinstance(side, dict) for side in sides):
            raise Refused(422, "request", "A comparison has a 'before' and a 'now'.")
        settings = self._bench.settings

        def work() -> list[tuple[str, str, str, Measurement]]:
            return [self._side(side) for side in sides if isinstance(side, dict)]

        (title, owner, then, first), (_, _, now, second) = await asyncio.to_thread(work)
        heads = Headings(title, owner, then, now)
        wording = Wording(title, owner, settings.units, settings.inch_step)
        sheets: Sheets = await self._bench.drawing.call(
            "profiler.web.tasks.drawing:comparison", first, second, heads, wording
        )
        return told(made_told(self._bench, sheets, []))

    async def print(self, request: Request) -> Response:
        fields = await fields_of(request)
        number = number_of(request.path_params["number"])
        settings = self._bench.settings
        units = text_in(fields, "units", settings.units) or "mm"
        room = optional_length(text_in(fields, "clearance", "0mm"), units, "clearance") or 0.0

        def work() -> tuple[InstrumentEntry, dict[str, Any], Measurement]:
            with self._opened() as shelf:
                instrument, revision = revision_of(shelf, number)
                return (instrument, *measurement_of(shelf, revision))

        instrument, record, measurement = await asyncio.to_thread(work)
        sheets: Sheets = await self._bench.drawing.call(
            "profiler.web.tasks.drawing:archived",
            measurement,
            record,
            Wishes(room, instrument.name, instrument.customer),
            Wording(instrument.name, instrument.customer, units, settings.inch_step),
            paper_in(fields),
            correction_for(self._bench, text_in(fields, "printer")),
        )
        messages = [PRINT_WORDS] + ([DOUBT_WORDS] if measurement.doubtful else [])
        return told(made_told(self._bench, sheets, messages))

    async def open(self, request: Request) -> Response:
        number = number_of(request.path_params["number"])
        settings = self._bench.settings

        def work() -> JobPlace:
            with self._opened() as shelf:
                instrument, revision = revision_of(shelf, number)
                with shelf.read() as connection:
                    raw = measurement_bytes(connection, revision)
                    files = {
                        file_name(f.name, f.role): shelf.files.get(connection, f.sha256)
                        for f in revision.files
                        if f.kept and f.role in ("photo", "mat", "cards", "lens")
                    }
                    photos = tuple(
                        (file_name(f.name, f.role), plain_line(f.name))
                        for f in revision.files
                        if f.kept and f.role == "photo"
                    )
            state = JobState(
                name=plain_line(instrument.name),
                customer=plain_line(instrument.customer),
                units=settings.units,
                inch_step=settings.inch_step,
                photos=photos,
                own_records=True,
                side=_side_of(raw, photos),
            )
            place = self._bench.jobs.new(state)
            for name, data in (*files.items(), (MEASUREMENT_NAME, raw)):
                if data is not None:
                    write_atomically(place.path / name, data)
            return place

        place = await asyncio.to_thread(work)
        self._bench.hub.tell("jobs")
        return told(await job_told(self._bench, self._desks, place), 201)

    @contextmanager
    def _opened(self, make: bool = False) -> Iterator[Archive]:
        with open_archive(self._bench.options.archive, make) as shelf:
            finish_erasures(shelf)
            yield shelf

    def _there(self) -> bool:
        folder = self._bench.options.archive.folder
        return folder is None or folder.exists()

    def _place(self, fields: Fields) -> JobPlace:
        place = self._desks.desk(text_in(fields, "job", "") or "").place
        if not place.measured:
            raise Refused(422, "request", "This job is not measured yet.")
        return place

    def _outline(self, shelf: Archive, asked: Fields) -> tuple[Outline, Sequence[int]]:
        """An outline, and the revisions of the same instrument, which are no answer."""
        if asked.get("job") is not None:
            record = read_record(self._place(asked).path)
            return measurement_from_record(record).outline, []
        number = number_of(text_in(asked, "number", "") or "")
        instrument, revision = revision_of(shelf, number)
        _, measurement = measurement_of(shelf, revision)
        return measurement.outline, [r.id for r in instrument.revisions]

    def _side(self, asked: Fields) -> tuple[str, str, str, Measurement]:
        if asked.get("job") is not None:
            place = self._place(asked)
            record = read_record(place.path)
            notes = notes_from_record(record)
            return notes.name, notes.customer, place.id, measurement_from_record(record)
        number = number_of(text_in(asked, "number", "") or "")
        with self._opened() as shelf:
            instrument, revision = revision_of(shelf, number)
            _, measurement = measurement_of(shelf, revision)
        when = f"{instrument.id}.{revision.number}, {revision.measured}"
        return instrument.name, instrument.customer, when, measurement

    async def _fitting(self, look: Callable[[Archive], Fitting]) -> dict[str, Any]:
        def work() -> dict[str, Any]:
            with self._opened() as shelf:
                found = look(shelf)
                return {
                    "found": [
                        {
                            **_entry(shelf, one.instrument, one.revision),
                            "room": one.fit.room,
                            "largest": one.largest,
                        }
                        for one in found.found
                    ],
                    "looked_at": found.looked_at,
                    "possible": found.possible,
                    "laid": found.laid,
                }

        return await asyncio.to_thread(work)


def _entry(
    shelf: Archive, instrument: InstrumentEntry, number: int | None = None
) -> dict[str, Any]:
    revision = instrument.revision(number) or instrument.latest
    name = f"{instrument.id}.{revision.number}"
    return {
        "number": name,
        "instrument": instrument.id,
        "name": instrument.name,
        "customer": instrument.customer,
        "maker": instrument.maker,
        "kind": instrument.kind,
        "tags": list(instrument.tags),
        "notes": instrument.notes,
        "measured": revision.measured,
        "length": revision.length,
        "width": revision.width,
        "height": revision.height,
        "revisions": [
            {"number": f"{instrument.id}.{r.number}", "measured": r.measured, "note": r.notes}
            for r in instrument.revisions
        ],
        "thumbnail": f"/api/archive/{name}/thumbnail.svg",
        "shape": line_told(thumbnail_line(outline_of(shelf, revision.id))),
    }


def _details(fields: Fields) -> Details:
    said = {key: text_in(fields, key) for key in DETAILS}
    if "customer" in fields and fields["customer"] == "":
        said["customer"] = ""
    date = text_in(fields, "date")
    if date is not None:
        checked_date(date)
    tags = fields.get("tags") or []
    if (
        not isinstance(tags, list)
        or len(tags) > 50
        or not all(isinstance(t, str) and 0 < len(t) < 200 for t in tags)
    ):
        raise Refused(422, "request", "'tags' is a list of words.", option="tags")
    return Details(
        said["customer"],
        said["name"],
        said["maker"],
        said["kind"],
        date,
        said["notes"],
        text_in(fields, "note"),
        tuple(tags),
    )


def _number(text: str) -> int:
    return int(text) if text.isdigit() and len(text) < 9 else -1


def _side_of(raw: bytes, photos: tuple[tuple[str, str], ...]) -> str:
    """Which of the photos the measurement names as the one from the side; '' for none."""
    said = side_photos(json.loads(raw))[:1]
    return next((name for name, of in photos if of in said), "")
