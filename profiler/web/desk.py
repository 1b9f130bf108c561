"""One job on the bench: changes in order, one at a time, and the work behind them.

Every change names the revision that it starts from. Two open pages cannot overwrite each other: the
slower one is told, and nothing is changed. What was changed is on the disk before the answer goes
out; what follows from it is worked out behind, and an event tells when it is there.
"""

from __future__ import annotations

import asyncio
import logging
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from profiler.errors import ProfilerError
from profiler.jobs.beside import CARDS_NAME, MAT_NAME, UPRIGHT_NAME
from profiler.jobs.corrections import Correction, Corrections
from profiler.jobs.reading import JobNotes
from profiler.silhouette.strokes import CutOut, Moved, Redrawn
from profiler.web.answers import Refused, code_of
from profiler.web.folder import JobPlace, JobState, corrections_key, has, roles
from profiler.web.results import JobResults
from profiler.web.tasks.orders import Done, Order
from profiler.web.workers import TaskRefused

if TYPE_CHECKING:
    from profiler.web.bench import Bench

log = logging.getLogger("profiler.web")

FAULT = (
    "fault",
    "Sorry, this is a fault of the program, not yours. The terminal where 'profiler serve' runs"
    " says more.",
)


@dataclass
class Work:
    """What is being done for a job."""

    kind: str
    words: str = "waiting for its turn"
    share: float = 0.0

    def told(self) -> dict[str, Any]:
        """As the contract says."""
        return {"kind": self.kind, "words": self.words, "share": self.share}


class Desk:
    """A job's changes and its work."""

    def __init__(self, bench: Bench, place: JobPlace) -> None:
        self.bench = bench
        self.place = place
        self.lock = asyncio.Lock()
        self.work: Work | None = None
        self._task: asyncio.Task[None] | None = None
        self._again = False
        self.results = JobResults(place)

    async def change(
        self,
        revision: int | None,
        how: Callable[[JobState], JobState],
        corrections: Corrections | None = None,
    ) -> JobState:
        """Change what is remembered of the job.

        Args:
            revision: that the change starts from; None where it does not matter.
            how: the new state from the old one.
            corrections: kept with it.

        Raises:
            Refused: another page was quicker.
        """
        async with self.lock:
            return await self._change(revision, how, corrections)

    async def _change(
        self,
        revision: int | None,
        how: Callable[[JobState], JobState],
        corrections: Corrections | None = None,
    ) -> JobState:
        state = await asyncio.to_thread(self.place.state)
        check_revision(state, revision)
        new = replace(how(state), revision=state.revision + 1)
        if corrections is not None:
            await asyncio.to_thread(self.place.keep_corrections, corrections)
        await asyncio.to_thread(self.place.keep, new)
        self.bench.hub.tell("job", id=self.place.id, revision=new.revision)
        return new

    async def note(self, how: Callable[[JobState], JobState]) -> None:
        """Remember what the program itself has found out; no page's change is overtaken by it."""
        async with self.lock:
            state = await asyncio.to_thread(self.place.state)
            if (new := how(state)) != state:
                await asyncio.to_thread(self.place.keep, new)
        self.bench.hub.tell("job", id=self.place.id)

    async def bump(self) -> JobState:
        """The next revision, for a change of the job's results; the caller holds `lock`."""
        return await self._change(None, lambda state: state)

    async def correct(self, revision: int, how: Callable[[Corrections], Corrections]) -> JobState:
        """Change the corrections and measure again behind.

        Raises:
            Refused: another page was quicker, or the job is being measured.
        """
        if self.work is not None and self.work.kind == "measure":
            raise busy()
        async with self.lock:
            before = await asyncio.to_thread(self.place.corrections)
            new = await self._change(
                revision, lambda s: replace(s, refused="", refused_at=()), how(before)
            )
        self.begin("correct")
        return new

    def begin(self, kind: str) -> None:
        """Measure in the worker; once more afterwards if it is being done already.

        Raises:
            Refused: it is being measured.
        """
        if self._task is not None and not self._task.done():
            if kind == "measure" or (self.work is not None and self.work.kind == "measure"):
                raise busy()
            self._again = True
            return
        self.work = Work(kind)
        self._task = asyncio.create_task(self._run(kind))

    async def cancel(self) -> None:
        """Stop what is being done; nothing of it is written."""
        task = self._task
        if task is not None and not task.done():
            self._again = False
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)

    async def _run(self, kind: str) -> None:
        try:
            while True:
                self._again = False
                await self._measure(kind)
                if not self._again:
                    return
        except asyncio.CancelledError:
            log.info("stopped by the user: %s", self.place.id)
        except Exception:
            log.exception("fault while measuring %s", self.place.id)
            await self._settle(Done(problem=FAULT))
        finally:
            self.results.ahead = None
            self.work = None
            self.bench.hub.tell("job", id=self.place.id)

    async def _measure(self, kind: str) -> None:
        state = await asyncio.to_thread(self.place.state)
        if kind == "measure":
            await asyncio.to_thread(self.lay_records, state)
        corrections = await asyncio.to_thread(self.place.corrections)
        seen = await asyncio.to_thread(self.place.bench_json, "view.json")
        aside = self.place.side_path(state)
        order = Order(
            photos=self._photos(state, corrections),
            corrections=corrections,
            notes=JobNotes(state.name, state.customer),
            sides=() if aside is None else (aside,),
            units=state.units,
            inch_step=state.inch_step,
            accept_crop=state.accept_crop,
            shown=str(seen.get("key", "")) if isinstance(seen, dict) else "",
        )
        try:
            done: Done = await self.bench.measuring.call(
                "profiler.web.tasks.measuring:measure", order, progress=self._progress
            )
        except TaskRefused as refused:
            done = Done(problem=(refused.code, refused.message))
        if done.problem and done.problem[0] == "request" and corrections.done:
            await asyncio.shield(self._take_back(corrections, done.problem[1]))
            return
        if done.files:
            if self.work is not None and kind == "correct":
                # the page need not wait for the overlay; the disk gets all at once, afterwards
                files = await asyncio.to_thread(self.results.with_sections, done.files)
                self.results.ahead = replace(done, files=files)
                self.work = Work("report", "drawing the overlay", 0.95)
                self.bench.hub.tell("job", id=self.place.id)
            if self._again:
                self.work = Work(kind)
                return  # a hand has corrected again: nobody needs a report of this
            done = await self._with_report(done, order)
        await asyncio.shield(self._settle(done, order))

    async def _with_report(self, done: Done, order: Order) -> Done:
        try:
            drawn: dict[str, bytes] = await self.bench.measuring.call(
                "profiler.web.tasks.measuring:report", order
            )
        except TaskRefused as refused:
            return Done(problem=(refused.code, refused.message))
        return replace(done, files={**drawn, **done.files})

    async def catch_up(self) -> None:
        """Work in what was corrected before the server ended or its work was stopped."""
        if self.work is not None:
            return
        state = await asyncio.to_thread(self.place.state)
        if not state.worked_in or not self.place.photo_paths(state):
            return
        if await asyncio.to_thread(self.place.corrections_key) != state.worked_in:
            self.begin("correct")

    def _photos(self, state: JobState, corrections: Corrections) -> tuple[Path, ...]:
        """The photos; that in which a hand corrected the edge goes first."""
        photos = self.place.photo_paths(state)
        return tuple(
            sorted(photos, key=lambda p: bool(corrections.strokes) and p.name != corrections.photo)
        )

    def _progress(self, words: str, share: float) -> None:
        if self.work is not None:
            self.work.words, self.work.share = words, share
            self.bench.hub.tell("work", id=self.place.id, **self.work.told())

    async def _take_back(self, tried: Corrections, why: str) -> None:
        """A correction that makes no sense is not kept: the results stay those without it."""
        async with self.lock:
            now = await asyncio.to_thread(self.place.corrections)
            if now.done[: len(tried.done)] == tried.done:  # else the user has taken it back
                done = (*tried.done[:-1], *now.done[len(tried.done) :])
                now = replace(now, done=done)
            at = _places_of(tried.done[-1])
            await self._change(None, lambda s: replace(s, refused=why, refused_at=at), now)
        self._again = True

    async def _settle(self, done: Done, order: Order | None = None) -> None:
        """Write what came of it, and say so."""
        used: set[str] = set()
        if order is not None and done.files:
            used = {p.name for p in (*order.photos, *order.sides)}
        try:
            key = await asyncio.to_thread(self.place.corrections_key)
            if order is not None:
                key = corrections_key(order.corrections)
            async with self.lock:
                await asyncio.to_thread(self.results.write, done)
                self.results.ahead = None
                await self._change(
                    None,
                    lambda s: replace(
                        s,
                        problem=done.problem,
                        used=done.used or s.used,
                        worked_in=key,
                        measured_with=roles((n for n, _ in s.photos if n in used), done.side)
                        if used
                        else s.measured_with,
                        side=done.side if has(s, done.side) else s.side,
                    ),
                )
        except ProfilerError as error:
            log.warning("results of %s could not be written: %s", self.place.id, error)
            async with self.lock:
                said = (code_of(error), str(error))
                await self._change(None, lambda s: replace(s, problem=said))

    def lay_records(self, state: JobState) -> None:
        """The bench's records of mat and cards, copied beside the photo."""
        if state.own_records:
            return
        for name in (MAT_NAME, CARDS_NAME, UPRIGHT_NAME):
            source = self.bench.options.folder / name
            if source.is_file():
                shutil.copyfile(source, self.place.path / name)


def _places_of(correction: Correction) -> tuple[tuple[float, float], ...]:
    """Where it was made, px of the photo; () for a height."""
    if isinstance(correction, Moved):
        return (correction.at, correction.to)
    if isinstance(correction, Redrawn):
        return correction.path
    return correction.area if isinstance(correction, CutOut) else ()


def busy() -> Refused:
    """Not now."""
    return Refused(409, "busy", "This job is being measured. Wait for it, or stop it first.")


def check_revision(state: JobState, revision: int | None) -> None:
    """Raises:
    Refused: another page was quicker.
    """
    if revision is not None and revision != state.revision:
        raise Refused(
            409,
            "stale",
            "This job was changed in another window or on the phone meanwhile. Nothing was changed"
            " here; look at it as it is now and do it again.",
            revision=state.revision,
        )


class Desks:
    """A desk for each job that is being worked on."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._desks: dict[str, Desk] = {}

    def desk(self, job_id: str) -> Desk:
        """Raises:
        Refused: there is no such job.
        """
        place = self._bench.jobs.place(job_id)
        desk = self._desks.get(job_id)
        if desk is None:
            desk = self._desks[job_id] = Desk(self._bench, place)
        return desk

    def work_of(self, job_id: str) -> dict[str, Any] | None:
        """What is being done for a job, if anything."""
        desk = self._desks.get(job_id)
        return None if desk is None or desk.work is None else desk.work.told()

    def forget(self, job_id: str) -> None:
        """The job is gone."""
        self._desks.pop(job_id, None)

    async def close(self) -> None:
        """Stop all work."""
        for desk in self._desks.values():
            await desk.cancel()
