"""A whole job over HTTP, from the photo to the files, beside what the command line makes."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pypdfium2
import pytest

from profiler.jobs.reading import read_measurement
from tests.web.conftest import Asker, Server, error_of, running

SAMPLE = Path(__file__).parents[2] / "profiler" / "web" / "sample"


def test_the_sample_is_small_and_measures_fine(ask: Asker, wren: Any) -> None:
    assert sum(p.stat().st_size for p in SAMPLE.iterdir()) < 1_500_000
    assert wren["state"] == "measured" and wren["problem"] is None
    assert wren["counts"]["doubt"] == 0
    check = ask.checked(wren["id"])["check"]
    assert check["ok"] and {p["what"] for p in check["points"]} >= {
        "mat",
        "cards",
        "frame",
        "sharp",
    }


def test_the_page_measures_what_the_command_measures(
    wren: Any, server: Server, tmp_path: Path
) -> None:
    """Byte for byte, but for the name that the page gave the job."""
    photo = server.folder / wren["id"] / "photo-1.jpg"
    command = [sys.executable, "-c", "from profiler.cli.main import run; run()", "measure"]
    done = subprocess.run(
        [*command, str(photo), "-o", str(tmp_path / "job"), "--name", wren["name"]],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    for name in ("measurement.json", "overlay.jpg", "summary.pdf"):
        page = (server.folder / wren["id"] / name).read_bytes()
        assert page == (tmp_path / "job" / name).read_bytes(), name


def test_px_and_mm_belong_together(ask: Asker, wren: Any) -> None:
    """The map that the page drags with brings the seen edge to the measured outline."""
    view = ask.get(f"/api/jobs/{wren['id']}/view")
    outline = np.array(ask.get(f"/api/jobs/{wren['id']}/measurement")["outline"])
    centre, rays = (np.array(view["camera"][k]) for k in ("centre", "rays"))
    places = np.array(view["edge"]["points"])
    directions = np.column_stack([places, np.ones(len(places))]) @ rays.T
    z = np.array(view["edge"]["z"])
    on_mat = centre[:2] + ((z - centre[2]) / directions[:, 2])[:, None] * directions[:, :2]
    angle, origin = view["frame"]["angle_rad"], np.array(view["frame"]["origin"])
    c, s = np.cos(angle), np.sin(angle)
    found = (on_mat - origin) @ np.array([[c, -s], [s, c]])
    away = np.array([np.hypot(*(outline - p).T).min() for p in found])
    # where an edge is seen on its lower rim the part's one height is not its own
    assert np.median(away) < 0.5 and np.percentile(away, 90) < 4.0
    back = np.array(view["camera"]["px"]) @ (np.append(on_mat[0], z[0]) - centre)
    assert back[:2] / back[2] == pytest.approx(places[0], abs=0.05)


def test_the_picture_is_the_photo(ask: Asker, wren: Any) -> None:
    import cv2

    view = ask.get(f"/api/jobs/{wren['id']}/view")
    answer = ask.http.get(view["image"])
    picture = cv2.imdecode(np.frombuffer(answer.content, np.uint8), cv2.IMREAD_COLOR)
    assert picture is not None and list(picture.shape[1::-1]) == view["size"]
    assert answer.headers["content-type"] == "image/jpeg"


def test_a_photo_that_is_dropped(ask: Asker, server: Server) -> None:
    job = ask.post("/api/jobs", {"name": "Dropped", "customer": "Ada Marsh"}, 201)
    for name in ("mat.json", "cards.json"):  # as the bench's own
        (server.folder / name).write_bytes((SAMPLE / name).read_bytes())
    try:
        answer = ask.http.post(
            f"/api/jobs/{job['id']}/photos?name=IMG_1.jpg",
            content=(SAMPLE / "photo-1.jpg").read_bytes(),
        )
        assert answer.status_code == 201 and answer.json()["check"] is None
        photo = ask.checked(job["id"])
        assert photo["check"]["ok"] and photo["small"] and photo["said"] == "IMG_1.jpg"
        done = ask.measured(job["id"])
        assert done["state"] == "measured" and done["mat"] is not None
        record = json.loads((server.folder / job["id"] / "measurement.json").read_bytes())
        assert record["records_used"][:2] == ["mat.json", "cards.json"]
        assert record["job"] == {"name": "Dropped", "customer": "Ada Marsh"}
    finally:
        for name in ("mat.json", "cards.json"):
            (server.folder / name).unlink()


def test_records_that_are_dropped_with_the_photo(ask: Asker, server: Server) -> None:
    job = ask.post("/api/jobs", {"name": "With records"}, 201)
    base = f"/api/jobs/{job['id']}"
    for name in ("mat.json", "cards.json"):
        record = json.loads((SAMPLE / name).read_bytes())
        job = ask.post(f"{base}/records", record, 201)
    assert job["mat"]["bars"]["x"]["read"] == 179.5 and job["cards"] is not None
    for body in ({}, {"format": "profiler mat"}, {"format": "profiler measurement"}):
        answer = ask.http.post(f"{base}/records", json=body)
        assert answer.status_code == 422 and error_of(answer)["message"]
    assert ask.job(job["id"])["mat"] == job["mat"]


def test_what_cannot_be_measured_is_said_and_can_be_seen(ask: Asker, server: Server) -> None:
    """A second thing on the mat: the scene is solved, so the photo is there to cut it out."""
    import cv2

    pixels = cv2.imread(str(SAMPLE / "photo-1.jpg"))
    cv2.rectangle(pixels, (1550, 1365), (1665, 1480), (40, 60, 30), -1)
    job = ask.sample()
    place = server.folder / job["id"]
    coded = cv2.imencode(".jpg", pixels)[1].tobytes()
    head = (SAMPLE / "photo-1.jpg").read_bytes()
    exif = head[2 : 4 + int.from_bytes(head[4:6], "big")]
    (place / "photo-1.jpg").write_bytes(coded[:2] + exif + coded[2:])
    done = ask.measured(job["id"])
    assert done["state"] == "failed" and "besides the instrument" in done["problem"]["message"]
    view = ask.get(f"/api/jobs/{job['id']}/view")
    assert view["edge"] is None and ask.http.get(view["image"]).status_code == 200
    low, high = np.array([1550.0, 1365.0]), np.array([1665.0, 1480.0])
    shift = np.array(view["size"]) / 2 - np.array([1400, 1050])
    low, high = low + shift - 25, high + shift + 25
    area = [[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]]
    add = {"kind": "exclude", "area": area}
    body = {"revision": done["revision"], "add": add}
    ask.post(f"/api/jobs/{job['id']}/corrections", body, 202)
    done = ask.rest(job["id"])
    assert done["state"] == "measured" and done["problem"] is None
    assert done["length"]["value"] == pytest.approx(633.0, abs=3.0)


def test_a_job_can_be_stopped(ask: Asker) -> None:
    job = ask.sample()
    ask.post(f"/api/jobs/{job['id']}/measure", {"revision": job["revision"]}, 202)
    stopped = ask.post(f"/api/jobs/{job['id']}/cancel")
    assert stopped["work"] is None and stopped["state"] == "ready"
    assert ask.measured(job["id"])["state"] == "measured"  # and begun anew


def test_template_case_and_their_pages(ask: Asker, wren: Any, server: Server) -> None:
    base = f"/api/jobs/{wren['id']}"
    made = ask.post(f"{base}/template", {"clearance": "3mm", "paper": "A4"})
    assert {f["kind"] for f in made["files"]} == {"pdf", "svg", "dxf"} and len(made["pages"]) > 2
    page = ask.http.get(made["pages"][0]["url"] + "?width=300")
    assert page.headers["content-type"] == "image/png" and page.content.startswith(b"\x89PNG")
    pdf = ask.http.get(next(f["url"] for f in made["files"] if f["kind"] == "pdf"))
    assert pdf.headers["content-disposition"].startswith("attachment")
    document = pypdfium2.PdfDocument(pdf.content)
    assert len(document) == len(made["pages"])
    refused = ask.http.post(
        f"{base}/case", json={"options": {"height": "80mm", "latch": "300x9mm"}}
    )
    error = error_of(refused)
    assert refused.status_code == 422 and "taller than the case" in error["message"]
    # and the page is told which wish it was, with a plan that it can be drawn into
    assert error["without"] == "latch" and error["plan"]["box"]["inside"][2] > 80
    quick = ask.post(f"{base}/case", {"options": {"height": "80mm"}, "drawings": False})
    assert quick["plan"] == error["plan"] and quick["files"] == []
    case = ask.post(
        f"{base}/case",
        {
            "options": {"height": "80mm", "lining": "3mm"},
            "keep": True,
            "revision": wren["revision"],
        },
    )
    assert case["summary"][0][0] == "Outside, closed" and case["plan"]["format"]
    kept = server.folder / wren["id"] / "case"
    assert {p.name for p in kept.iterdir()} == {f["name"] for f in case["files"]}
    listed = {f["name"] for f in ask.job(wren["id"])["files"]}
    assert "case/case.pdf" in listed
    assert ask.http.get(f"{base}/files/case/case.pdf").content == (kept / "case.pdf").read_bytes()
    pages = ask.get(f"{base}/pages/case/case.pdf")["pages"]
    assert ask.http.get(pages[0]["url"]).content.startswith(b"\x89PNG")


def test_every_choice_of_a_case_is_an_option_of_the_command() -> None:
    """And every option of the command is on the form, or has its own place on the page."""
    import inspect

    from profiler.cli.case import case
    from profiler.web.caseoptions import OPTIONS

    elsewhere = {
        "ctx", "job", "length", "width", "body_length", "neck_width", "head_width", "head_length",
        "cradle", "paper", "formats", "customer", "instrument", "output", "units", "inch_step",
        "force",
    }  # fmt: skip
    options = set(inspect.signature(case).parameters)
    assert set(OPTIONS) == options - elsewhere


def test_every_choice_of_a_cradle_is_an_option_of_the_command() -> None:
    import inspect

    from profiler.cli.cradle import cradle
    from profiler.web.cradleoptions import OPTIONS

    elsewhere = {
        "ctx", "job", "paper", "one_page", "formats", "printer_x", "printer_y", "customer",
        "instrument", "output", "units", "inch_step", "force",
    }  # fmt: skip
    assert set(OPTIONS) == set(inspect.signature(cradle).parameters) - elsewhere


def test_a_cradle_and_the_case_that_takes_it_along(ask: Asker, server: Server) -> None:
    job = ask.measured(ask.sample()["id"])
    base = f"/api/jobs/{job['id']}"
    known = {"neck_at": "430mm", "neck_depth": "22mm", "neck_height": "47mm"}
    made = ask.post(f"{base}/cradle", {"options": known, "keep": True, "revision": job["revision"]})
    names = {p["name"] for p in made["plan"]["pieces"]}
    assert any("neck" in name for name in names), made["lines"]
    assert {f["kind"] for f in made["files"]} >= {"pdf", "svg", "dxf", "json"} and made["pages"]
    assert (server.folder / job["id"] / "cradle" / "cradle.json").is_file()
    options = {"height": "80mm"}
    quick = {"drawings": False}
    taken = ask.post(f"{base}/case", {"options": options, **quick})["plan"]
    bare = ask.post(f"{base}/case", {"options": {**options, "no_cradle": True}, **quick})["plan"]
    assert len(taken["pieces"]) > len(bare["pieces"])
    wrong = ask.http.post(f"{base}/cradle", json={"options": {"lining": ["moon=felt"]}})
    error = error_of(wrong)
    assert wrong.status_code == 422 and error["option"] == "lining" and "--" not in error["message"]


def test_an_events_stream_tells_what_changes(ask: Asker, server: Server) -> None:
    job = ask.sample()
    with server.client() as other, other.stream("GET", "/api/events") as stream:
        lines = stream.iter_lines()
        assert next(lines) == "retry: 2000"
        ask.post("/api/jobs", {"name": "Another"}, 201)
        body = {"revision": job["revision"], "name": "Renamed"}
        assert ask.http.patch(f"/api/jobs/{job['id']}", json=body).status_code == 200
        wanted = f'data: {{"id": "{job["id"]}", "revision": {job["revision"] + 1}}}'
        for line in lines:
            if line == wanted:
                break
        else:
            raise AssertionError("the change was not told")


def test_mat_and_cards_of_the_bench(ask: Asker, server: Server) -> None:
    try:
        made = ask.post("/api/mat", {"paper": "A3", "width": "30in", "keep": True})
        page = made["pages"][0]
        assert sorted((page["width_mm"], page["height_mm"])) == pytest.approx([297, 420], abs=0.1)
        state = ask.get("/api/state")
        nominal = {axis: bar["nominal"] for axis, bar in state["mat"]["bars"].items()}
        assert state["mat"]["paper"] == "A3" and state["mat"]["bars"]["x"]["read"] is None
        read = {"x": f"{nominal['x'] - 1}mm", "y": f"{nominal['y'] + 0.5}mm"}
        assert ask.post("/api/mat/bars", read)["bars"]["x"]["read"] == nominal["x"] - 1
        wrong = ask.http.post("/api/mat/bars", json={"x": "100mm", "y": "200mm"})
        assert wrong.status_code == 422 and "No printer is so far out" in error_of(wrong)["message"]
        assert ask.http.get("/api/mat/files/mat.pdf").content.startswith(b"%PDF")
        assert ask.http.get("/api/mat/files/measurement.json").status_code == 404
    finally:
        for name in ("mat.json", "mat.pdf"):
            (server.folder / name).unlink()


def test_a_folder_of_the_command_line_is_a_job(ask: Asker, server: Server, wren: Any) -> None:
    place = server.folder / "Made by hand"
    place.mkdir()
    data = (server.folder / wren["id"] / "measurement.json").read_bytes()
    (place / "measurement.json").write_bytes(data)
    job = ask.job("Made by hand")
    assert job["state"] == "measured" and job["photos"] == [] and not job["can"]["correct"]
    assert ask.get("/api/jobs/Made by hand/measurement")["rows"]
    assert ask.post("/api/jobs/Made by hand/template", {"clearance": "3mm"})["files"]
    assert read_measurement(place).length.value is not None


def test_removed_is_not_lost(ask: Asker, server: Server) -> None:
    job = ask.sample()
    answer = ask.http.request(
        "DELETE", f"/api/jobs/{job['id']}", json={"revision": job["revision"]}
    )
    assert answer.status_code == 204
    assert ask.http.get(f"/api/jobs/{job['id']}").status_code == 404
    assert (server.folder / ".removed" / job["id"] / "photo-1.jpg").is_file()


def test_a_reload_of_the_server_loses_nothing(tmp_path: Path) -> None:
    with running(tmp_path) as first, first.client() as client:
        asker = Asker(client)
        job = asker.sample()
        asker.checked(job["id"])
        asker.measured(job["id"])
        before = asker.job(job["id"])
        view = asker.get(f"/api/jobs/{job['id']}/view")
        client.put("/api/settings", json={"units": "in", "tour": "done"})
        unseen = asker.sample()["id"]  # ended before it was looked at
    with running(tmp_path) as second, second.client() as client:
        asker = Asker(client)
        assert asker.checked(unseen)["check"]["ok"]
        after = asker.job(job["id"])
        assert {k: after[k] for k in after if k != "work"} == {
            k: before[k] for k in before if k != "work"
        }
        assert asker.get(f"/api/jobs/{job['id']}/view") == view
        assert asker.get("/api/state")["settings"]["units"] == "in"


def test_an_unknown_address_is_told(server: Server) -> None:
    with httpx.Client(base_url=server.base) as client:
        assert error_of(client.get("/api/nothing"))["code"] == "missing"
        assert error_of(client.get("/nothing.txt"))["code"] == "missing"
