"""What all handlers of one job share: its desk, and the job told as it is now."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from profiler.web.answers import told
from profiler.web.bench import Bench
from profiler.web.desk import Desk, Desks
from profiler.web.shown import job_told


class AtDesk:
    """Round the bench and its desks."""

    def __init__(self, bench: Bench, desks: Desks) -> None:
        self._bench = bench
        self._desks = desks

    def desk(self, request: Request) -> Desk:
        """Of the job that the address names."""
        return self._desks.desk(request.path_params["id"])

    async def told(self, desk: Desk, status: int = 200) -> Response:
        """The job as it is now."""
        return told(await job_told(self._bench, self._desks, desk.place), status)
