"""Sheets to print: template, case, mat, cards; and looking at any page before it is printed."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from profiler.drawing.tiling import Correction
from profiler.instrument.record import Measurement
from profiler.jobs.beside import CARDS_NAME, MAT_NAME
from profiler.jobs.caseplan import left_over
from profiler.jobs.cradleplan import CRADLE_NAME
from profiler.jobs.cradleplan import FORMAT as CRADLE_FORMAT
from profiler.jobs.printers import printer_named
from profiler.jobs.reading import measurement_from_record, read_record
from profiler.jobs.records import (
    cards_from_record,
    cards_record,
    design_from_record,
    load_record,
    mat_record,
    record_bytes,
)
from profiler.jobs.writing import write_atomically, write_together
from profiler.paper import PAPERS
from profiler.pipeline.case import Labels
from profiler.pipeline.sheets import CARD_PAPERS
from profiler.plates.notes import Wishes
from profiler.units import optional_length, parse_length
from profiler.web import cradleoptions
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
from profiler.web.casefields import read_options
from profiler.web.caseoptions import GROUPS, OPTIONS, Option, options_told
from profiler.web.desk import Desk, Desks, check_revision
from profiler.web.folder import KINDS
from profiler.web.made import pages_told
from profiler.web.names import disposition
from profiler.web.sheetinfo import cards_told, mat_told
from profiler.web.shown import job_url
from profiler.web.tasks.drawing_values import Sheets
from profiler.web.told import findings_told
from profiler.web.workers import TaskRefused

DRAW, CRADLING = "profiler.web.tasks.drawing", "profiler.web.tasks.cradling"
TYPES = {
    "pdf": "application/pdf",
    "svg": "image/svg+xml",
    "dxf": "image/vnd.dxf",
    "json": "application/json",
    "csv": "text/csv; charset=utf-8",
    "jpg": "image/jpeg",
}
PRINT_WORDS = "Print at 100 % ('actual size') and lay a steel rule on the check bars."
DOUBT_WORDS = (
    "Part of the outline is in doubt (dashed on paper): hold the template against the instrument"
    " before you cut."
)
CASE_FOLDER, CRADLE_FOLDER = "case", "cradle"
#: what is named as the cure, and the wishes that it may be the cure for
CONFLICTS = {
    "above": ("latch", "hinge", "lid", "edge", "finger", "board_width"),
    "clearance": ("compartments", "compartment_length", "compartment_width"),
    "sheet": ("sheet",),
}


def file_answer(data: bytes, name: str, inline: bool) -> Response:
    """A file, to keep or to look at; nothing in it is ever run."""
    kind = KINDS.get(Path(name).suffix.lower(), "")
    # a browser's own viewer shows no PDF that is in a sandbox; nothing of ours runs in one
    policy = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"
    if kind != "pdf":
        policy = f"sandbox; {policy}"
    return Response(
        data,
        media_type=TYPES.get(kind, "application/octet-stream"),
        headers={
            "Content-Disposition": disposition(Path(name).name, inline),
            "Cache-Control": "no-store",
            "Content-Security-Policy": policy,
        },
    )


def made_told(bench: Bench, sheets: Sheets, messages: list[str]) -> dict[str, Any]:
    """What was drawn, kept for looking at."""
    token = bench.made.put(sheets)
    base = f"/api/made/{token}"
    return {
        "token": token,
        "files": [
            {
                "name": name,
                "bytes": len(data),
                "kind": KINDS.get(Path(name).suffix.lower(), ""),
                "url": f"{base}/{quote(name)}",
            }
            for name, data in sheets.files.items()
        ],
        "pages": pages_told(sheets.pages, base),
        "messages": messages,
        "findings": findings_told(sheets.findings),
        **sheets.more,
    }


def correction_for(bench: Bench, name: str | None) -> Correction | None:
    """What a printer needs; None for no printer.

    Raises:
        RequestError: there is none of that name.
    """
    return None if name is None else printer_named(name, bench.printers_file).correction


def paper_in(fields: dict[str, Any], default: str | None = None) -> str | None:
    """A paper's name as it is written.

    Raises:
        Refused: there is no such paper.
    """
    text = text_in(fields, "paper", default)
    if text is None:
        return None
    for name in PAPERS:
        if name.lower() == text.strip().lower():
            return name
    raise Refused(422, "request", f"Papers are {', '.join(PAPERS)}.", option="paper")


class SheetRoutes:
    """Handlers round the bench."""

    def __init__(self, bench: Bench, desks: Desks) -> None:
        self._bench = bench
        self._desks = desks

    def routes(self) -> list[Route]:
        """All of them."""
        table: list[tuple[str, str, Any]] = [
            ("POST", "/api/jobs/{id}/template", self.template),
            ("GET", "/api/case/options", self.options),
            ("POST", "/api/jobs/{id}/case", self.case),
            ("GET", "/api/cradle/options", self.cradle_options),
            ("POST", "/api/jobs/{id}/cradle", self.cradle),
            ("GET", "/api/jobs/{id}/files/{path:path}", self.job_file),
            ("GET", "/api/jobs/{id}/pages/{path:path}", self.job_pages),
            ("GET", "/api/jobs/{id}/page/{path:path}/{n:int}.png", self.job_page),
            ("GET", "/api/made/{token}/{name}", self.made_file),
            ("GET", "/api/made/{token}/{name}/{n:int}.png", self.made_page),
            ("POST", "/api/mat", self.mat),
            ("POST", "/api/mat/bars", self.mat_bars),
            ("POST", "/api/cards", self.cards),
            ("POST", "/api/cards/bars", self.cards_bars),
            ("GET", "/api/{kind:str}/files/{name}", self.own_file),
            ("GET", "/api/{kind:str}/pages", self.own_pages),
            ("GET", "/api/{kind:str}/page/{n:int}.png", self.own_page),
        ]
        return [Route(path, answered(run), methods=[method]) for method, path, run in table]

    async def template(self, request: Request) -> Response:
        fields = await fields_of(request)
        desk = self._desks.desk(request.path_params["id"])
        state = await asyncio.to_thread(desk.place.state)
        units = text_in(fields, "units", state.units) or "mm"
        room = optional_length(text_in(fields, "clearance", "0mm"), units, "clearance") or 0.0
        measurement = await self._measured(desk)
        sheets: Sheets = await self._draw(
            "template",
            measurement,
            Wishes(room, state.name, state.customer),
            paper_in(fields),
            correction_for(self._bench, text_in(fields, "printer")),
        )
        await self._keep(desk, fields, sheets, "")
        messages = [PRINT_WORDS] + ([DOUBT_WORDS] if measurement.doubtful else [])
        return told(made_told(self._bench, sheets, messages))

    async def options(self, _request: Request) -> Response:
        return told({"groups": options_told(GROUPS)})

    async def cradle_options(self, _request: Request) -> Response:
        return told({"groups": options_told(cradleoptions.GROUPS)})

    async def cradle(self, request: Request) -> Response:
        fields = await fields_of(request)
        desk = self._desks.desk(request.path_params["id"])
        state = await asyncio.to_thread(desk.place.state)
        units = _units(fields, state.units)
        known = cradleoptions.OPTIONS
        options = read_options(fields.get("options") or {}, known, "cradle")
        labels = Labels(state.name, state.customer, units, state.inch_step)
        paper = paper_in(fields, "Letter" if units == "in" else "A4") or "A4"
        await self._measured(desk)
        correction = correction_for(self._bench, text_in(fields, "printer"))
        whole = flag_in(fields, "drawings", True)
        try:
            if whole:
                sheets: Sheets = await self._bench.drawing.call(
                    f"{CRADLING}:sheets", desk.place.path, options, labels, paper, correction
                )
            else:
                fit = flag_in(fields, "fit", False)
                sheets = await self._bench.drawing.call(
                    f"{CRADLING}:plan", desk.place.path, options, labels, fit
                )
        except TaskRefused as refused:
            raise _with_option(refused, known) from None
        if whole:
            await self._keep(desk, fields, sheets, CRADLE_FOLDER)
        cautions = [PRINT_WORDS, *sheets.more.get("cautions", ())] if whole else []
        return told(_with_drawings(made_told(self._bench, sheets, cautions)))

    async def case(self, request: Request) -> Response:
        fields = await fields_of(request)
        desk = self._desks.desk(request.path_params["id"])
        state = await asyncio.to_thread(desk.place.state)
        units = _units(fields, state.units)
        options = read_options(fields.get("options") or {})
        labels = Labels(state.name, state.customer, units, state.inch_step)
        paper = paper_in(fields, "Letter" if units == "in" else "A4") or "A4"
        measurement = await self._measured(desk)
        task = "case" if flag_in(fields, "drawings", True) else "case_plan"
        try:
            sheets: Sheets = await self._draw(
                task, measurement, options, labels, paper, desk.place.path
            )
        except TaskRefused as refused:
            said = _with_option(refused, OPTIONS)
            said.more |= await self._nearest(
                said, measurement, options, labels, paper, desk.place.path
            )
            raise said from None
        if task == "case":
            await self._keep(desk, fields, sheets, CASE_FOLDER)
        return told(_with_drawings(made_told(self._bench, sheets, [])))

    async def _nearest(
        self,
        refused: Refused,
        measurement: Measurement,
        options: Mapping[str, Any],
        labels: Labels,
        paper: str,
        job: Path,
    ) -> dict[str, Any]:
        """The plan without the wish that cannot be, so that the page can show where it fails."""
        wishes = CONFLICTS.get(str(refused.more.get("option")), ())
        for wish in (str(refused.more.get("option")), *wishes):
            if wish not in options:
                continue
            rest = {name: value for name, value in options.items() if name != wish}
            try:
                sheets: Sheets = await self._draw(
                    "case_plan", measurement, rest, labels, paper, job
                )
            except TaskRefused:
                continue
            return {"option": wish, "without": wish, "plan": sheets.more["plan"]}
        return {}

    async def job_file(self, request: Request) -> Response:
        data, name = await asyncio.to_thread(self._job_bytes, request)
        return file_answer(data, name, bool(request.query_params.get("inline")))

    async def job_pages(self, request: Request) -> Response:
        data, name = await asyncio.to_thread(self._job_bytes, request)
        base = f"{job_url(request.path_params['id'])}/page"
        return told({"pages": pages_told(await self._pages(data, name), base)})

    async def job_page(self, request: Request) -> Response:
        data, _ = await asyncio.to_thread(self._job_bytes, request)
        return await self._page(request, data)

    async def made_file(self, request: Request) -> Response:
        name = request.path_params["name"]
        data = self._bench.made.file(request.path_params["token"], name)
        return file_answer(data, name, bool(request.query_params.get("inline")))

    async def made_page(self, request: Request) -> Response:
        name = request.path_params["name"]
        return await self._page(request, self._bench.made.file(request.path_params["token"], name))

    async def mat(self, request: Request) -> Response:
        fields = await fields_of(request)
        units = text_in(fields, "units", self._bench.settings.units) or "mm"
        roll, width, height = (
            optional_length(text_in(fields, name), units, name)
            for name in ("roll_width", "width", "height")
        )
        paper = text_in(fields, "paper", "A4") or "A4"
        tint = text_in(fields, "tint", "blue") or "blue"
        sheets: Sheets = await self._draw("mat", paper, roll, width, height, tint)
        await self._keep_own(fields, sheets, "mat")
        return told(made_told(self._bench, sheets, []))

    async def cards(self, request: Request) -> Response:
        fields = await fields_of(request)
        units = text_in(fields, "units", self._bench.settings.units) or "mm"
        thickness = optional_length(text_in(fields, "thickness"), units, "thickness")
        paper = paper_in(fields, "A4") or "A4"
        if paper not in CARD_PAPERS:
            said = " or ".join(CARD_PAPERS)
            raise Refused(422, "request", f"Cards are printed on {said}.", option="paper")
        sheets: Sheets = await self._draw("cards", paper, thickness)
        await self._keep_own(fields, sheets, "cards")
        return told(made_told(self._bench, sheets, []))

    async def mat_bars(self, request: Request) -> Response:
        read = await self._readings(request)
        path = self._bench.options.folder / MAT_NAME

        def work() -> dict[str, Any] | None:
            if not path.is_file():
                raise missing("The bench's mat")
            design, _ = design_from_record(load_record(path))
            data = record_bytes(mat_record(design, *read))
            write_atomically(path, data, overwrite=True)
            return mat_told(path)

        found = await asyncio.to_thread(work)
        self._bench.hub.tell("mat")
        return told(found)

    async def cards_bars(self, request: Request) -> Response:
        read = await self._readings(request)
        path = self._bench.options.folder / CARDS_NAME

        def work() -> dict[str, Any] | None:
            if not path.is_file():
                raise missing("The bench's cards")
            _, thickness = cards_from_record(load_record(path))
            data = record_bytes(cards_record(*read, thickness))
            write_atomically(path, data, overwrite=True)
            return cards_told(path)

        found = await asyncio.to_thread(work)
        self._bench.hub.tell("cards")
        return told(found)

    async def own_file(self, request: Request) -> Response:
        kind, name = request.path_params["kind"], request.path_params["name"]
        if kind not in ("mat", "cards") or name not in (f"{kind}.pdf", f"{kind}.json"):
            raise missing("This file")
        data = await asyncio.to_thread(self._bench.own_file, name)
        return file_answer(data, name, bool(request.query_params.get("inline")))

    async def own_pages(self, request: Request) -> Response:
        name = _own(request)
        pages = await self._pages(await asyncio.to_thread(self._bench.own_file, name), name)
        kind = request.path_params["kind"]
        told_pages = pages_told(pages, "")
        for page in told_pages:
            page["url"] = f"/api/{kind}/page/{page['number']}.png"
        return told({"pages": told_pages})

    async def own_page(self, request: Request) -> Response:
        return await self._page(
            request, await asyncio.to_thread(self._bench.own_file, _own(request))
        )

    async def _readings(self, request: Request) -> tuple[float, float]:
        fields = await fields_of(request)
        units = text_in(fields, "units", self._bench.settings.units) or "mm"
        read = []
        for name in ("x", "y"):
            text = text_in(fields, name)
            if text is None:
                raise Refused(422, "request", "Both bars belong together: read both.", option=name)
            read.append(parse_length(text, units))
        return read[0], read[1]

    async def _measured(self, desk: Desk) -> Measurement:
        def work() -> Measurement:
            if not desk.place.measured:
                raise Refused(422, "request", "This job is not measured yet.")
            return measurement_from_record(read_record(desk.place.path))

        return await asyncio.to_thread(work)

    async def _draw(self, task: str, *args: Any) -> Any:
        return await self._bench.drawing.call(f"{DRAW}:{task}", *args)

    async def _pages(self, data: bytes, name: str) -> list[tuple[str, int, float, float]]:
        if not name.endswith(".pdf"):
            raise missing("Pages of this file")
        sizes = await self._bench.drawing.call("profiler.web.tasks.pages:sizes", data)
        return [(name, number, *size) for number, size in enumerate(sizes, start=1)]

    async def _page(self, request: Request, data: bytes) -> Response:
        asked = request.query_params.get("width", "900")
        width = int(asked) if asked.isdigit() and len(asked) < 6 else 0
        if not 100 <= width <= 3000:
            raise Refused(422, "request", "A page's picture is 100 to 3000 px wide.")
        number = request.path_params["n"]
        picture = await self._bench.drawing.call(
            "profiler.web.tasks.pages:picture", data, number, width, longest_s=60.0
        )
        headers = {"Cache-Control": "private, max-age=600"}
        return Response(picture, media_type="image/png", headers=headers)

    def _job_bytes(self, request: Request) -> tuple[bytes, str]:
        place = self._desks.desk(request.path_params["id"]).place
        wanted = request.path_params["path"]
        # what is asked for is compared with what there is; no path is made of it
        for name, path in place.files():
            if name == wanted:
                return path.read_bytes(), name
        raise missing("This file")

    async def _keep(self, desk: Desk, fields: dict[str, Any], sheets: Sheets, folder: str) -> None:
        if not flag_in(fields, "keep"):
            return
        revision = revision_in(fields)

        def work() -> None:
            check_revision(desk.place.state(), revision)
            target = desk.place.path / folder if folder else desk.place.path
            stale = _left_over(target, sheets.files, folder)
            write_together(target, sheets.files, overwrite=True)
            for path in stale:
                path.unlink(missing_ok=True)

        async with desk.lock:
            await asyncio.to_thread(work)
        self._bench.hub.tell("job", id=desk.place.id)

    async def _keep_own(self, fields: dict[str, Any], sheets: Sheets, kind: str) -> None:
        if not flag_in(fields, "keep"):
            return
        folder = self._bench.options.folder
        await asyncio.to_thread(write_together, folder, sheets.files, True)
        self._bench.hub.tell(kind)


def _left_over(target: Path, files: Mapping[str, bytes], folder: str) -> list[Path]:
    """What an earlier plan wrote there and this one does not."""
    if not target.is_dir():
        return []
    if folder == CRADLE_FOLDER:
        return left_over(target, files, CRADLE_NAME, CRADLE_FORMAT)
    return left_over(target, files) if folder == CASE_FOLDER else []


def _own(request: Request) -> str:
    kind = request.path_params["kind"]
    if kind not in ("mat", "cards"):
        raise missing("This")
    return f"{kind}.pdf"


def _units(fields: dict[str, Any], default: str) -> str:
    """Raises:
    Refused: neither mm nor in.
    """
    units = text_in(fields, "units", default) or "mm"
    if units not in ("mm", "in"):
        raise Refused(422, "request", "'units' is mm or in.", option="units")
    return units


def _with_drawings(answer: dict[str, Any]) -> dict[str, Any]:
    """With the SVG drawings named apart, for looking at."""
    answer["drawings"] = [
        {
            "name": Path(file["name"]).stem,
            "label": Path(file["name"]).stem.replace("-", " "),
            "url": f"{file['url']}?inline=1",
        }
        for file in answer["files"]
        if file["kind"] == "svg"
    ]
    return answer


def _with_option(refused: TaskRefused, known: Mapping[str, Option]) -> Refused:
    """Names the option that the sentence speaks of, so that the page can point at it."""
    for name in sorted(known, key=len, reverse=True):
        if f"--{name.replace('_', '-')}" in refused.message:
            return Refused(refused.status, refused.code, refused.message, option=name)
    return refused
