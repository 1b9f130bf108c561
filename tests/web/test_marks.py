"""Refusals and findings that have a place are marked there, in px of the page's picture."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import cv2
import numpy as np

from profiler.findings import Finding, Level
from profiler.pipeline.job import JobWishes, run_job
from profiler.web.marks import finding_marks
from profiler.web.picture import whole_view
from tests.web.conftest import Asker

SAMPLE = Path(__file__).parents[2] / "profiler" / "web" / "sample"


def measured_from(
    ask: Asker, photo: np.ndarray[Any, Any], marked: str, seen: bool = True
) -> tuple[Any, Any]:
    """Job and view of a photo that cannot be measured."""
    job = ask.post("/api/jobs", {"name": marked}, 201)["id"]
    for record in ("mat.json", "cards.json"):
        content = (SAMPLE / record).read_bytes()
        headers = {"Content-Type": "application/json"}
        sent = ask.http.post(f"/api/jobs/{job}/records", content=content, headers=headers)
        assert sent.status_code == 201, sent.text
    data = cv2.imencode(".jpg", photo, [cv2.IMWRITE_JPEG_QUALITY, 95])[1].tobytes()
    assert ask.http.post(f"/api/jobs/{job}/photos?name=a.jpg", content=data).status_code == 201
    return ask.measured(job), ask.get(f"/api/jobs/{job}/view") if seen else None


def sample() -> np.ndarray[Any, Any]:
    return np.asarray(cv2.imread(str(SAMPLE / "photo-1.jpg")))


def test_what_lies_beside_it_is_marked_where_it_lies(ask: Asker) -> None:
    photo = sample()
    cv2.rectangle(photo, (1550, 1365), (1665, 1480), (40, 60, 30), -1)
    job, view = measured_from(ask, photo, "Two things")
    (mark,) = view["marks"]
    assert mark["level"] == "stop" and mark["message"] == job["problem"]["message"]
    # where it lies on the mat, from the photo without it and with its phone's lens record
    plain = run_job(JobWishes(photos=(SAMPLE / "photo-1.jpg",)))
    place = plain.result.scene.cameras[0].at_height(np.array([[1607.5, 1422.5]]), 0.0)[0]
    ray = np.array(view["camera"]["px"]) @ ([*place, 0.0] - np.array(view["camera"]["centre"]))
    ring = np.array(mark["lines"][0])
    assert np.abs(np.ptp(ring, axis=0) - 126).max() < 15 and mark["closed"]
    assert np.abs((ring.min(axis=0) + ring.max(axis=0)) / 2 - ray[:2] / ray[2]).max() < 8
    assert view["edge"] is None


def test_glare_that_hides_all_is_marked(ask: Asker) -> None:
    """The photo alone refuses it, before any scene: the ring is in the photo's own check."""
    photo = sample()
    height = len(photo)
    photo[: int(0.92 * height)] = 255
    job, _ = measured_from(ask, photo, "Glare", seen=False)
    assert job["problem"]
    points = ask.checked(job["id"])["check"]["points"]
    (point,) = [p for p in points if p["weight"] == "stop"]
    assert point["what"] == "light" and point["places"], point
    x, y = np.array(point["places"][0]).mean(axis=0)
    assert abs(x - 0.5) < 0.1 and abs(y - 0.46) < 0.1


def test_a_sheet_that_rises_is_marked() -> None:
    """A finding that names a sheet is marked at that sheet's four corners."""
    wishes = JobWishes(photos=(SAMPLE / "photo-1.jpg",))
    job = run_job(wishes)
    scene = job.result.scene
    sheet = scene.sheets[0].panel
    view = whole_view(scene, job.photos[0].orientation)
    finding = Finding(204, Level.CAUTION, "It does not lie flat.", sheet.name)
    (mark,) = finding_marks(view, scene, [finding], job.measurement, job.result.edge)
    ring = np.array(mark["lines"][0])
    per_mm = float(np.mean(np.ptp(ring, axis=0))) / ((sheet.width + sheet.height) / 2)
    assert mark["closed"] and len(ring) == 4 and 0.5 < per_mm < 6


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
