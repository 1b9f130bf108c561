"""Files of a job and of what was just drawn, to keep or to look at page by page."""

from __future__ import annotations

import asyncio
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from profiler.web.answers import answered, missing, told
from profiler.web.bench import Bench
from profiler.web.desk import Desks
from profiler.web.handing import file_answer, page_answer, pages_of
from profiler.web.made import pages_told
from profiler.web.shown import job_url


class FileRoutes:
    """Handlers round the bench."""

    def __init__(self, bench: Bench, desks: Desks) -> None:
        self._bench = bench
        self._desks = desks

    def routes(self) -> list[Route]:
        """All of them."""
        table: list[tuple[str, str, Any]] = [
            ("GET", "/api/jobs/{id}/files/{path:path}", self.job_file),
            ("GET", "/api/jobs/{id}/pages/{path:path}", self.job_pages),
            ("GET", "/api/jobs/{id}/page/{path:path}/{n:int}.png", self.job_page),
            ("GET", "/api/made/{token}/{name}", self.made_file),
            ("GET", "/api/made/{token}/{name}/{n:int}.png", self.made_page),
        ]
        return [Route(path, answered(run), methods=[method]) for method, path, run in table]

    async def job_file(self, request: Request) -> Response:
        data, name = await asyncio.to_thread(self._job_bytes, request)
        return file_answer(data, name, bool(request.query_params.get("inline")))

    async def job_pages(self, request: Request) -> Response:
        data, name = await asyncio.to_thread(self._job_bytes, request)
        base = f"{job_url(request.path_params['id'])}/page"
        return told({"pages": pages_told(await pages_of(self._bench, data, name), base)})

    async def job_page(self, request: Request) -> Response:
        data, _ = await asyncio.to_thread(self._job_bytes, request)
        return await page_answer(self._bench, request, data)

    async def made_file(self, request: Request) -> Response:
        name = request.path_params["name"]
        data = self._bench.made.file(request.path_params["token"], name)
        return file_answer(data, name, bool(request.query_params.get("inline")))

    async def made_page(self, request: Request) -> Response:
        name = request.path_params["name"]
        return await page_answer(
            self._bench, request, self._bench.made.file(request.path_params["token"], name)
        )

    def _job_bytes(self, request: Request) -> tuple[bytes, str]:
        place = self._desks.desk(request.path_params["id"]).place
        wanted = request.path_params["path"]
        # what is asked for is compared with what there is; no path is made of it
        for name, path in place.files():
            if name == wanted:
                return path.read_bytes(), name
        raise missing("This file")
