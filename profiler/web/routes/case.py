"""The case round a job: its form, its plan, its drawings."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from profiler.instrument.record import Measurement
from profiler.pipeline.case import Labels
from profiler.web.answers import Refused, answered, fields_of, flag_in, told
from profiler.web.bench import Bench
from profiler.web.casefields import read_options
from profiler.web.caseoptions import GROUPS, OPTIONS, options_told
from profiler.web.desk import Desks
from profiler.web.handing import made_told, with_drawings
from profiler.web.ordering import (
    CASE_FOLDER,
    draw,
    keep_in_job,
    measured,
    paper_in,
    units_in,
    with_option,
)
from profiler.web.tasks.drawing_values import Sheets
from profiler.web.workers import TaskRefused

#: what is named as the cure, and the wishes that it may be the cure for
CONFLICTS = {
    "above": ("latch", "hinge", "lid", "edge", "finger", "board_width"),
    "clearance": ("compartments", "compartment_length", "compartment_width"),
    "sheet": ("sheet",),
}


#: formats of the drawings, where the plan alone is wanted
NO_DRAWINGS: tuple[tuple[str, ...], ...] = ((),)


class CaseRoutes:
    """Handlers round the bench."""

    def __init__(self, bench: Bench, desks: Desks) -> None:
        self._bench = bench
        self._desks = desks

    def routes(self) -> list[Route]:
        """All of them."""
        table: list[tuple[str, str, Any]] = [
            ("GET", "/api/case/options", self.options),
            ("POST", "/api/jobs/{id}/case", self.case),
        ]
        return [Route(path, answered(run), methods=[method]) for method, path, run in table]

    async def options(self, _request: Request) -> Response:
        return told({"groups": options_told(GROUPS)})

    async def case(self, request: Request) -> Response:
        fields = await fields_of(request)
        desk = self._desks.desk(request.path_params["id"])
        state = await asyncio.to_thread(desk.place.state)
        units = units_in(fields, state.units)
        options = read_options(fields.get("options") or {})
        labels = Labels(state.name, state.customer, units, state.inch_step)
        paper = paper_in(fields, "Letter" if units == "in" else "A4") or "A4"
        measurement = await measured(desk)
        drawings = flag_in(fields, "drawings", True)
        job = desk.place.path
        try:
            sheets: Sheets = await draw(
                self._bench,
                "case",
                measurement,
                options,
                labels,
                paper,
                job,
                *(() if drawings else NO_DRAWINGS),
            )
        except TaskRefused as refused:
            said = with_option(refused, OPTIONS)
            said.more |= await self._nearest(said, measurement, options, labels, paper, job)
            raise said from None
        if drawings:
            await keep_in_job(self._bench, desk, fields, sheets, CASE_FOLDER)
        return told(with_drawings(made_told(self._bench, sheets, [])))

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
                sheets: Sheets = await draw(
                    self._bench, "case", measurement, rest, labels, paper, job, *NO_DRAWINGS
                )
            except TaskRefused:
                continue
            return {"option": wish, "without": wish, "plan": sheets.more["plan"]}
        return {}
