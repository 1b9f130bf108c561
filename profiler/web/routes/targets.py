"""The bench's own mat, cards and upright row: drawn, their bars read, looked at."""

from __future__ import annotations

import asyncio
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from profiler.jobs.beside import CARDS_NAME, MAT_NAME, UPRIGHT_NAME
from profiler.jobs.records import (
    cards_from_record,
    cards_record,
    design_from_record,
    load_record,
    mat_record,
    record_bytes,
)
from profiler.jobs.writing import write_atomically
from profiler.pipeline.sheets import CARD_PAPERS
from profiler.units import optional_length
from profiler.web.answers import Refused, answered, fields_of, missing, text_in, told
from profiler.web.bench import Bench
from profiler.web.handing import file_answer, made_told, page_answer, pages_of
from profiler.web.made import pages_told
from profiler.web.ordering import draw, keep_own, paper_in, readings_of
from profiler.web.sheetinfo import cards_told, mat_told
from profiler.web.tasks.drawing_values import Sheets

KINDS = ("mat", "cards", "upright")


class TargetRoutes:
    """Handlers round the bench."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench

    def routes(self) -> list[Route]:
        """All of them."""
        table: list[tuple[str, str, Any]] = [
            ("POST", "/api/mat", self.mat),
            ("POST", "/api/mat/bars", self.mat_bars),
            ("POST", "/api/upright", self.upright),
            ("POST", "/api/upright/bars", self.upright_bars),
            ("POST", "/api/cards", self.cards),
            ("POST", "/api/cards/bars", self.cards_bars),
            ("GET", "/api/{kind:str}/files/{name}", self.own_file),
            ("GET", "/api/{kind:str}/pages", self.own_pages),
            ("GET", "/api/{kind:str}/page/{n:int}.png", self.own_page),
        ]
        return [Route(path, answered(run), methods=[method]) for method, path, run in table]

    async def mat(self, request: Request) -> Response:
        fields = await fields_of(request)
        units = text_in(fields, "units", self._bench.settings.units) or "mm"
        roll, width, height = (
            optional_length(text_in(fields, name), units, name)
            for name in ("roll_width", "width", "height")
        )
        paper = text_in(fields, "paper", "A4") or "A4"
        tint = text_in(fields, "tint", "blue") or "blue"
        sheets: Sheets = await draw(self._bench, "mat", paper, roll, width, height, tint)
        await keep_own(self._bench, fields, sheets, "mat")
        return told(made_told(self._bench, sheets, []))

    async def upright(self, request: Request) -> Response:
        fields = await fields_of(request)
        units = text_in(fields, "units", self._bench.settings.units) or "mm"
        width = optional_length(text_in(fields, "width"), units, "width")
        paper = text_in(fields, "paper", "A4") or "A4"
        tint = text_in(fields, "tint", "blue") or "blue"
        sheets: Sheets = await draw(self._bench, "upright", paper, width, tint)
        await keep_own(self._bench, fields, sheets, "upright")
        return told(made_told(self._bench, sheets, []))

    async def cards(self, request: Request) -> Response:
        fields = await fields_of(request)
        units = text_in(fields, "units", self._bench.settings.units) or "mm"
        thickness = optional_length(text_in(fields, "thickness"), units, "thickness")
        paper = paper_in(fields, "A4") or "A4"
        if paper not in CARD_PAPERS:
            said = " or ".join(CARD_PAPERS)
            raise Refused(422, "request", f"Cards are printed on {said}.", option="paper")
        sheets: Sheets = await draw(self._bench, "cards", paper, thickness)
        await keep_own(self._bench, fields, sheets, "cards")
        return told(made_told(self._bench, sheets, []))

    async def mat_bars(self, request: Request) -> Response:
        return await self._design_bars(request, MAT_NAME, "mat", "The bench's mat")

    async def upright_bars(self, request: Request) -> Response:
        return await self._design_bars(request, UPRIGHT_NAME, "upright", "The upright row")

    async def _design_bars(self, request: Request, name: str, kind: str, said: str) -> Response:
        read = await readings_of(self._bench, request)
        path = self._bench.options.folder / name

        def work() -> dict[str, Any] | None:
            if not path.is_file():
                raise missing(said)
            design, _ = design_from_record(load_record(path))
            data = record_bytes(mat_record(design, *read))
            write_atomically(path, data, overwrite=True)
            return mat_told(path)

        found = await asyncio.to_thread(work)
        self._bench.hub.tell(kind)
        return told(found)

    async def cards_bars(self, request: Request) -> Response:
        read = await readings_of(self._bench, request)
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
        if kind not in KINDS or name not in (f"{kind}.pdf", f"{kind}.json"):
            raise missing("This file")
        data = await asyncio.to_thread(self._bench.own_file, name)
        return file_answer(data, name, bool(request.query_params.get("inline")))

    async def own_pages(self, request: Request) -> Response:
        name = _own(request)
        pages = await pages_of(
            self._bench, await asyncio.to_thread(self._bench.own_file, name), name
        )
        kind = request.path_params["kind"]
        told_pages = pages_told(pages, "")
        for page in told_pages:
            page["url"] = f"/api/{kind}/page/{page['number']}.png"
        return told({"pages": told_pages})

    async def own_page(self, request: Request) -> Response:
        return await page_answer(
            self._bench, request, await asyncio.to_thread(self._bench.own_file, _own(request))
        )


def _own(request: Request) -> str:
    kind = request.path_params["kind"]
    if kind not in KINDS:
        raise missing("This")
    return f"{kind}.pdf"
