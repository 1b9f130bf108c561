"""The page itself: one HTML file and what belongs to it, at addresses that change as they do."""

from __future__ import annotations

import hashlib
import re
from functools import lru_cache
from importlib import resources
from importlib.resources.abc import Traversable

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from profiler.web.answers import Refused, answered, missing

TYPES = {
    "js": "text/javascript; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "svg": "image/svg+xml",
    "png": "image/png",
    "ico": "image/x-icon",
    "webmanifest": "application/manifest+json",
    "json": "application/json",
    "txt": "text/plain; charset=utf-8",
    "woff2": "font/woff2",
}
_OURS = re.compile(r'(?P<before>(?:src|href)=")/static/(?P<name>[\w.-]+)"')
_NOT_BUILT = (
    "<!doctype html><html lang=en><title>profiler</title><p>The page's files are not there:"
    " install the package again, or build them from profiler/web/front."
)


def _static() -> Traversable:
    return resources.files("profiler.web") / "static"


@lru_cache(maxsize=64)
def _file(name: str) -> tuple[bytes, str] | None:
    """A file and its hash; None where there is none."""
    if not re.fullmatch(r"[\w-][\w.-]{0,80}", name):
        return None
    found = _static() / name
    if not found.is_file():
        return None
    data = found.read_bytes()
    return data, hashlib.sha256(data).hexdigest()[:16]


@lru_cache(maxsize=1)
def _page() -> str:
    found = _file("index.html")
    if found is None:
        return _NOT_BUILT

    def hashed(match: re.Match[str]) -> str:
        name = match["name"]
        other = _file(name)
        mark = f"?v={other[1]}" if other is not None else ""
        return f'{match["before"]}/static/{name}{mark}"'

    return _OURS.sub(hashed, found[0].decode("utf-8"))


async def page(request: Request) -> Response:
    """The one page, under every address of its own."""
    path = request.url.path
    if path.startswith("/api") or "." in path.rpartition("/")[2]:
        raise missing("What was asked for")
    return HTMLResponse(_page(), headers={"Cache-Control": "no-cache"})


async def static(request: Request) -> Response:
    """A file of the page."""
    name = request.path_params["name"]
    found = _file(name)
    if found is None or name == "index.html":
        raise missing("This file")
    data, mark = found
    asked = request.query_params.get("v")
    lasting = "public, max-age=31536000, immutable" if asked == mark else "no-cache"
    tag = f'"{mark}"'
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers={"ETag": tag, "Cache-Control": lasting})
    return Response(
        data,
        media_type=TYPES.get(name.rpartition(".")[2], "application/octet-stream"),
        headers={"Cache-Control": lasting, "ETag": tag},
    )


async def _nothing(_request: Request) -> Response:
    raise Refused(404, "missing", "This is not asked here.")


def page_routes() -> list[Route]:
    """All of them; the last takes whatever no other has."""
    methods = ["POST", "PUT", "PATCH", "DELETE"]
    return [
        Route("/static/{name}", answered(static), methods=["GET"]),
        Route("/{path:path}", answered(page), methods=["GET"]),
        Route("/{path:path}", answered(_nothing), methods=methods),
    ]
