"""Corrections on the page: recorded, undone, worked out by the same functions, honest about ±."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from profiler.jobs.corrections import read_corrections
from tests.web.conftest import Asker, Server, error_of


@pytest.fixture(scope="module")
def own(server: Server) -> Any:
    """A measured job of this file's own."""
    with server.client() as client:
        asker = Asker(client)
        return asker.measured(asker.sample()["id"])


def corrected(ask: Asker, job_id: str, add: dict[str, Any]) -> Any:
    body = {"revision": ask.job(job_id)["revision"], "add": add}
    ask.post(f"/api/jobs/{job_id}/corrections", body, 202)
    return ask.rest(job_id)


def back(ask: Asker, job_id: str) -> Any:
    """Without any correction again."""
    while (job := ask.rest(job_id))["corrections"]["done"]:
        ask.post(f"/api/jobs/{job_id}/undo", {"revision": job["revision"]}, 202)
    return job


def rows(ask: Asker, job_id: str) -> dict[str, Any]:
    return {r["key"]: r for r in ask.get(f"/api/jobs/{job_id}/measurement")["rows"]}


def waist(ask: Asker, job_id: str) -> tuple[dict[str, Any], int, np.ndarray]:
    """The view, the edge's index at one end of the waist, and the direction outward there."""
    view = ask.get(f"/api/jobs/{job_id}/view")
    edge = np.array(view["edge"]["points"])
    ends = next(s["ends"] for s in view["stations"] if s["key"] == "width:waist")
    i = int(np.argmin(np.hypot(*(edge - np.array(ends[1])).T)))
    outward = np.array(ends[1]) - np.array(ends[0])
    return view, i, outward / np.hypot(*outward)


def test_a_moved_point_moves_the_number_and_widens_its_doubt(ask: Asker, own: Any) -> None:
    before = rows(ask, own["id"])["width:waist"]
    view, i, outward = waist(ask, own["id"])
    at = np.array(view["edge"]["points"][i])
    shift_mm = 3.0
    to = at + outward * shift_mm * view["px_per_mm"]
    add = {"kind": "move", "at": at.tolist(), "to": to.tolist(), "reach_mm": 30}
    job = corrected(ask, own["id"], add)
    assert job["refused"] is None and job["corrections"]["done"][0]["kind"] == "move"
    assert job["corrections"]["done"][0]["to"] == pytest.approx(to.tolist(), abs=0.02)
    after = rows(ask, own["id"])["width:waist"]
    assert after["value"] - before["value"] == pytest.approx(shift_mm, abs=0.8)
    assert after["u95"] > before["u95"]
    measurement = ask.get(f"/api/jobs/{own['id']}/measurement")
    assert any("drawn by hand" in d["reason"] for d in measurement["doubtful"])
    assert any(f["code"] == 420 for f in measurement["findings"])
    seen = ask.get(f"/api/jobs/{own['id']}/view")["edge"]
    assert "hand" in seen["how"]
    # far from it nothing has changed
    after_nut = rows(ask, own["id"])["width:nut"]
    assert after_nut["u95"] < before["u95"] + 1
    back(ask, own["id"])
    assert rows(ask, own["id"])["width:waist"] == before


def test_a_tail_pulled_out_a_little_is_no_strap_button(ask: Asker, own: Any) -> None:
    """A narrow bump is told from a button, whose height would make it centimetres too long."""
    before = rows(ask, own["id"])["length"]
    view = ask.get(f"/api/jobs/{own['id']}/view")
    edge = np.array(view["edge"]["points"])
    tail, head = (np.array(p) for p in view["centreline"])
    at = edge[np.argmin(np.hypot(*(edge - tail).T))]
    out = (tail - head) / np.hypot(*(tail - head))
    to = at + 5.0 * view["px_per_mm"] * out
    corrected(ask, own["id"], {"kind": "move", "at": at.tolist(), "to": to.tolist()})
    after = rows(ask, own["id"])["length"]
    assert after["value"] - before["value"] == pytest.approx(5.0, abs=1.0)
    assert after["u95"] > before["u95"]
    back(ask, own["id"])


def test_a_stretch_drawn_badly_finds_the_edge_again(ask: Asker, own: Any) -> None:
    before = rows(ask, own["id"])["width:waist"]
    view, i, outward = waist(ask, own["id"])
    edge = np.array(view["edge"]["points"])
    some = [(i + d) % len(edge) for d in range(-40, 41)]
    bulge = 1.5 * np.cos(np.linspace(-np.pi / 2, np.pi / 2, 81))[:, None]
    path = edge[some] + bulge * outward * view["px_per_mm"]
    job = corrected(ask, own["id"], {"kind": "redraw", "path": path.tolist(), "snap": False})
    by_hand = rows(ask, own["id"])["width:waist"]
    assert by_hand["value"] - before["value"] == pytest.approx(1.5, abs=0.5)
    assert by_hand["u95"] > before["u95"]
    back(ask, own["id"])
    job = corrected(ask, own["id"], {"kind": "redraw", "path": path.tolist(), "snap": True})
    assert job["refused"] is None
    snapped = rows(ask, own["id"])["width:waist"]
    assert snapped["value"] == pytest.approx(before["value"], abs=0.3)
    assert snapped["u95"] < by_hand["u95"]
    back(ask, own["id"])


def test_a_piece_cut_out_is_bridged_and_in_doubt(ask: Asker, own: Any) -> None:
    before = rows(ask, own["id"])["width:waist"]
    view, i, _ = waist(ask, own["id"])
    at, r = np.array(view["edge"]["points"][i]), 12 * view["px_per_mm"]
    area = [(at + r * np.array(d)).tolist() for d in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    job = corrected(ask, own["id"], {"kind": "exclude", "area": area})
    assert job["refused"] is None
    after = rows(ask, own["id"])["width:waist"]
    assert after["value"] == pytest.approx(before["value"], abs=1.0)
    assert after["u95"] > before["u95"]
    found = ask.get(f"/api/jobs/{own['id']}/measurement")["doubtful"]
    assert any("carried across" in d["reason"] for d in found)
    back(ask, own["id"])


def test_undo_redo_and_taking_one_out(ask: Asker, own: Any) -> None:
    before = rows(ask, own["id"])
    for mm in (80, 90):
        add = {"kind": "height", "part": "top", "height": f"{mm}mm", "u95": "2mm"}
        corrected(ask, own["id"], add)
    assert rows(ask, own["id"])["height"]["value"] == 90.0
    assert rows(ask, own["id"])["height"]["u95"] == 2.0
    job = ask.job(own["id"])
    ask.post(f"/api/jobs/{own['id']}/undo", {"revision": job["revision"]}, 202)
    job = ask.rest(own["id"])
    assert rows(ask, own["id"])["height"]["value"] == 80.0
    assert job["corrections"]["redo"] is not None
    ask.post(f"/api/jobs/{own['id']}/redo", {"revision": job["revision"]}, 202)
    job = ask.rest(own["id"])
    assert job["heights"]["top"] == {"mm": 90.0, "u95": 2.0}
    ask.post(f"/api/jobs/{own['id']}/corrections/1/remove", {"revision": job["revision"]}, 202)
    job = ask.rest(own["id"])
    assert job["heights"]["top"]["mm"] == 80.0
    corrected(ask, own["id"], {"kind": "height", "part": "top", "height": None})
    assert ask.job(own["id"])["heights"] == {}
    job = back(ask, own["id"])
    assert rows(ask, own["id"]) == before
    empty = ask.http.post(f"/api/jobs/{own['id']}/undo", json={"revision": job["revision"]})
    assert empty.status_code == 422


def test_a_correction_that_makes_no_sense_is_taken_back(ask: Asker, own: Any) -> None:
    before = rows(ask, own["id"])
    view, i, outward = waist(ask, own["id"])
    edge = np.array(view["edge"]["points"])
    job = corrected(
        ask, own["id"], {"kind": "move", "at": edge[i].tolist(), "to": (edge[i] + 300).tolist()}
    )
    assert "more than" in job["refused"] and job["corrections"]["done"] == []
    assert job["state"] == "measured" and rows(ask, own["id"]) == before
    inside = (edge[i] - 60 * view["px_per_mm"] * outward).tolist()
    job = corrected(ask, own["id"], {"kind": "move", "at": inside, "to": inside})
    assert "taken hold of" in job["refused"]
    job = corrected(ask, own["id"], {"kind": "height", "part": "body", "height": "200mm"})
    assert job["refused"] is not None and "--" not in job["refused"]
    assert job["heights"] == {} and rows(ask, own["id"]) == before


@pytest.mark.parametrize(
    "add",
    [
        None,
        [],
        {},
        {"kind": "explode"},
        {"kind": "move", "at": [1, 2]},
        {"kind": "move", "at": [1, 2], "to": [3]},
        {"kind": "move", "at": [1, "2"], "to": [3, 4]},
        {"kind": "move", "at": [1, 1e999], "to": [3, 4]},
        {"kind": "move", "at": [1, 2], "to": [3, 4], "reach_mm": -1},
        {"kind": "redraw", "path": []},
        {"kind": "redraw", "path": [[0, 0]] * 5000},
        {"kind": "redraw", "path": [[0, 0], [1, 1]], "snap": "yes"},
        {"kind": "exclude", "area": [[0, 0], [1, 1]]},
        {"kind": "height", "part": "moon", "height": "1mm"},
        {"kind": "height", "part": "top", "height": "far"},
        {"kind": "height", "part": "top", "height": "9999mm"},
        {"kind": "height", "part": "__class__", "height": "1mm"},
    ],
)
def test_what_is_no_correction(ask: Asker, own: Any, add: Any) -> None:
    revision = ask.job(own["id"])["revision"]
    answer = ask.http.post(
        f"/api/jobs/{own['id']}/corrections",
        content=json.dumps({"revision": revision, "add": add}),
        headers={"Content-Type": "application/json"},
    )
    assert answer.status_code == 422
    error_of(answer)
    assert ask.job(own["id"])["revision"] == revision


def test_the_command_measures_the_same_with_the_corrections_file(
    ask: Asker, own: Any, server: Server, tmp_path: Path
) -> None:
    view, i, outward = waist(ask, own["id"])
    at = np.array(view["edge"]["points"][i])
    corrected(ask, own["id"], {"kind": "height", "part": "top", "height": "80mm"})
    add = {"kind": "move", "at": at.tolist(), "to": (at + 6 * outward).tolist()}
    corrected(ask, own["id"], add)
    place = server.folder / own["id"]
    kept = read_corrections(place)
    assert len(kept.done) == 2 and kept.photo == "photo-1.jpg" and len(kept.sha256) == 64
    command = [sys.executable, "-c", "from profiler.cli.main import run; run()", "measure"]
    arguments = [
        str(place / "photo-1.jpg"), "-o", str(tmp_path / "job"), "--name", own["name"],
        "--corrections", str(place / "corrections.json"),
    ]  # fmt: skip
    done = subprocess.run([*command, *arguments], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    for name in ("measurement.json", "overlay.jpg", "summary.pdf"):
        assert (tmp_path / "job" / name).read_bytes() == (place / name).read_bytes(), name
    back(ask, own["id"])


def test_a_section_of_the_neck_outlives_a_correction(ask: Asker, own: Any, server: Server) -> None:
    """What calipers said of the neck is no business of the photo."""
    place = server.folder / own["id"]
    command = [sys.executable, "-c", "from profiler.cli.main import run; run()", "section"]
    said = [str(place), "--at", "400mm", "--shape", "round", "--depth", "22mm"]
    said += ["--face-height", "60mm"]
    done = subprocess.run([*command, *said], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    before = ask.get(f"/api/jobs/{own['id']}/measurement")["sections"]
    assert len(before) == 1
    corrected(ask, own["id"], {"kind": "height", "part": "top", "height": "80mm"})
    assert rows(ask, own["id"])["height"]["value"] == 80.0
    assert ask.get(f"/api/jobs/{own['id']}/measurement")["sections"] == before
    back(ask, own["id"])


def test_of_several_photos_the_corrected_one_counts_alone(ask: Asker, server: Server) -> None:
    """Else a hand's correction would be averaged away by photos that it was not made in."""
    wren = Path(__file__).parents[2] / "samples" / "wren"
    job = ask.post("/api/jobs", {"name": "Two photos"}, 201)
    base = f"/api/jobs/{job['id']}"
    for name in ("mat.json", "cards.json"):
        ask.post(f"{base}/records", json.loads((wren / name).read_bytes()), 201)
    for name in ("top-1.jpg", "top-2.jpg"):
        sent = ask.http.post(f"{base}/photos?name={name}", content=(wren / name).read_bytes())
        assert sent.status_code == 201
    done = ask.measured(job["id"])
    assert done["state"] == "measured" and len(done["photos"]) == 2
    before = rows(ask, job["id"])["width:waist"]
    view, i, outward = waist(ask, job["id"])
    at = np.array(view["edge"]["points"][i])
    to = at + outward * 4.0 * view["px_per_mm"]
    add = {"kind": "move", "at": at.tolist(), "to": to.tolist(), "reach_mm": 30}
    job = corrected(ask, job["id"], add)
    assert job["refused"] is None
    codes = {f["code"] for f in ask.get(f"{base}/measurement")["findings"]}
    assert {420, 421} <= codes
    after = rows(ask, job["id"])["width:waist"]
    assert after["value"] - before["value"] == pytest.approx(4.0, abs=1.2)
