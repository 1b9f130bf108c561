"""Refusals and findings that have a place are marked there, in px of the page's picture."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import cv2
import numpy as np

from tests.web.conftest import Asker

SAMPLE = Path(__file__).parents[2] / "profiler" / "web" / "sample"


def measured_from(ask: Asker, photo: np.ndarray[Any, Any], marked: str) -> tuple[Any, Any]:
    """Job and view of a photo that cannot be measured."""
    job = ask.post("/api/jobs", {"name": marked}, 201)["id"]
    for record in ("mat.json", "cards.json"):
        content = (SAMPLE / record).read_bytes()
        headers = {"Content-Type": "application/json"}
        sent = ask.http.post(f"/api/jobs/{job}/records", content=content, headers=headers)
        assert sent.status_code == 201, sent.text
    data = cv2.imencode(".jpg", photo, [cv2.IMWRITE_JPEG_QUALITY, 95])[1].tobytes()
    assert ask.http.post(f"/api/jobs/{job}/photos?name=a.jpg", content=data).status_code == 201
    return ask.measured(job), ask.get(f"/api/jobs/{job}/view")


def sample() -> np.ndarray[Any, Any]:
    return np.asarray(cv2.imread(str(SAMPLE / "photo-1.jpg")))


def test_what_lies_beside_it_is_marked_where_it_lies(ask: Asker) -> None:
    photo = sample()
    cv2.rectangle(photo, (1550, 1365), (1665, 1480), (40, 60, 30), -1)
    job, view = measured_from(ask, photo, "Two things")
    (mark,) = view["marks"]
    assert mark["level"] == "stop" and mark["message"] == job["problem"]["message"]
    x, y = np.array(mark["lines"][0]).mean(axis=0)
    # the picture is the photo undistorted: the same place to a few px
    assert abs(x - 1607) < 25 and abs(y - 1422) < 25 and mark["closed"]
    assert view["edge"] is None


def test_where_it_leaves_the_photo_is_marked(ask: Asker) -> None:
    job, view = measured_from(ask, sample()[:, :1980], "No headstock")
    (mark,) = view["marks"]
    assert "headstock" in job["problem"]["message"]
    assert np.array(mark["lines"][0])[:, 0].min() > 0.96 * view["size"][0]


def test_findings_with_a_place_are_marked(ask: Asker, wren: Any) -> None:
    view = ask.get(f"/api/jobs/{wren['id']}/view")
    found = ask.get(f"/api/jobs/{wren['id']}/measurement")["findings"]
    told = {(f["code"], f["message"]) for f in found}
    marks = view["marks"]
    assert marks and all((m["code"], m["message"]) in told for m in marks)
    tuners = next(m for m in marks if m["code"] == 511)
    edge = np.array(view["edge"]["points"])
    mine = edge[np.array(view["edge"]["part"]) == "tuners"]
    ends = np.vstack([np.array(line) for line in tuners["lines"]])
    assert not tuners["closed"]
    assert np.abs(ends.mean(axis=0) - mine.mean(axis=0)).max() < 15


def test_a_correction_that_is_not_taken_has_its_place(ask: Asker) -> None:
    job = ask.measured(ask.sample()["id"])
    add = {"kind": "move", "at": [30.0, 40.0], "to": [60.0, 40.0], "reach_mm": 10}
    body = {"revision": job["revision"], "add": add}
    ask.post(f"/api/jobs/{job['id']}/corrections", body, 202)
    now = ask.rest(job["id"])
    assert now["refused"] and now["corrections"]["done"] == []
    assert np.abs(np.array(now["refused_at"]) - [[30.0, 40.0], [60.0, 40.0]]).max() < 0.1
    edge = ask.get(f"/api/jobs/{job['id']}/view")["edge"]["points"]
    good = {"kind": "move", "at": edge[10], "to": edge[10], "reach_mm": 10}
    body = {"revision": now["revision"], "add": good}
    ask.post(f"/api/jobs/{job['id']}/corrections", body, 202)
    assert ask.rest(job["id"])["refused_at"] == []
