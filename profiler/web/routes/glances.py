"""A glance: what is seen in a small picture, answered at once and kept nowhere."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from profiler.jobs.beside import MAT_NAME
from profiler.web.answers import Refused, answered, told
from profiler.web.bench import Bench
from profiler.web.uploads import small_body

#: bytes of a reduced picture
MOST_BYTES = 4_000_000
#: s for a glance; only a damaged picture takes longer
_LONGEST_S = 20.0
#: pictures that wait for their turn; a page sends its next one when it has its answer
_MOST_WAITING = 4
_MOST_FINER = 40.0


class GlanceRoutes:
    """Handlers round the bench."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._waiting = 0

    def routes(self) -> list[Route]:
        """All of them."""
        return [
            Route("/api/glance", answered(self.glance), methods=["POST"]),
            Route("/api/glance", answered(self.wake), methods=["GET"]),
        ]

    async def wake(self, _request: Request) -> Response:
        """Let the process get ready, for a page that will soon ask."""
        self._bench.looking.start()
        return Response(status_code=204)

    async def glance(self, request: Request) -> Response:
        finer = _finer(request.query_params.get("finer", ""))
        mat = self._mat(request.query_params.get("job", ""))
        side = request.query_params.get("side", "") == "1"
        if self._waiting >= _MOST_WAITING:
            raise Refused(503, "full", "Too many pictures are being looked at. Wait a moment.")
        self._waiting += 1
        try:
            jpeg = await small_body(request, MOST_BYTES)
            found: dict[str, Any] = await self._bench.looking.call(
                "profiler.web.tasks.glancing:look", jpeg, mat, finer, side, longest_s=_LONGEST_S
            )
        finally:
            self._waiting -= 1
        return told(found)

    def _mat(self, job: str) -> Path | None:
        """The record of the job's own mat, or of the bench's."""
        folders = [self._bench.options.folder]
        if job:
            folders.insert(0, self._bench.jobs.place(job).path)
        return next((f / MAT_NAME for f in folders if (f / MAT_NAME).is_file()), None)


def _finer(text: str) -> float | None:
    """Raises:
    Refused: no number that can be.
    """
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0.1 <= value <= _MOST_FINER:
        raise Refused(422, "request", "'finer' is the photo's width over the picture's.")
    return value
