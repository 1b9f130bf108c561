"""Answers: errors as one sentence with a code, bodies within limits, fields with their types."""

from __future__ import annotations

import asyncio
import json
import logging
import math
from collections.abc import Awaitable, Callable, Mapping
from typing import Any

from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response

from profiler.errors import (
    InputError,
    OutlineError,
    OutputError,
    ProfilerError,
    RequestError,
    SceneError,
)
from profiler.web.wording import for_page

Fields = Mapping[str, Any]
Handler = Callable[[Request], Awaitable[Response]]

log = logging.getLogger("profiler.web")

#: a body of JSON is never longer, bytes
LONGEST_JSON = 1_000_000
#: s, in which a request has to have come
_JSON_S = 30.0
#: longest text in a field
LONGEST_TEXT = 2000

#: error family to code and status
_FAMILIES: tuple[tuple[type[ProfilerError], str, int], ...] = (
    (RequestError, "request", 422),
    (InputError, "photo", 422),
    (SceneError, "scene", 422),
    (OutlineError, "outline", 422),
    (OutputError, "write", 500),
    (ProfilerError, "request", 422),
)


class Refused(Exception):
    """An answer that says no."""

    def __init__(self, status: int, code: str, message: str, **more: Any) -> None:
        super().__init__(message)
        self.status, self.code, self.message, self.more = status, code, message, more


def missing(what: str) -> Refused:
    """There is no such thing (any more)."""
    return Refused(404, "missing", f"{what} is not there (any more).")


def code_of(error: ProfilerError) -> str:
    """The code of an error's family."""
    return next(code for family, code, _ in _FAMILIES if isinstance(error, family))


def refusal(error: ProfilerError) -> Refused:
    """What the core refuses, as an answer."""
    status, code = next((s, c) for family, c, s in _FAMILIES if isinstance(error, family))
    return Refused(status, code, str(error))


def error_answer(refused: Refused) -> JSONResponse:
    """As the contract says."""
    message = for_page(refused.message)
    body = {"error": {"code": refused.code, "message": message, **refused.more}}
    return told(body, refused.status)


def answered(handler: Handler) -> Handler:
    """A handler whose errors are answers; a fault of the program shows no details."""

    async def run(request: Request) -> Response:
        try:
            return await handler(request)
        except Refused as refused:
            return error_answer(refused)
        except ProfilerError as error:
            return error_answer(refusal(error))
        except ClientDisconnect:
            return error_answer(Refused(400, "request", "The other side went away."))
        except Exception:
            log.exception("fault while answering %s", request.url.path)
            return error_answer(
                Refused(
                    500,
                    "fault",
                    "Sorry, this is a fault of the program, not yours. Nothing was changed. The"
                    " terminal where 'profiler serve' runs says more.",
                )
            )

    return run


def told(body: Any, status: int = 200) -> JSONResponse:
    """JSON that is not kept by anybody."""
    return _Answer(body, status, headers={"Cache-Control": "no-store"})


class _Answer(JSONResponse):
    """In ASCII alone: half a surrogate pair, which no UTF-8 can hold, is an escape like others."""

    def render(self, content: Any) -> bytes:
        return json.dumps(content, allow_nan=False, separators=(",", ":")).encode("ascii")


async def fields_of(request: Request) -> dict[str, Any]:
    """The JSON object in a request's body; {} for none.

    Raises:
        Refused: too long, no JSON, no object.
    """
    data = bytearray()
    try:
        async with asyncio.timeout(_JSON_S):
            async for chunk in request.stream():
                data += chunk
                if len(data) > LONGEST_JSON:
                    raise Refused(
                        413, "too-large", "That is more than a request here may hold (1 MB)."
                    )
    except TimeoutError:
        raise Refused(408, "too-slow", "The request came too slowly. Try again.") from None
    if not data.strip():
        return {}
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != "application/json":
        raise Refused(415, "request", "Requests here are JSON (Content-Type: application/json).")
    try:
        found = json.loads(data.decode("utf-8"))
        # half a surrogate pair is text for JSON and for nobody else: no file and no page takes it
        json.dumps(found, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError:
        raise Refused(
            422, "request", "The request holds half of a character. Type the text again."
        ) from None
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise Refused(400, "request", "The request is not readable as JSON.") from None
    if not isinstance(found, dict):
        raise Refused(400, "request", "The request is no JSON object.")
    return found


def text_in(fields: Fields, name: str, default: str | None = None) -> str | None:
    """A text field; None and '' where nothing was said both give the default.

    Raises:
        Refused: something else stands there, or far too much.
    """
    value = fields.get(name)
    if value is None or value == "":
        return default
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise Refused(422, "request", f"'{name}' is no text.", option=name)
    text = str(value)
    if len(text) > LONGEST_TEXT:
        raise Refused(422, "request", f"'{name}' is too long.", option=name)
    return text


def flag_in(fields: Fields, name: str, default: bool = False) -> bool:
    """A true or false.

    Raises:
        Refused: something else stands there.
    """
    value = fields.get(name, default)
    if not isinstance(value, bool):
        raise Refused(422, "request", f"'{name}' is true or false.", option=name)
    return value


def whole_in(fields: Fields, name: str, default: int, low: int, high: int) -> int:
    """A whole number within limits.

    Raises:
        Refused: something else stands there.
    """
    value = fields.get(name, default)
    if (
        isinstance(value, bool)
        or not isinstance(value, int | float)
        or not math.isfinite(value)
        or value != int(value)
        or not low <= value <= high
    ):
        raise Refused(
            422, "request", f"'{name}' is a whole number from {low} to {high}.", option=name
        )
    return int(value)


def revision_in(fields: Fields) -> int:
    """The revision that the page last saw.

    Raises:
        Refused: none was sent.
    """
    value = fields.get("revision")
    if isinstance(value, bool) or not isinstance(value, int):
        raise Refused(422, "request", "The request does not say which revision it starts from.")
    return value
