"""Two open pages, and a page that comes late: nobody overwrites what the other did."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from tests.web.conftest import Asker, Server, error_of


def height(mm: float) -> dict[str, Any]:
    return {"kind": "height", "part": "top", "height": f"{mm}mm"}


def test_the_slower_of_two_pages_is_told(ask: Asker) -> None:
    job = ask.sample()
    body = {"revision": job["revision"], "name": "First"}
    first = ask.http.patch(f"/api/jobs/{job['id']}", json=body)
    second = ask.http.patch(f"/api/jobs/{job['id']}", json={**body, "name": "Second"})
    assert first.status_code == 200 and second.status_code == 409
    error = error_of(second)
    assert error["code"] == "stale" and error["revision"] == first.json()["revision"]
    assert ask.job(job["id"])["name"] == "First"


def test_of_many_at_once_one_wins(ask: Asker, server: Server) -> None:
    job = ask.sample()
    together = threading.Barrier(16)
    revision = job["revision"]

    def rename(n: int) -> list[int]:
        codes = []
        with server.client() as client:
            for turn in range(4):
                together.wait(60)
                body = {"revision": revision + turn, "name": f"Page {n}"}
                codes.append(client.patch(f"/api/jobs/{job['id']}", json=body).status_code)
        return codes

    with ThreadPoolExecutor(16) as pool:
        turns = zip(*pool.map(rename, range(16)), strict=True)
    for codes in turns:
        assert sorted(codes) == [200] + [409] * 15


def test_every_change_needs_a_revision(ask: Asker, wren: Any) -> None:
    base = f"/api/jobs/{wren['id']}"
    for method, path, body in (
        ("PATCH", base, {"name": "x"}),
        ("DELETE", base, {}),
        ("POST", f"{base}/measure", {}),
        ("POST", f"{base}/undo", {}),
        ("POST", f"{base}/corrections", {"add": height(80)}),
        ("DELETE", f"{base}/photos/photo-1.jpg", {}),
        ("POST", f"{base}/template", {"keep": True}),
    ):
        answer = ask.http.request(method, path, json=body)
        assert answer.status_code == 422, (method, path)
        assert "revision" in error_of(answer)["message"]
        late = ask.http.request(method, path, json={**body, "revision": wren["revision"] - 1})
        assert late.status_code in (409, 422), (method, path)
    assert ask.job(wren["id"])["revision"] == wren["revision"]


def test_a_job_that_is_measured_is_left_alone(ask: Asker) -> None:
    job = ask.sample()
    body = {"revision": job["revision"]}
    ask.post(f"/api/jobs/{job['id']}/measure", body, 202)
    again = ask.http.post(f"/api/jobs/{job['id']}/measure", json=body)
    assert again.status_code == 409 and error_of(again)["code"] == "busy"
    add = {**body, "add": height(80)}
    corrected = ask.http.post(f"/api/jobs/{job['id']}/corrections", json=add)
    assert corrected.status_code == 409 and error_of(corrected)["code"] == "busy"
    ask.rest(job["id"])
