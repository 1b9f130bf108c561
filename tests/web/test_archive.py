"""The archive on the page: kept, found by words and shape, compared, printed again, opened."""

from __future__ import annotations

from typing import Any

import pytest

from tests.web.conftest import Asker, Server, error_of


@pytest.fixture(scope="module")
def number(server: Server, wren: Any) -> str:
    """The sample, kept."""
    with server.client() as client:
        asker = Asker(client)
        assert asker.get("/api/archive") == {"count": 0, "entries": []}  # before there is one
        body = {
            "job": wren["id"],
            "customer": "Ada Marsh",
            "name": "Wren",
            "kind": "ukulele",
            "tags": ["left-handed"],
        }
        kept = asker.post("/api/archive", body, 201)
        assert not kept["known"]
        assert asker.post("/api/archive", body, 201)["known"]
        return str(kept["number"])


def test_found_by_words(ask: Asker, number: str) -> None:
    for query in ("words=wren", "customer=marsh", "kind=ukulele", "tag=left-handed", ""):
        found = ask.get(f"/api/archive?{query}")
        assert [e["number"] for e in found["entries"]] == [number], query
    entry = found["entries"][0]
    assert len(entry["shape"]) > 20 and entry["tags"] == ["left-handed"]
    assert ask.http.get(entry["thumbnail"]).content.startswith(b"<svg")
    assert ask.get("/api/archive?words=nothing-like-it")["count"] == 0
    assert ask.http.get("/api/archive?since=never").status_code == 422
    assert ask.http.get("/api/archive?limit=x").status_code == 422


def test_found_by_shape(ask: Asker, number: str, wren: Any) -> None:
    near = ask.post("/api/archive/near", {"job": wren["id"], "mirrored": True})
    assert near["found"][0]["number"] == number and near["found"][0]["largest"] < 0.1
    assert ask.post("/api/archive/near", {"number": number})["found"] == []
    fits = ask.post("/api/archive/fits", {"inside": "36in x 12in", "clearance": "3mm"})
    assert fits["found"][0]["room"] > 3
    assert ask.post("/api/archive/fits", {"inside": "300x100mm"})["found"] == []
    serves = ask.post("/api/archive/serves", {"job": wren["id"], "clearance": "3mm"})
    assert serves["found"][0]["room"] == pytest.approx(3.0, abs=0.3)


def test_compared_printed_and_opened(ask: Asker, number: str, wren: Any, server: Server) -> None:
    sides = {"before": {"number": number}, "now": {"job": wren["id"]}}
    compared = ask.post("/api/archive/compare", sides)
    assert compared["verdict"] and compared["pages"] and compared["numbers"][0]["difference"] == 0
    printed = ask.post(f"/api/archive/{number}/print", {"clearance": "3mm", "paper": "A4"})
    assert {f["name"] for f in printed["files"]} >= {"template.pdf", "summary.pdf"}
    opened = ask.post(f"/api/archive/{number}/open", status=201)
    assert opened["state"] == "measured" and opened["photos"]
    was, now = (server.folder / i for i in (wren["id"], opened["id"]))
    for name in ("measurement.json", "mat.json", "cards.json", "photo-1.jpg"):
        assert (was / name).read_bytes() == (now / name).read_bytes(), name
    assert ask.measured(opened["id"])["length"] == wren["length"]


def test_edited(ask: Asker, number: str) -> None:
    answer = ask.http.patch(f"/api/archive/{number}", json={"maker": "Lena Holm"})
    assert answer.status_code == 200 and answer.json()["maker"] == "Lena Holm"


@pytest.mark.parametrize("which", ["99", "1.99", "x", "1;drop table", "-1", "%2e%2e"])
def test_what_is_not_there(ask: Asker, number: str, which: str) -> None:
    answer = ask.http.get(f"/api/archive/{which}")
    assert answer.status_code in (404, 422)
    assert "profiler archive" not in error_of(answer)["message"]


def test_printers_on_the_page(ask: Asker, wren: Any) -> None:
    page = ask.post("/api/printers/page", {"paper": "A4"})
    nominal = page["nominal"]
    body = {"name": "Office", "paper": "A4", "x": f"{nominal['x'] * 0.995}mm", "y": "260mm"}
    kept = ask.post("/api/printers", body, 201)
    assert kept["correction"]["x"] == pytest.approx(1 / 0.995, abs=1e-4)
    assert ask.http.post("/api/printers", json=body).status_code == 422  # there is one already
    ask.post("/api/printers", {**body, "replace": True}, 201)
    base = f"/api/jobs/{wren['id']}/template"
    plain = ask.post(base, {"clearance": "0mm"})
    larger = ask.post(base, {"clearance": "0mm", "printer": "office"})
    widths = [made["pages"][0]["width_mm"] for made in (plain, larger)]
    assert widths[1] == pytest.approx(widths[0] / 0.995, rel=1e-3)
    assert ask.http.post(base, json={"printer": "nobody's"}).status_code == 422
    gone = ask.http.request("DELETE", "/api/printers", json={"name": "Office"})
    assert gone.status_code == 204 and ask.get("/api/printers")["printers"] == []
