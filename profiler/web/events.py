"""Server-sent events: hints to every open page that something has changed."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Any

from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from profiler.web.answers import Refused

#: a page that does not read so many events is let go; it fetches all when it comes back
_MOST_WAITING = 200
#: pages that may listen at once
_MOST_LISTENERS = 40
_BEAT_S = 15.0


class Hub:
    """Who listens, and telling them."""

    def __init__(self) -> None:
        self._queues: set[asyncio.Queue[str | None]] = set()

    def tell(self, event: str, **data: Any) -> None:
        """Send an event to all that listen; never waits."""
        text = f"event: {event}\ndata: {json.dumps(data)}\n\n"
        for queue in tuple(self._queues):
            try:
                queue.put_nowait(text)
            except asyncio.QueueFull:
                self._queues.discard(queue)
                while not queue.empty():
                    queue.get_nowait()
                queue.put_nowait(None)

    def close(self) -> None:
        """Let all go, so that the server can end."""
        for queue in tuple(self._queues):
            while not queue.empty():
                queue.get_nowait()
            queue.put_nowait(None)
        self._queues.clear()

    async def answer(self, request: Request) -> Response:
        """The stream for one page."""
        if len(self._queues) >= _MOST_LISTENERS:
            raise Refused(503, "full", "Too many pages are open. Close some.")
        queue: asyncio.Queue[str | None] = asyncio.Queue(_MOST_WAITING)
        self._queues.add(queue)

        async def stream() -> AsyncIterator[str]:
            try:
                yield "retry: 2000\nevent: hello\ndata: {}\n\n"
                while True:
                    try:
                        text = await asyncio.wait_for(queue.get(), _BEAT_S)
                    except TimeoutError:
                        text = ": still here\n\n"
                    if text is None:
                        return
                    yield text
            finally:
                self._queues.discard(queue)

        return StreamingResponse(
            stream(),
            media_type="text/event-stream",
            headers={"Cache-Control": "no-store", "X-Accel-Buffering": "no"},
        )
