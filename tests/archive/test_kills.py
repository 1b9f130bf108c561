"""A killed program, a full disk, two programs at once: what was acknowledged is there, whole."""

from __future__ import annotations

import itertools
import os
import resource
import signal
from collections.abc import Callable
from pathlib import Path

import pytest

from profiler.archive.database import Archive, open_archive
from profiler.archive.entries import Details
from profiler.archive.find import Wanted, find
from profiler.archive.keep import add_job
from profiler.archive.place import place_of
from profiler.archive.verify import tidy, verify
from profiler.errors import OutputError
from tests.archive import kills
from tests.archive.made import job, quick_job

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")


def no_loss(tally: kills.Tally) -> None:
    assert tally.problems == []
    assert (tally.rows_lost, tally.bytes_lost, tally.half_jobs) == (0, 0, 0)


def test_killed_at_random_times(tmp_path: Path) -> None:
    tally = kills.kill_many(str(tmp_path / "archive"), 18)
    no_loss(tally)
    assert tally.kills > 14 and tally.acknowledged > 3  # it was in the middle of something


def test_stopped_at_file_operations_one_after_the_other(tmp_path: Path) -> None:
    count = itertools.count()
    tally = kills.stop_everywhere(lambda: str(tmp_path / f"a{next(count)}"), step=5)
    no_loss(tally)
    assert tally.kills > 5


def test_the_check_notices_a_loss(shelf: Archive) -> None:
    """Break the archive by hand: the tally that the others trust must see it."""
    alive = {}
    for seed in (0, 1):
        kept = add_job(shelf, quick_job(seed), Details())
        alive[seed] = kept.instrument
    photo = quick_job(1).files[0].sha256
    with shelf.write() as connection:
        shelf.files.remove(connection, photo)
        connection.exec_driver_sql("DELETE FROM plan WHERE revision_id = 1")
    tally = kills.Tally()
    alive[2] = 99
    kills.inspect(shelf.place.shown, alive, tally, everything=True)
    assert tally.rows_lost == 1 and tally.half_jobs == 1
    assert tally.bytes_lost == len(quick_job(1).files[0].data or b"")
    assert any("missing" in p for p in tally.problems)


def test_two_programs_add_at_the_same_time(tmp_path: Path) -> None:
    place = str(tmp_path / "archive")
    open_archive(place_of(place), make=True).close()
    children = [kills.child(place, range(at, at + 8), None) for at in (0, 100, 200)]
    lines = [line for _, reader in children for line in kills.rest(reader)]
    for pid, _ in children:
        assert os.waitpid(pid, 0)[1] == 0, lines
    tally, alive = kills.Tally(), dict[int, int]()
    kills.account(lines, alive, tally)
    kills.inspect(place, alive, tally, everything=True)
    no_loss(tally)
    assert len(alive) == len(set(alive.values())) == 16  # 24 less the 8 that were forgotten


def in_child(do: Callable[[], int]) -> int:
    pid = os.fork()
    if not pid:
        try:
            code = do()
        except BaseException:
            code = 99
        os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])


@pytest.mark.parametrize("room", [1000, 60_000, 140_000, 200_000])
def test_a_disk_that_is_full_changes_nothing(tmp_path: Path, room: int) -> None:
    """No file may grow beyond `room` bytes, as on a disk that fills up halfway."""
    place = place_of(str(tmp_path / "archive"))
    with open_archive(place, make=True) as archive:
        add_job(archive, job(0, "first"), Details())

    def fill() -> int:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
        with open_archive(place) as archive:
            for seed in range(1, 40):
                try:
                    add_job(archive, quick_job(seed), Details())
                except OutputError as error:
                    return 6 if "full" in str(error) or "large" in str(error) else 7
        return 0

    assert in_child(fill) == 6
    with open_archive(place) as archive:
        tidy(archive)
        found = verify(archive)
        assert found.problems == () and found.instruments >= 1
        add_job(archive, job(5, "after"), Details())
        assert find(archive, Wanted(words="after"))[1] == 1
