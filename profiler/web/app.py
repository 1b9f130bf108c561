"""The application: the door, the routes, and what is started and ended with it."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from starlette.applications import Starlette
from starlette.middleware import Middleware

from profiler.web.bench import Bench, Options
from profiler.web.desk import Desks
from profiler.web.guarding import Door
from profiler.web.looks import Looks
from profiler.web.pages import page_routes
from profiler.web.routes.archive import ArchiveRoutes
from profiler.web.routes.case import CaseRoutes
from profiler.web.routes.corrections import CorrectionRoutes
from profiler.web.routes.cradle import CradleRoutes
from profiler.web.routes.files import FileRoutes
from profiler.web.routes.glances import GlanceRoutes
from profiler.web.routes.house import HouseRoutes
from profiler.web.routes.jobs import JobRoutes
from profiler.web.routes.photos import PhotoRoutes
from profiler.web.routes.printers import PrinterRoutes
from profiler.web.routes.results import ResultRoutes
from profiler.web.routes.shape import ShapeRoutes
from profiler.web.routes.targets import TargetRoutes
from profiler.web.routes.template import TemplateRoutes


def make_app(options: Options) -> Starlette:
    """The application for one working folder; `app.state.bench` is what it holds."""
    bench = Bench(options)
    desks = Desks(bench)
    looks = Looks(bench)

    @asynccontextmanager
    async def life(_app: Starlette) -> AsyncIterator[None]:
        await asyncio.to_thread(bench.jobs.sweep)
        bench.measuring.start()
        bench.drawing.start()
        try:
            yield
        finally:
            await desks.close()
            bench.close()

    app = Starlette(
        routes=[
            *HouseRoutes(bench).routes(),
            *JobRoutes(bench, desks, looks).routes(),
            *PhotoRoutes(bench, desks, looks).routes(),
            *ResultRoutes(desks).routes(),
            *CorrectionRoutes(bench, desks).routes(),
            *ShapeRoutes(bench, desks).routes(),
            *GlanceRoutes(bench).routes(),
            *PrinterRoutes(bench).routes(),
            *ArchiveRoutes(bench, desks).routes(),
            *TemplateRoutes(bench, desks).routes(),
            *CaseRoutes(bench, desks).routes(),
            *CradleRoutes(bench, desks).routes(),
            *FileRoutes(bench, desks).routes(),
            *TargetRoutes(bench).routes(),
            *page_routes(),
        ],
        middleware=[Middleware(Door, bench=bench)],
        lifespan=life,
    )
    app.state.bench = bench
    return app
