"""The template of a job."""

from __future__ import annotations

import asyncio
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from profiler.plates.notes import Wishes
from profiler.units import optional_length
from profiler.web.answers import answered, fields_of, text_in, told
from profiler.web.bench import Bench
from profiler.web.desk import Desks
from profiler.web.handing import DOUBT_WORDS, PRINT_WORDS, made_told
from profiler.web.ordering import correction_for, draw, keep_in_job, measured, paper_in
from profiler.web.tasks.drawing_values import Sheets


class TemplateRoutes:
    """Handlers round the bench."""

    def __init__(self, bench: Bench, desks: Desks) -> None:
        self._bench = bench
        self._desks = desks

    def routes(self) -> list[Route]:
        """All of them."""
        table: list[tuple[str, str, Any]] = [
            ("POST", "/api/jobs/{id}/template", self.template),
        ]
        return [Route(path, answered(run), methods=[method]) for method, path, run in table]

    async def template(self, request: Request) -> Response:
        fields = await fields_of(request)
        desk = self._desks.desk(request.path_params["id"])
        state = await asyncio.to_thread(desk.place.state)
        units = text_in(fields, "units", state.units) or "mm"
        room = optional_length(text_in(fields, "clearance", "0mm"), units, "clearance") or 0.0
        measurement = await measured(desk)
        sheets: Sheets = await draw(
            self._bench,
            "template",
            measurement,
            Wishes(room, state.name, state.customer),
            paper_in(fields),
            correction_for(self._bench, text_in(fields, "printer")),
        )
        await keep_in_job(self._bench, desk, fields, sheets, "")
        messages = [PRINT_WORDS] + ([DOUBT_WORDS] if measurement.doubtful else [])
        return told(made_told(self._bench, sheets, messages))
