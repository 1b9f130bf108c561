"""Kill a program that writes to the archive, look at what it left, and do that hundreds of times.

A child process adds, edits and forgets in a loop and says on a pipe when an order was acknowledged.
The parent kills it (SIGKILL: nothing in the child can tidy up) after a random time, or the child
ends itself at the n-th file operation; then every acknowledged job is read back byte for byte and
the whole archive is verified.
"""

from __future__ import annotations

import os
import random
import select
import signal
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import func
from sqlalchemy import select as query

from profiler.archive import tables as t
from profiler.archive.database import Archive, open_archive
from profiler.archive.entries import Details
from profiler.archive.erase import finish_erasures, forget_instrument
from profiler.archive.find import entries, measurement_bytes
from profiler.archive.keep import add_job, edit
from profiler.archive.place import place_of
from profiler.archive.verify import verify
from tests.archive.made import quick_job

#: what the interpreter reports (PEP 578) before it does something to a file
FILE_EVENTS = ("open", "os.rename", "os.remove", "os.mkdir", "os.link", "os.truncate")
EXIT_HERE = 77


@dataclass
class Tally:
    """What many kills did."""

    kills: int = 0
    acknowledged: int = 0
    rows_lost: int = 0
    bytes_lost: int = 0
    half_jobs: int = 0
    problems: list[str] = field(default_factory=list)

    def row(self, name: str) -> str:
        return (
            f"| {name} | {self.kills} | {self.acknowledged} | {self.rows_lost} |"
            f" {self.bytes_lost} | {self.half_jobs} |"
        )


def work(place: str, seeds: range, say: Callable[[str], None]) -> None:
    """What the child does: adds, and after every third job an edit and a forgetting."""
    with open_archive(place_of(place), make=True) as archive:
        finish_erasures(archive)
        for seed in seeds:
            kept = add_job(archive, quick_job(seed), Details())
            say(f"added {seed} {kept.instrument}")
            if seed % 3 == 1:
                edit(archive, kept.instrument, Details(notes=f"note {seed}"))
                say(f"edited {seed} {kept.instrument}")
            if seed % 3 == 2:
                say(f"forgetting {seed} {kept.instrument}")
                forget_instrument(archive, kept.instrument)
                say(f"forgot {seed} {kept.instrument}")


def child(place: str, seeds: range, stop_at: int | None) -> tuple[int, int]:
    """Start it. Returns its number and the pipe's end to read from."""
    reader, writer = os.pipe()
    pid = os.fork()
    if pid:
        os.close(writer)
        return pid, reader
    os.close(reader)
    code = 0
    try:
        if stop_at is not None:
            _stop_at(stop_at, place)
        work(place, seeds, lambda line: _say(writer, line))
    except BaseException as error:
        _say(writer, f"failed {error!r}")
        code = 1
    os._exit(code)


def _say(writer: int, line: str) -> None:
    os.write(writer, f"{line}\n".encode())


def _stop_at(number: int, place: str) -> None:
    """End the process at the n-th operation on a file of the archive, before it is done."""
    count = 0

    def hook(event: str, arguments: tuple[object, ...]) -> None:
        nonlocal count
        if event in FILE_EVENTS and place in str(arguments[0]):
            count += 1
            if count == number:
                os._exit(EXIT_HERE)

    sys.addaudithook(hook)


def heard(reader: int, until: float) -> list[str]:
    """Lines until a time, or until the child is done."""
    data = b""
    while (left := until - time.monotonic()) > 0:
        ready, _, _ = select.select([reader], [], [], left)
        if ready:
            more = os.read(reader, 65536)
            if not more:
                break
            data += more
    return data.decode().splitlines()


def rest(reader: int) -> list[str]:
    data = b""
    while more := os.read(reader, 65536):
        data += more
    os.close(reader)
    return data.decode().splitlines()


def kill_many(place: str, kills: int, seed: int = 1, longest_s: float = 0.25) -> Tally:
    """Kill so many children at random times, all on one archive that grows meanwhile."""
    rng, tally = random.Random(seed), Tally()
    alive: dict[int, int] = {}
    for shape in range(6):
        quick_job(shape)  # so that the child has them made
    for turn in range(kills):
        pid, reader = child(place, range(100 * turn, 100 * turn + 99), None)
        lines = heard(reader, time.monotonic() + rng.uniform(0.005, longest_s))
        os.kill(pid, signal.SIGKILL)
        lines += rest(reader)
        _, status = os.waitpid(pid, 0)
        tally.kills += os.WIFSIGNALED(status)
        account(lines, alive, tally)
        inspect(place, alive, tally, everything=turn % 20 == 19 or turn == kills - 1)
    return tally


def stop_everywhere(fresh: Callable[[], str], first: int = 1, step: int = 1) -> Tally:
    """End a child at its first file operation, then at its second … until it gets through."""
    tally, number = Tally(), first
    while True:
        place = fresh()
        pid, reader = child(place, range(4), number)
        lines = rest(reader)
        _, status = os.waitpid(pid, 0)
        code = os.waitstatus_to_exitcode(status)
        if code not in (0, EXIT_HERE):
            tally.problems.append(f"stop {number}: exit {code} {lines[-1:]}")
        alive: dict[int, int] = {}
        tally.kills += code == EXIT_HERE
        account(lines, alive, tally)
        inspect(place, alive, tally, everything=True)
        if code != EXIT_HERE:
            return tally
        number += step


def account(lines: list[str], alive: dict[int, int], tally: Tally) -> None:
    """Which jobs must be there now: seed to instrument; what is being forgotten may be either."""
    for line in lines:
        word, _, numbers = line.partition(" ")
        if word == "failed":
            tally.problems.append(line)
            continue
        tally.acknowledged += word in ("added", "edited", "forgot")
        seed, instrument = map(int, numbers.split())
        if word == "added":
            alive[seed] = instrument
        elif word == "forgetting":
            del alive[seed]


def inspect(place: str, alive: dict[int, int], tally: Tally, everything: bool) -> None:
    """Read every acknowledged job back; `everything`: verify the archive as well."""
    folder = Path(place)
    if "://" not in place and not (folder / "archive.db").exists():
        tally.rows_lost += len(alive)
        return
    with open_archive(place_of(place), make=True) as archive:
        finish_erasures(archive)
        _read_back(archive, alive, tally)
        if everything:
            found = verify(archive)
            tally.problems += [str(p) for p in found.problems if p.loss]


def _read_back(archive: Archive, alive: dict[int, int], tally: Tally) -> None:
    with archive.read() as connection:
        there = {e.id: e for e in entries(connection, sorted(alive.values()))}
        for seed, number in alive.items():
            made = quick_job(seed)
            entry = there.get(number)
            if entry is None:
                tally.rows_lost += 1
                continue
            if measurement_bytes(connection, entry.latest) != made.raw:
                tally.bytes_lost += len(made.raw)
            for file in made.files:
                data = archive.files.get(connection, file.sha256) or b""
                tally.bytes_lost += len(file.data or b"") if data != file.data else 0
            if len(entry.latest.files) != len(made.files):
                tally.half_jobs += 1
        revisions = connection.execute(query(func.count()).select_from(t.revision)).scalar()
        for table in (t.measurement, t.shape, t.plan):
            rows = connection.execute(query(func.count()).select_from(table)).scalar()
            tally.half_jobs += abs(int(rows or 0) - int(revisions or 0))
        lonely = connection.execute(
            query(func.count())
            .select_from(t.instrument.outerjoin(t.revision))
            .where(t.revision.c.id.is_(None))
        ).scalar()
        tally.half_jobs += int(lonely or 0)
