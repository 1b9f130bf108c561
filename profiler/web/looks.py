"""Looking at photos that have just come, behind: a small copy and a check for each."""

from __future__ import annotations

import asyncio
from dataclasses import replace

from profiler.jobs.results import record_bytes
from profiler.web.bench import Bench
from profiler.web.desk import Desk
from profiler.web.folder import has, put
from profiler.web.workers import TaskRefused


class Looks:
    """What is being looked at, each photo once."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._checks: dict[tuple[str, str], asyncio.Task[None]] = {}

    def begin(self, desk: Desk, name: str) -> None:
        """Check a photo behind, and tell when it is done."""
        key = (desk.place.id, name)
        if key in self._checks:
            return
        self._checks[key] = task = asyncio.create_task(self._check(desk, name))
        task.add_done_callback(lambda _task: self._checks.pop(key, None))

    def again(self, desk: Desk, name: str) -> None:
        """Check a photo anew: what it is measured as, or with, has changed."""
        (desk.place.bench / f"{name}.check.json").unlink(missing_ok=True)
        self.begin(desk, name)

    async def _check(self, desk: Desk, name: str) -> None:
        place, hub = desk.place, self._bench.hub
        path = place.path / name
        try:
            state = await asyncio.to_thread(place.state)
            await asyncio.to_thread(desk.lay_records, state)
            small = await self._bench.drawing.call(
                "profiler.web.tasks.checking:small_copy", path, longest_s=60.0
            )
            if small is not None:
                await asyncio.to_thread(put, place.bench_file(f"{name}.small.jpg"), small)
                hub.tell("photo", id=place.id, photo=name)
            found = await self._bench.measuring.call(
                "profiler.web.tasks.checking:check",
                path,
                state.accept_crop,
                state.side == name,
                longest_s=90.0,
            )
        except FileNotFoundError:
            return  # the job was removed meanwhile
        except (TaskRefused, RuntimeError) as error:
            message = error.message if isinstance(error, TaskRefused) else "It cannot be opened."
            point = {"what": "photo", "ok": False, "weight": "stop", "message": message}
            found = {"ok": False, "points": [point], "hints": {}}
        if found.get("from_side"):
            await desk.note(lambda s: s if s.side or not has(s, name) else replace(s, side=name))
        if path.is_file():
            data = record_bytes(found)
            await asyncio.to_thread(put, place.bench_file(f"{name}.check.json"), data)
        hub.tell("photo", id=place.id, photo=name)
