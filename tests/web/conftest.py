"""A running server: the installed program in a process of its own, asked over HTTP."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import pytest

OURS = {"X-Profiler": "1"}
#: s: far more than anything takes; only a hang gets there
PATIENCE_S = 240.0


@dataclass
class Server:
    """A server's process and how to ask it."""

    process: subprocess.Popen[str]
    port: int
    folder: Path
    data: Path
    log: Path

    @property
    def base(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def client(self, **more: Any) -> httpx.Client:
        headers = {**OURS, **more.pop("headers", {})}
        return httpx.Client(
            base_url=more.pop("base", self.base), headers=headers, timeout=PATIENCE_S, **more
        )


@dataclass
class Asker:
    """Asks as the page does and waits as the page does."""

    http: httpx.Client

    def get(self, path: str) -> Any:
        answer = self.http.get(path)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def post(self, path: str, body: dict[str, Any] | None = None, status: int = 200) -> Any:
        answer = self.http.post(path, json=body or {})
        assert answer.status_code == status, answer.text
        return answer.json()

    def job(self, job_id: str) -> Any:
        return self.get(f"/api/jobs/{job_id}")

    def rest(self, job_id: str) -> Any:
        """The job once no work is left."""
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            job = self.job(job_id)
            if job["work"] is None:
                return job
            time.sleep(0.1)
        raise AssertionError("the work did not end")

    def checked(self, job_id: str, photo: int = 0) -> Any:
        """A photo once it was looked at."""
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            found = self.job(job_id)["photos"][photo]
            if found["check"] is not None:
                return found
            time.sleep(0.1)
        raise AssertionError("the photo was not looked at")

    def measured(self, job_id: str) -> Any:
        job = self.job(job_id)
        self.post(f"/api/jobs/{job_id}/measure", {"revision": job["revision"]}, 202)
        return self.rest(job_id)

    def sample(self) -> Any:
        return self.post("/api/jobs/sample", status=201)


def started(folder: Path, *options: str) -> Server:
    """Start one; it answers when this returns."""
    work, data, log = folder / "work", folder / "data", folder / "log.txt"
    data.mkdir(parents=True, exist_ok=True)
    environment = {
        **os.environ,
        "XDG_DATA_HOME": str(data),
        "HOME": str(folder),
        "PYTHONUNBUFFERED": "1",
    }
    command = [sys.executable, "-c", "from profiler.cli.main import run; run()", "serve"]
    process = subprocess.Popen(
        [*command, str(work), "--no-browser", "--port", "0", *options],
        stdout=subprocess.PIPE,
        stderr=log.open("w"),
        text=True,
        env=environment,
    )
    assert process.stdout is not None
    line = process.stdout.readline()
    found = re.search(r":(\d+)/", line)
    assert found, f"{line!r} {log.read_text()}"
    return Server(process, int(found[1]), work, data, log)


def ended(server: Server) -> None:
    server.process.terminate()
    try:
        server.process.wait(20)
    except subprocess.TimeoutExpired:
        server.process.kill()
        server.process.wait()


@contextmanager
def running(folder: Path, *options: str) -> Iterator[Server]:
    """One that is ended whatever happens."""
    server = started(folder, *options)
    try:
        yield server
    finally:
        ended(server)


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One server for all tests; each makes jobs of its own."""
    running = started(tmp_path_factory.mktemp("web"))
    yield running
    ended(running)


@pytest.fixture
def ask(server: Server) -> Iterator[Asker]:
    with server.client() as client:
        yield Asker(client)


@pytest.fixture(scope="session")
def wren(server: Server) -> Any:
    """The sample, measured once; tests that change it take their own."""
    with server.client() as client:
        asker = Asker(client)
        return asker.measured(asker.sample()["id"])


def error_of(answer: httpx.Response) -> dict[str, Any]:
    """The error in an answer, which shows nothing of the program's inside."""
    text = answer.text
    assert "Traceback" not in text and ".py" not in text and "site-packages" not in text, text
    found: dict[str, Any] = json.loads(text)["error"]
    assert found["message"].strip().endswith((".", "?", ")")), found
    return found
