"""Printers: the bar page, what the rule read on it, and what is known of each."""

from __future__ import annotations

import asyncio
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from profiler.jobs.printers import Printer, forget_printer, keep_printer, read_printers
from profiler.paper import paper_named
from profiler.plates.barpage import bar_lengths
from profiler.units import parse_length
from profiler.web.answers import Refused, answered, fields_of, flag_in, text_in, told
from profiler.web.bench import Bench
from profiler.web.handing import made_told
from profiler.web.names import plain_line
from profiler.web.ordering import paper_in
from profiler.web.tasks.drawing_values import Sheets


class PrinterRoutes:
    """Handlers round the bench."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench

    def routes(self) -> list[Route]:
        """All of them."""
        table: list[tuple[str, str, Any]] = [
            ("GET", "/api/printers", self.list),
            ("POST", "/api/printers", self.keep),
            ("POST", "/api/printers/page", self.page),
            ("DELETE", "/api/printers", self.forget),
        ]
        return [Route(path, answered(run), methods=[method]) for method, path, run in table]

    async def list(self, _request: Request) -> Response:
        found = await asyncio.to_thread(read_printers, self._bench.printers_file)
        return told({"printers": [printer_told(p) for p in found]})

    async def page(self, request: Request) -> Response:
        fields = await fields_of(request)
        paper = paper_in(fields, self._bench.settings.paper) or "A4"
        sheets: Sheets = await self._bench.drawing.call("profiler.web.tasks.drawing:bars", paper)
        return told(made_told(self._bench, sheets, ["Print at 100 % ('actual size')."]))

    async def keep(self, request: Request) -> Response:
        fields = await fields_of(request)
        units = text_in(fields, "units", self._bench.settings.units) or "mm"
        paper = paper_in(fields, self._bench.settings.paper) or "A4"
        read = []
        for name in ("x", "y"):
            text = text_in(fields, name)
            if text is None:
                raise Refused(422, "request", "Read both bars.", option=name)
            read.append(parse_length(text, units))
        printer = Printer(
            plain_line(text_in(fields, "name", "") or ""),
            paper,
            bar_lengths(paper_named(paper)),
            (read[0], read[1]),
        )
        replace = flag_in(fields, "replace")
        await asyncio.to_thread(keep_printer, printer, replace, self._bench.printers_file)
        self._bench.hub.tell("printers")
        return told(printer_told(printer), 201)

    async def forget(self, request: Request) -> Response:
        fields = await fields_of(request)
        name = text_in(fields, "name", "") or ""
        await asyncio.to_thread(forget_printer, name, self._bench.printers_file)
        self._bench.hub.tell("printers")
        return Response(status_code=204)


def printer_told(printer: Printer) -> dict[str, Any]:
    """As the contract says."""
    correction = printer.correction
    return {
        "name": printer.name,
        "paper": printer.paper,
        "x": printer.read[0],
        "y": printer.read[1],
        "nominal": {"x": printer.designed[0], "y": printer.designed[1]},
        "correction": {"x": round(correction.x, 6), "y": round(correction.y, 6)},
        "words": printer.words,
    }
