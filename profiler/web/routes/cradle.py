"""The cradle in a job's case: its form, its pieces, its sheets."""

from __future__ import annotations

import asyncio
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from profiler.pipeline.case import Labels
from profiler.web import cradleoptions
from profiler.web.answers import answered, fields_of, flag_in, text_in, told
from profiler.web.bench import Bench
from profiler.web.casefields import read_options
from profiler.web.caseoptions import options_told
from profiler.web.desk import Desks
from profiler.web.handing import PRINT_WORDS, made_told, with_drawings
from profiler.web.ordering import (
    CRADLE_FOLDER,
    correction_for,
    keep_in_job,
    measured,
    paper_in,
    units_in,
    with_option,
)
from profiler.web.tasks.drawing_values import Sheets
from profiler.web.workers import TaskRefused

CRADLING = "profiler.web.tasks.cradling"


class CradleRoutes:
    """Handlers round the bench."""

    def __init__(self, bench: Bench, desks: Desks) -> None:
        self._bench = bench
        self._desks = desks

    def routes(self) -> list[Route]:
        """All of them."""
        table: list[tuple[str, str, Any]] = [
            ("GET", "/api/cradle/options", self.options),
            ("POST", "/api/jobs/{id}/cradle", self.cradle),
        ]
        return [Route(path, answered(run), methods=[method]) for method, path, run in table]

    async def options(self, _request: Request) -> Response:
        return told({"groups": options_told(cradleoptions.GROUPS)})

    async def cradle(self, request: Request) -> Response:
        fields = await fields_of(request)
        desk = self._desks.desk(request.path_params["id"])
        state = await asyncio.to_thread(desk.place.state)
        units = units_in(fields, state.units)
        known = cradleoptions.OPTIONS
        options = read_options(fields.get("options") or {}, known, "cradle")
        labels = Labels(state.name, state.customer, units, state.inch_step)
        paper = paper_in(fields, "Letter" if units == "in" else "A4") or "A4"
        await measured(desk)
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
            raise with_option(refused, known) from None
        if whole:
            await keep_in_job(self._bench, desk, fields, sheets, CRADLE_FOLDER)
        cautions = [PRINT_WORDS, *sheets.more.get("cautions", ())] if whole else []
        return told(with_drawings(made_told(self._bench, sheets, cautions)))
