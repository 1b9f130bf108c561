"""Neck, headstock and cradle over HTTP: the same numbers as the command line gives."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.web.conftest import Asker, Server, error_of

ROOT = Path(__file__).resolve().parents[2]
GAUGE = ROOT / "samples" / "wren" / "gauge-1.jpg"


@pytest.fixture
def job(ask: Asker) -> Any:
    """A measured sample of its own."""
    return ask.measured(ask.sample()["id"])


def typed(revision: int, at: str, depth: str, **more: Any) -> dict[str, Any]:
    return {"revision": revision, "at": at, "shape": "round", "depth": depth, **more}


def test_sections_typed_put_between_and_taken_back(ask: Asker, server: Server, job: Any) -> None:
    base = f"/api/jobs/{job['id']}"
    shape = ask.post(f"{base}/sections", typed(job["revision"], "400mm", "21"))
    shape = ask.post(f"{base}/sections", typed(shape["revision"], "nut", "18.5mm"))
    between = {"revision": shape["revision"], "at": "450mm"}
    shape = ask.post(f"{base}/sections", between)
    assert [s["source"] for s in shape["sections"]] == ["typed", "between", "typed"]
    depths = [s["depth"]["value"] for s in shape["sections"]]
    assert depths[0] == 21.0 and depths[2] == 18.5 and 18.5 < depths[1] < 21.0
    kept = json.loads((server.folder / job["id"] / "measurement.json").read_text())
    assert [s["x"] for s in kept["sections"]] == pytest.approx(
        [s["x"] for s in shape["sections"]], abs=0.01
    )
    # a slower window is told, and nothing is changed
    late = ask.http.post(f"{base}/sections", json=typed(job["revision"], "420mm", "20"))
    assert late.status_code == 409 and error_of(late)["code"] == "stale"
    gone = ask.post(
        f"{base}/sections/remove",
        {"revision": shape["revision"], "name": shape["sections"][1]["name"]},
    )
    assert len(gone["sections"]) == 2 and "removed" in gone["undo"]
    back = ask.post(f"{base}/shape/undo", {"revision": gone["revision"]})
    assert back["sections"] == shape["sections"] and back["redo"]
    again = ask.post(f"{base}/shape/redo", {"revision": back["revision"]})
    assert again["sections"] == gone["sections"] and again["redo"] is None
    # measuring again keeps them
    ask.measured(job["id"])
    assert len(ask.get(f"{base}/shape")["sections"]) == 2


def test_slips_name_what_is_wrong(ask: Asker, job: Any) -> None:
    base, revision = f"/api/jobs/{job['id']}", job["revision"]
    for body, word in (
        ({"revision": revision, "shape": "round", "depth": "20"}, "Where along"),
        ({"revision": revision, "at": "450mm", "shape": "round"}, "thickness"),
        (typed(revision, "450mm", "twenty"), "epth"),
        (typed(revision, "9m", "20"), ""),
        ({**typed(revision, "450mm", "20"), "shape": "hexagon"}, "hexagon"),
        ({"revision": revision, "at": "450mm"}, ""),
    ):
        answer = ask.http.post(f"{base}/sections", json=body)
        assert answer.status_code == 422, answer.text
        message = error_of(answer)["message"]
        assert word in message and "--" not in message, message
    steep = ask.http.post(f"{base}/headstock", json={"revision": revision, "tilt": "200"})
    assert steep.status_code == 422 and "tilted" in error_of(steep)["message"]
    assert ask.get(f"{base}/shape")["sections"] == [] and ask.get(f"{base}/shape")["undo"] is None
    nothing = ask.http.post(f"{base}/shape/undo", json={"revision": revision})
    assert nothing.status_code == 422


def test_a_gauge_photo_gives_the_section_that_was_pressed(
    ask: Asker, server: Server, job: Any
) -> None:
    base = f"/api/jobs/{job['id']}"
    truth = json.loads((GAUGE.parent / "gauge-truth.json").read_text())[GAUGE.name]
    asked = {"at": "385mm", "depth": "20.6mm", "needle_height": "6mm", "said": "my gauge.jpg"}
    sent = ask.http.post(
        f"{base}/sections/photo",
        params={"revision": str(job["revision"]), **asked},
        content=GAUGE.read_bytes(),
    )
    assert sent.status_code == 200, sent.text
    section = sent.json()["sections"][0]
    assert section["source"] == "gauge" and section["depth"]["value"] == pytest.approx(20.6)
    assert section["width"]["value"] == pytest.approx(truth["width"], abs=1.5)
    assert (server.folder / job["id"] / section["detail"]).is_file(), "the photo stays in the job"
    # what is no gauge leaves neither a section nor a photo behind
    files = sorted((server.folder / job["id"]).iterdir())
    wrong = ask.http.post(
        f"{base}/sections/photo",
        params={"revision": str(sent.json()["revision"]), "at": "420mm"},
        content=(ROOT / "tests" / "published" / "opencv" / "left01.jpg").read_bytes(),
    )
    assert wrong.status_code == 422, wrong.text
    assert sorted((server.folder / job["id"]).iterdir()) == files


def test_a_job_renamed_while_its_gauge_photo_is_read_still_gets_the_section(
    ask: Asker, server: Server, job: Any
) -> None:
    base = f"/api/jobs/{job['id']}"
    asked = {"at": "385mm", "depth": "20.6mm", "needle_height": "6mm", "said": "gauge.jpg"}

    def read(revision: int, meanwhile: Callable[[], None]) -> httpx.Response:
        before = len(list((server.folder / job["id"]).glob("gauge-*")))
        with ThreadPoolExecutor(1) as reading:
            sent = reading.submit(
                ask.http.post,
                f"{base}/sections/photo",
                params={"revision": str(revision), **asked},
                content=GAUGE.read_bytes(),
            )
            end = time.monotonic() + 60
            while len(list((server.folder / job["id"]).glob("gauge-*"))) == before:
                assert time.monotonic() < end
                time.sleep(0.02)
            meanwhile()
            assert not sent.done(), "nothing happened meanwhile"
            return sent.result()

    revision = job["revision"]

    def rename() -> None:
        answer = ask.http.patch(base, json={"name": "Other", "revision": revision})
        assert answer.status_code == 200, answer.text

    answer = read(revision, rename)
    assert answer.status_code == 200, answer.text
    # but a section that came in between changes what the photo was read for
    revision = answer.json()["revision"]
    late = read(revision, lambda: ask.post(f"{base}/sections", typed(revision, "nut", "18.5mm")))
    assert late.status_code == 409 and error_of(late)["code"] == "stale"
    assert len(ask.get(f"{base}/shape")["sections"]) == 2


def test_a_quick_plan_says_why_at_its_place(ask: Asker, job: Any) -> None:
    base = f"/api/jobs/{job['id']}"
    quick = {"drawings": False}
    bare = ask.post(f"{base}/cradle", {"options": {"pieces": "neck,headstock"}, **quick})
    assert bare["plan"]["pieces"] == [] and bare["files"] == []
    places = {p["key"]: p for p in bare["view"]["places"]}
    assert set(places) == {"neck", "headstock"} and "section" in places["neck"]["reason"]
    for place in places.values():
        x0, _, x1, _ = place["box"]
        assert 0 < x0 < x1 <= bare["view"]["length"] and "--" not in place["reason"]
    shape = ask.post(f"{base}/sections", typed(job["revision"], "400mm", "21", face_height="66"))
    ask.post(f"{base}/sections", typed(shape["revision"], "nut", "18.5", face_height="60mm±0.5mm"))
    options: dict[str, Any] = {"at": ["neck=470mm", "shoulder left=230mm"]}
    made = ask.post(f"{base}/cradle", {"options": options, **quick})
    stations = {s["key"]: s for s in made["view"]["stations"]}
    assert stations["neck"]["x"] == 470.0 and stations["neck"]["made"]
    cut = next(c for c in made["view"]["cuts"] if c["key"] == "neck")
    assert cut["x"] == 470.0 and cut["instrument"] and cut["wood"]
    neck = made["view"]["neck"]
    assert len(neck["at"]) == len(neck["profiles"]) and {400.0} < {s["x"] for s in neck["sections"]}
    # the profile that the page draws at a section is that section
    n = neck["at"].index(400.0)
    zs = [z for _, z in neck["profiles"][n]]
    assert max(zs) - min(zs) == pytest.approx(21.0, abs=0.3)
    # where its shape is not known it cannot stand, and the place is where it was put
    far = ask.post(f"{base}/cradle", {"options": {"at": ["neck=340mm"]}, **quick})
    place = next(p for p in far["view"]["places"] if p["key"] == "neck")
    assert place["box"][0] < 340.0 < place["box"][2] and "not known" in place["reason"]


def test_fit_check_as_picture_and_table_and_sheets_with_cautions(ask: Asker, job: Any) -> None:
    base = f"/api/jobs/{job['id']}"
    options = {"neck_at": "496mm", "neck_depth": "19mm", "neck_height": "39.5mm"}
    fit = ask.post(f"{base}/cradle", {"options": options, "drawings": False, "fit": True})
    pieces = {p["name"] for p in fit["plan"]["pieces"]}
    assert {row[0] for row in fit["fit"]["rows"]} == pieces
    assert all(len(row) == len(fit["fit"]["heads"]) for row in fit["fit"]["rows"])
    assert {"fit-plan", "fit-neck-rest"} <= {d["name"] for d in fit["drawings"]}
    whole = ask.post(f"{base}/cradle", {"options": options})
    assert whole["fit"] == fit["fit"] and whole["pages"]
    assert any("scrap" in m for m in whole["messages"]) and "rule" in whole["messages"][0]
