"""Long work in processes of its own: the page stays awake, and what takes too long can be stopped.

A worker does one task at a time and keeps what it learnt for the next (see `pipeline.memory`). To
cancel is to end its process; the next task starts a new one. Nothing is written by a worker: it
gives back bytes, so whenever it ends nothing is half done.
"""

from __future__ import annotations

import asyncio
import importlib
import logging
import multiprocessing
import signal
import traceback
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any

from profiler.errors import ProfilerError
from profiler.web.answers import Refused, code_of

Progress = Callable[[str, float], None]
Told = tuple[str, Any]

log = logging.getLogger("profiler.web")

#: s: nothing here takes longer on a slow laptop; a damaged file might go on for ever
LONGEST_TASK_S = 300.0
#: tasks that wait for a worker's turn; a page that asks gets its answer long before
MOST_WAITING = 40


class TaskRefused(Refused):
    """What a task refused in its process; `code` is the error's family."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__({"write": 500, "full": 503}.get(code, 422), code, message)


class Worker:
    """One process, one task at a time; others wait their turn."""

    def __init__(self, name: str, warm: tuple[str, ...] = ()) -> None:
        """`warm` are modules that the process loads before its first task."""
        self.name = name
        self._warm = warm
        self._turn = asyncio.Lock()
        self._waiting = 0
        self._thread = ThreadPoolExecutor(1, thread_name_prefix=f"to {name}")
        self._process: BaseProcess | None = None
        self._link: Connection | None = None

    async def call(
        self,
        task: str,
        *args: Any,
        progress: Progress = lambda _words, _share: None,
        longest_s: float = LONGEST_TASK_S,
    ) -> Any:
        """Run a function in the process. To cancel the task that waits here ends the process.

        Args:
            task: 'package.module:function'; it gets a progress callable, then `args`.
            progress: called here, in the event loop.

        Raises:
            TaskRefused: see there; or too many wait already. RuntimeError: a fault; the process's
                log says more.
        """
        if self._waiting >= MOST_WAITING:
            raise TaskRefused("full", "There is too much to do at once. Wait a moment.")
        self._waiting += 1
        try:
            await self._turn.acquire()
        finally:
            self._waiting -= 1
        try:
            return await self._call(task, args, progress, longest_s)
        finally:
            self._turn.release()

    async def _call(
        self, task: str, args: tuple[Any, ...], progress: Progress, longest_s: float
    ) -> Any:
        link = self._ready()
        loop = asyncio.get_running_loop()
        try:
            async with asyncio.timeout(longest_s):
                # a process that is still loading reads nothing, and a pipe holds little
                await loop.run_in_executor(self._thread, link.send, (task, args))
                while True:
                    kind, value = await loop.run_in_executor(self._thread, link.recv)
                    if kind == "progress":
                        progress(*value)
                        continue
                    return _result(kind, value)
        except (EOFError, OSError):
            self.end()
            raise TaskRefused(
                "fault",
                "The work ended before it was done; perhaps there was too little memory. Close"
                " other programs and try again.",
            ) from None
        except TimeoutError:
            self.end()
            raise TaskRefused(
                "fault", "It took far too long and was stopped. Nothing was changed."
            ) from None
        except asyncio.CancelledError:
            self.end()
            raise

    def end(self) -> None:
        """End the process, if there is one."""
        process, self._process = self._process, None
        if process is not None and process.is_alive():
            process.kill()

    def close(self) -> None:
        """End for good."""
        self.end()
        self._thread.shutdown(wait=False, cancel_futures=True)

    def start(self) -> None:
        """Start the process before it is needed."""
        self._ready()

    def _ready(self) -> Connection:
        if self._process is None or not self._process.is_alive() or self._link is None:
            # a fresh interpreter: a copy of this one would hold its sockets and locks
            context = multiprocessing.get_context("spawn")
            ours, theirs = context.Pipe()
            process = context.Process(
                target=_serve, args=(theirs, self._warm), name=f"profiler {self.name}", daemon=True
            )
            process.start()
            theirs.close()
            self._process, self._link = process, ours
        return self._link


def _result(kind: str, value: Any) -> Any:
    if kind == "done":
        return value
    if kind == "refused":
        raise TaskRefused(*value)
    log.error("fault in a worker:\n%s", value)
    raise RuntimeError("fault in a worker")


def _serve(link: Connection, warm: tuple[str, ...]) -> None:
    """What a worker's process does until the other side goes away."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the terminal's Ctrl-C is the server's to handle
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    for module in warm:
        with suppress(ImportError):
            importlib.import_module(module)
    while True:
        try:
            task, args = link.recv()
        except (EOFError, OSError):
            return
        try:
            link.send(_done(link, task, args))
        except (BrokenPipeError, ConnectionResetError):
            return


def _done(link: Connection, task: str, args: tuple[Any, ...]) -> Told:
    module, _, name = task.partition(":")

    def progress(words: str, share: float) -> None:
        link.send(("progress", (words, round(min(max(share, 0.0), 1.0), 3))))

    try:
        function = getattr(importlib.import_module(module), name)
        return "done", function(progress, *args)
    except ProfilerError as error:
        return "refused", (code_of(error), str(error))
    except MemoryError:
        return "refused", (
            "photo",
            "There is not enough memory. Close other programs, or use smaller photos.",
        )
    except Exception:
        return "fault", traceback.format_exc()
