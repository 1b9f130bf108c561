"""Drawn sheets on their way to the page: files, and pictures of their pages."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response

from profiler.web.answers import Refused, missing
from profiler.web.bench import Bench
from profiler.web.folder import KINDS
from profiler.web.made import pages_told
from profiler.web.names import disposition
from profiler.web.tasks.drawing_values import Sheets
from profiler.web.told import findings_told

TYPES = {
    "pdf": "application/pdf",
    "svg": "image/svg+xml",
    "dxf": "image/vnd.dxf",
    "json": "application/json",
    "csv": "text/csv; charset=utf-8",
    "jpg": "image/jpeg",
}
PRINT_WORDS = "Print at 100 % ('actual size') and lay a steel rule on the check bars."
DOUBT_WORDS = (
    "Part of the outline is in doubt (dashed on paper): hold the template against the instrument"
    " before you cut."
)


def file_answer(data: bytes, name: str, inline: bool) -> Response:
    """A file, to keep or to look at; nothing in it is ever run."""
    kind = KINDS.get(Path(name).suffix.lower(), "")
    # a browser's own viewer shows no PDF that is in a sandbox; nothing of ours runs in one
    policy = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"
    if kind != "pdf":
        policy = f"sandbox; {policy}"
    return Response(
        data,
        media_type=TYPES.get(kind, "application/octet-stream"),
        headers={
            "Content-Disposition": disposition(Path(name).name, inline),
            "Cache-Control": "no-store",
            "Content-Security-Policy": policy,
        },
    )


def made_told(bench: Bench, sheets: Sheets, messages: list[str]) -> dict[str, Any]:
    """What was drawn, kept for looking at."""
    token = bench.made.put(sheets)
    base = f"/api/made/{token}"
    return {
        "token": token,
        "files": [
            {
                "name": name,
                "bytes": len(data),
                "kind": KINDS.get(Path(name).suffix.lower(), ""),
                "url": f"{base}/{quote(name)}",
            }
            for name, data in sheets.files.items()
        ],
        "pages": pages_told(sheets.pages, base),
        "messages": messages,
        "findings": findings_told(sheets.findings),
        **sheets.more,
    }


def with_drawings(answer: dict[str, Any]) -> dict[str, Any]:
    """With the SVG drawings named apart, for looking at."""
    answer["drawings"] = [
        {
            "name": Path(file["name"]).stem,
            "label": Path(file["name"]).stem.replace("-", " "),
            "url": f"{file['url']}?inline=1",
        }
        for file in answer["files"]
        if file["kind"] == "svg"
    ]
    return answer


async def pages_of(bench: Bench, data: bytes, name: str) -> list[tuple[str, int, float, float]]:
    """(file, number, width, height in mm) of each page.

    Raises:
        Refused: the file has no pages.
    """
    if not name.endswith(".pdf"):
        raise missing("Pages of this file")
    sizes = await bench.drawing.call("profiler.web.tasks.pages:sizes", data)
    return [(name, number, *size) for number, size in enumerate(sizes, start=1)]


async def page_answer(bench: Bench, request: Request, data: bytes) -> Response:
    """The picture of the page that the request names, as a PNG.

    Raises:
        Refused: a width that cannot be; no such page.
    """
    asked = request.query_params.get("width", "900")
    width = int(asked) if asked.isdigit() and len(asked) < 6 else 0
    if not 100 <= width <= 3000:
        raise Refused(422, "request", "A page's picture is 100 to 3000 px wide.")
    number = request.path_params["n"]
    picture = await bench.drawing.call(
        "profiler.web.tasks.pages:picture", data, number, width, longest_s=60.0
    )
    headers = {"Cache-Control": "private, max-age=600"}
    return Response(picture, media_type="image/png", headers=headers)
