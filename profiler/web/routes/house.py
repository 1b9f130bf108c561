"""The state of the bench, its settings, events, and letting phones in."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from profiler import __version__
from profiler.jobs.beside import CARDS_NAME, MAT_NAME, UPRIGHT_NAME
from profiler.paper import PAPERS
from profiler.pipeline.sheets import CARD_PAPERS, TINTS
from profiler.units import PARTS
from profiler.web.answers import Refused, answered, fields_of, text_in, told
from profiler.web.bench import Bench
from profiler.web.phones import CODE_S, COOKIE, SESSION_S, qr_svg
from profiler.web.sample import sample_there
from profiler.web.sheetinfo import cards_told, mat_told


class HouseRoutes:
    """Handlers round the bench."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench

    def routes(self) -> list[Route]:
        """All of them."""
        table: list[tuple[str, str, Any]] = [
            ("GET", "/api/state", self.state),
            ("PUT", "/api/settings", self.settings),
            ("GET", "/api/events", self._bench.hub.answer),
            ("POST", "/api/lan/code", self.code),
            ("GET", "/api/lan/code.svg", self.code_picture),
            ("POST", "/api/lan/close", self.close),
            ("POST", "/api/join", self.join),
        ]
        return [Route(path, answered(run), methods=[method]) for method, path, run in table]

    async def state(self, request: Request) -> Response:
        bench, options = self._bench, self._bench.options
        return told(
            {
                "version": __version__,
                "folder": str(options.folder),
                "client": "bench" if request.state.local else "phone",
                "lan": {"on": options.lan, "phones": bench.phones.count},
                "settings": bench.settings.told(),
                "papers": list(PAPERS),
                "card_papers": list(CARD_PAPERS),
                "tints": TINTS,
                "parts": list(PARTS),
                "mat": mat_told(options.folder / MAT_NAME),
                "cards": cards_told(options.folder / CARDS_NAME),
                "upright": mat_told(options.folder / UPRIGHT_NAME),
                "sample": sample_there(),
                "archive": {"shown": options.archive.shown},
            }
        )

    async def settings(self, request: Request) -> Response:
        fields = await fields_of(request)
        self._bench.settings.take(fields)
        self._bench.keep_settings()
        self._bench.hub.tell("settings")
        return told(self._bench.settings.told())

    async def code(self, request: Request) -> Response:
        self._only_here(request)
        if not self._bench.options.lan or not self._bench.options.addresses:
            raise Refused(
                422,
                "request",
                "The local network is not let in. Start with 'profiler serve --lan'.",
            )
        text, number = self._bench.phones.new_code()
        return told(
            {
                "url": self._url(text),
                "image": f"/api/lan/code.svg?n={number}",
                "expires_s": int(CODE_S),
            }
        )

    async def code_picture(self, request: Request) -> Response:
        self._only_here(request)
        asked = request.query_params.get("n", "")
        number = int(asked) if asked.isdigit() and len(asked) < 9 else 0
        return Response(
            qr_svg(self._url(self._bench.phones.open_code(number))),
            media_type="image/svg+xml",
            headers={"Cache-Control": "no-store"},
        )

    async def close(self, request: Request) -> Response:
        self._only_here(request)
        self._bench.phones.forget_all()
        self._bench.hub.tell("phones")
        return Response(status_code=204)

    async def join(self, request: Request) -> Response:
        fields = await fields_of(request)
        if not self._bench.options.lan:
            raise Refused(403, "code", "The local network is not let in.")
        session = self._bench.phones.join(text_in(fields, "code", "") or "")
        self._bench.hub.tell("phones")
        answer = Response(status_code=204)
        answer.set_cookie(
            COOKIE, session, max_age=int(SESSION_S), httponly=True, samesite="strict", path="/"
        )
        return answer

    def _url(self, code: str) -> str:
        address = self._bench.options.addresses[0]
        host = f"[{address}]" if ":" in address else address
        # the part behind # is not sent to any server and stands in no log
        return f"http://{host}:{self._bench.options.port}/join#code={code}"

    def _only_here(self, request: Request) -> None:
        if not request.state.local:
            raise Refused(403, "origin", "Only the bench itself lets phones in.")
