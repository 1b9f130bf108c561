"""Taking in a photo: to the disk as it comes, within limits of size and time."""

from __future__ import annotations

import asyncio
import secrets
import time
from pathlib import Path

from starlette.requests import Request

from profiler.jobs.imagefile import Kind, kind_of
from profiler.web.answers import Refused
from profiler.web.folder import DRAFT_ENDING

#: no phone writes a larger photo; bytes
MOST_BYTES = 120_000_000
#: s without a byte, and in all
_SILENCE_S, _WHOLE_S = 30.0, 600.0
#: bytes in which every kind of picture has shown what it is
_HEAD = 64
ENDINGS = {Kind.JPEG: ".jpg", Kind.PNG: ".png", Kind.TIFF: ".tif", Kind.HEIC: ".heic"}


async def take_photo(request: Request, folder: Path, name: str) -> tuple[Path, str]:
    """The body as a file in a folder, under a name of our own.

    Args:
        request: its body is the file.
        folder: where it goes; it exists.
        name: under which it came; only its ending says something.

    Returns:
        the file, which the caller moves to its place or deletes, and the ending for it.

    Raises:
        Refused: no picture that is read here, too large, too slow; nothing is left behind.
    """
    announced = request.headers.get("content-length", "")
    if announced.isdigit() and int(announced) > MOST_BYTES:
        raise too_large()
    draft = folder / f".{secrets.token_hex(8)}{DRAFT_ENDING}"
    began = time.monotonic()
    head = bytearray()
    size = 0
    kind: Kind | None = None
    try:
        with draft.open("xb") as file:
            body = request.stream().__aiter__()
            while True:
                try:
                    left = min(_SILENCE_S, began + _WHOLE_S - time.monotonic())
                    chunk = await asyncio.wait_for(anext(body), max(left, 0.001))
                except StopAsyncIteration:
                    break
                except TimeoutError:
                    raise Refused(
                        408,
                        "too-slow",
                        "The photo came too slowly. Try again, nearer to the router.",
                    ) from None
                size += len(chunk)
                if size > MOST_BYTES:
                    raise too_large()
                if kind is None:
                    head += chunk[:_HEAD]
                    if len(head) >= _HEAD:
                        kind = _kind(bytes(head), name)
                await asyncio.to_thread(file.write, chunk)
        if kind is None:
            kind = _kind(bytes(head), name)
        return draft, ENDINGS[kind]
    except BaseException:
        draft.unlink(missing_ok=True)
        raise


async def small_body(request: Request, most: int) -> bytes:
    """A body that is kept in memory only.

    Raises:
        Refused: too large or too slow.
    """
    announced = request.headers.get("content-length", "")
    if announced.isdigit() and int(announced) > most:
        raise Refused(413, "too-large", f"At most {most // 1_000_000} MB.")
    data = bytearray()
    try:
        async with asyncio.timeout(_SILENCE_S):
            async for chunk in request.stream():
                data += chunk
                if len(data) > most:
                    raise Refused(413, "too-large", f"At most {most // 1_000_000} MB.")
    except TimeoutError:
        raise Refused(408, "too-slow", "The picture came too slowly. Try again.") from None
    return bytes(data)


def too_large() -> Refused:
    """More than any photo."""
    return Refused(
        413, "too-large", f"That is more than a photo: at most {MOST_BYTES // 1_000_000} MB."
    )


def _kind(head: bytes, name: str) -> Kind:
    if not head:
        raise Refused(422, "photo", "The file is empty. Send the photo again.")
    kind = kind_of(head, Path(name).suffix.lower())
    if isinstance(kind, Kind):
        return kind
    what = f"is {kind}" if kind else "is no photo"
    raise Refused(
        422,
        "photo",
        f"What came {what}. Photos here are JPEG, HEIC, PNG or TIFF, as the phone wrote them.",
    )
