"""A photo from the side on the page: said or seen to be one, used, shown, taken away again."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.web.conftest import Asker, Server, error_of, running

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
WREN, SKERRY = SAMPLES / "wren", SAMPLES / "skerry"


def put(ask: Asker, job: str, name: str, query: str = "", sample: Path = WREN) -> Any:
    data = (sample / name).read_bytes()
    answer = ask.http.post(f"/api/jobs/{job}/photos?name={name}{query}", content=data)
    assert answer.status_code == 201, answer.text
    return answer.json()


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One of its own: the archive of the shared one begins empty for others."""
    with running(tmp_path_factory.mktemp("side")) as own:
        yield own


@pytest.fixture(scope="module")
def beside(server: Server) -> Any:
    """A job with a photo from above and one from the side that nobody said to be one, measured."""
    with server.client() as client:
        ask = Asker(client)
        job = ask.post("/api/jobs", {"name": "Side"}, 201)["id"]
        for name in ("mat.json", "cards.json", "upright.json"):
            record = json.loads((WREN / name).read_text())
            ask.post(f"/api/jobs/{job}/records", record, 201)
        put(ask, job, "top-1.jpg")
        put(ask, job, "side-1.jpg")
        return ask.measured(job)


def test_it_is_known_by_what_stands_in_it(ask: Asker, beside: Any) -> None:
    assert beside["state"] == "measured", beside["problem"]
    assert [p["side"] for p in beside["photos"]] == [False, True]
    assert not beside["outdated"]
    check = ask.checked(beside["id"], 1)["check"]
    assert check["ok"] and check["from_side"], check
    assert "upright" in {name.split(" record")[0] for name in beside["used"]}


def test_heights_are_told_as_the_command_line_tells_them(ask: Asker, beside: Any) -> None:
    found = ask.get(f"/api/jobs/{beside['id']}/measurement")
    side = found["side"]
    kept = json.loads(ask.http.get(f"/api/jobs/{beside['id']}/files/measurement.json").text)
    record = kept["side_view"]
    assert side["photo"] == "photo-2.jpg" == record["photo"]
    assert side["thickest"]["value"] == pytest.approx(record["thickest"]["value"])
    assert side["thickest"]["x"] == pytest.approx(record["thickest"]["x"])
    seen = [row for row in record["heights"] if row["upper"] is not None]
    assert len(side["upper"]) == len(seen) > 100
    assert {row[3] for row in side["upper"]} >= {"strings", "neck"}
    assert "Thickest place at" in {row["label"] for row in found["rows"]}
    # the height of the rendered instrument's thickest place, from what the sample was made of
    truth = json.loads((WREN / "side-truth.json").read_text())
    assert abs(side["thickest"]["value"] - truth["thickest"]["z"]) < side["thickest"]["u95"]
    overlay = [f for f in beside["files"] if f["name"] == "overlay-side.jpg"]
    assert overlay and ask.http.get(overlay[0]["url"]).content[:2] == b"\xff\xd8"


def test_without_it_the_results_are_out_of_date(ask: Asker, beside: Any) -> None:
    job = ask.job(beside["id"])
    path = f"/api/jobs/{job['id']}"
    said = ask.http.patch(path, json={"revision": job["revision"], "side": "photo-9.jpg"})
    assert error_of(said)["code"] == "missing" and said.status_code == 404
    now = ask.http.patch(path, json={"revision": job["revision"], "side": ""}).json()
    assert now["outdated"] and not now["photos"][1]["side"]
    again = ask.http.patch(path, json={"revision": now["revision"], "side": "photo-2.jpg"}).json()
    assert not again["outdated"] and again["photos"][1]["side"]


def test_alone_it_cannot_be_measured(ask: Asker) -> None:
    job = ask.post("/api/jobs", {}, 201)["id"]
    assert put(ask, job, "side-1.jpg", "&side=1")["side"]
    now = ask.job(job)
    answer = ask.http.post(f"/api/jobs/{job}/measure", json={"revision": now["revision"]})
    assert answer.status_code == 422 and "from above" in error_of(answer)["message"]
    assert not now["can"]["measure"]


def test_no_upright_sheets_in_it(ask: Asker) -> None:
    """Said to be from the side, and is none: told at once, and in the words of a page."""
    job = ask.post("/api/jobs", {}, 201)["id"]
    put(ask, job, "top-1.jpg")
    put(ask, job, "top-2.jpg", "&side=1")
    check = ask.checked(job, 1)["check"]
    assert not check["ok"] and "upright sheets" in check["first"], check


def test_what_is_wrong_with_it_is_told_by_the_name_that_it_came_under(ask: Asker) -> None:
    job = ask.post("/api/jobs", {}, 201)["id"]
    ask.post(f"/api/jobs/{job}/records", json.loads((WREN / "mat.json").read_text()), 201)
    put(ask, job, "top-1.jpg")
    put(ask, job, "top-2.jpg", "&side=1")
    problem = ask.measured(job)["problem"]["message"]
    assert problem.startswith("top-2.jpg: no upright sheet is seen"), problem
    assert "photo-2" not in problem and "profiler mat" not in problem and "--" not in problem


def test_kept_and_opened_again(ask: Asker, beside: Any) -> None:
    """What comes back from the archive still has both photos and knows which is which."""
    kept = ask.post("/api/archive", {"job": beside["id"], "name": "Side", "another": True}, 201)
    again = ask.post(f"/api/archive/{kept['number']}/open", {}, 201)
    assert [p["side"] for p in again["photos"]] == [False, True], again["photos"]
    found = ask.get(f"/api/jobs/{again['id']}/measurement")
    assert found["side"]["thickest"]["value"] == pytest.approx(
        ask.get(f"/api/jobs/{beside['id']}/measurement")["side"]["thickest"]["value"]
    )
    assert ask.measured(again["id"])["state"] == "measured"


def test_a_folder_of_the_command_line(ask: Asker, server: Server, beside: Any) -> None:
    """Opened on the page, the folder without `job.json` still knows which photo is which."""
    copy = server.folder / "by-command"
    shutil.copytree(server.folder / beside["id"], copy)
    (copy / "job.json").unlink()
    job = ask.job("by-command")
    assert [p["side"] for p in job["photos"]] == [False, True] and not job["outdated"]


def test_the_row_is_printed_from_the_page(ask: Asker) -> None:
    made = ask.post("/api/upright", {"paper": "A4", "tint": "blue"})
    assert [f["name"] for f in made["files"]][:1] == ["upright.pdf"] and made["pages"]


def test_a_second_one_from_beside_the_tail_is_used_as_well(ask: Asker) -> None:
    """Whichever was taken first: both are known by what stands in them."""
    job = ask.post("/api/jobs", {"name": "Two"}, 201)["id"]
    for name in ("mat.json", "cards.json", "upright.json"):
        ask.post(f"/api/jobs/{job}/records", json.loads((SKERRY / name).read_text()), 201)
    for name in ("top-1.jpg", "side-2.jpg", "side-1.jpg"):
        put(ask, job, name, sample=SKERRY)
    for _ in range(2):  # and again when it is measured anew
        done = ask.measured(job)
        assert done["state"] == "measured", done["problem"]
        kept = json.loads(ask.http.get(f"/api/jobs/{job}/files/measurement.json").text)
        assert kept["side_view"]["photo"] == "photo-3.jpg"
        assert kept["side_view"]["also"] == ["photo-2.jpg"]
    rows = {row["label"]: row for row in ask.get(f"/api/jobs/{job}/measurement")["rows"]}
    true = json.loads((SKERRY / "side-truth.json").read_text())["strap_button"]["z"]
    height = rows["Strap button's height"]
    assert abs(height["value"] - true) < height["u95"]
    pictures = {f["name"] for f in done["files"]}
    assert {"overlay-side.jpg", "overlay-side-2.jpg"} <= pictures
    # the archive keeps both, and which they are
    again = ask.post("/api/archive", {"job": job, "name": "Two", "another": True}, 201)
    opened = ask.post(f"/api/archive/{again['number']}/open", {}, 201)
    assert len(opened["photos"]) == 3
    kept = json.loads(ask.http.get(f"/api/jobs/{opened['id']}/files/measurement.json").text)
    assert len({kept["side_view"]["photo"], *kept["side_view"]["also"]}) == 2
    # without it its picture goes as well
    gone = ask.http.request(
        "DELETE",
        f"/api/jobs/{job}/photos/photo-2.jpg",
        json={"revision": ask.job(job)["revision"]},
    )
    assert gone.status_code < 300, gone.text
    done = ask.measured(job)
    pictures = {f["name"] for f in done["files"]}
    assert "overlay-side.jpg" in pictures and "overlay-side-2.jpg" not in pictures
