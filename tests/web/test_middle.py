"""Ended in the middle: of an upload, of a correction, of a message to a worker."""

from __future__ import annotations

import asyncio
import json
import multiprocessing
import os
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from profiler.web.folder import JobState, WorkingFolder
from profiler.web.workers import Worker
from tests.web.conftest import Asker, ended, started


def correction(ask: Asker, job_id: str) -> dict[str, Any]:
    at = ask.get(f"/api/jobs/{job_id}/view")["edge"]["points"][300]
    return {"kind": "move", "at": at, "to": [at[0] + 25, at[1]], "reach_mm": 20}


def test_killed_while_a_correction_is_worked_in(tmp_path: Path) -> None:
    """What the hand did is on the disk, the numbers are old: they follow when the page looks."""
    server = started(tmp_path)
    try:
        with server.client() as client:
            ask = Asker(client)
            job = ask.measured(ask.sample()["id"])
            before = ask.get(f"/api/jobs/{job['id']}/measurement")
            body = {"revision": job["revision"], "add": correction(ask, job["id"])}
            ask.post(f"/api/jobs/{job['id']}/corrections", body, 202)
        server.process.kill()
        server.process.wait()
        folder = server.folder / job["id"]
        record = json.loads((folder / "measurement.json").read_text())
        assert record["outline"] and not list(folder.glob(".*.tmp"))
        assert len(json.loads((folder / "corrections.json").read_text())["done"]) == 1
    finally:
        ended(server)
    again = started(tmp_path)
    try:
        with again.client() as client:
            ask = Asker(client)
            ask.job(job["id"])
            now = ask.rest(job["id"])
            assert len(now["corrections"]["done"]) == 1 and now["problem"] is None
            assert ask.get(f"/api/jobs/{job['id']}/measurement")["outline"] != before["outline"]
            ask.job(job["id"])
            assert ask.job(job["id"])["work"] is None, "it does not begin again and again"
    finally:
        ended(again)


def test_stopped_while_a_correction_is_worked_in(ask: Asker) -> None:
    job = ask.measured(ask.sample()["id"])
    body = {"revision": job["revision"], "add": correction(ask, job["id"])}
    ask.post(f"/api/jobs/{job['id']}/corrections", body, 202)
    ask.post(f"/api/jobs/{job['id']}/cancel")
    now = ask.rest(job["id"])
    assert now["problem"] is None
    findings = ask.get(f"/api/jobs/{job['id']}/measurement")["findings"]
    assert 420 in {f["code"] for f in findings}, "the numbers are those of the corrections"


def test_what_an_upload_left_is_swept_away(tmp_path: Path) -> None:
    jobs = WorkingFolder(tmp_path)
    place = jobs.new(JobState(name="Heron"))
    old, new, photo = (place.path / n for n in (".0a.part", ".0b.part", "photo-1.jpg"))
    for path in (old, new, photo):
        path.write_bytes(b"half")
    os.utime(old, (time.time() - 7200,) * 2)
    os.utime(photo, (time.time() - 7200,) * 2)
    jobs.sweep()
    assert not old.exists() and new.exists() and photo.exists()


def test_a_worker_that_does_not_read_yet_holds_up_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    """While a process loads its pipe takes a few kB; the bench answers others all the same."""
    ours, theirs = multiprocessing.Pipe()
    drained = threading.Event()

    def drain() -> None:
        drained.set()
        theirs.recv()
        theirs.send(("done", 5))

    late = threading.Timer(8.0, drain)

    async def run() -> tuple[bool, Any]:
        worker = Worker("slow")
        monkeypatch.setattr(worker, "_ready", lambda: ours)
        late.start()
        task = asyncio.create_task(worker.call("module:task", b"x" * 4_000_000))
        await asyncio.sleep(0.1)
        free = not drained.is_set()
        late.cancel()
        if free:
            await asyncio.to_thread(drain)
        return free, await task

    # a thread of its own: a browser's test before this one may have left a loop in this one
    with ThreadPoolExecutor(1) as beside:
        free, value = beside.submit(lambda: asyncio.run(run())).result()
    assert free, "the event loop stood still until the process read"
    assert value == 5
