"""A glance over HTTP: answered, kept nowhere, and nothing comes of what is no picture."""

from __future__ import annotations

import struct
from pathlib import Path

import cv2
import httpx
import numpy as np
import pytest

from tests.web.conftest import Asker, Server, error_of

SAMPLE = Path(__file__).parents[2] / "profiler" / "web" / "sample"


@pytest.fixture(scope="module")
def small() -> bytes:
    photo = np.asarray(cv2.imread(str(SAMPLE / "photo-1.jpg")))
    reduced = cv2.resize(photo, (1600, 1200), interpolation=cv2.INTER_AREA)
    return cv2.imencode(".jpg", reduced)[1].tobytes()


def everything(server: Server) -> dict[str, float]:
    return {str(p): p.stat().st_mtime for p in server.folder.rglob("*")}


def test_it_is_answered_and_kept_nowhere(server: Server, ask: Asker, small: bytes) -> None:
    job = ask.sample()["id"]
    ask.checked(job)
    before = everything(server)
    answer = ask.http.post(f"/api/glance?job={job}&finer=1.75", content=small)
    assert answer.status_code == 200
    found = answer.json()
    assert found["ok"] and found["first"] is None and found["hints"]["targets"] > 20
    assert {p["what"] for p in found["points"]} >= {"light", "mat", "cards", "frame", "level"}
    assert everything(server) == before


def test_a_place_is_told_in_shares(server: Server, ask: Asker, small: bytes) -> None:
    picture = cv2.imdecode(np.frombuffer(small, np.uint8), cv2.IMREAD_COLOR)
    cut = cv2.imencode(".jpg", np.asarray(picture)[:, :1150])[1].tobytes()
    job = ask.sample()["id"]
    found = ask.http.post(f"/api/glance?job={job}", content=cut).json()
    assert not found["ok"] and found["first"].startswith("Come higher: the headstock")
    rings = [ring for p in found["points"] if p["weight"] == "stop" for ring in p["places"]]
    assert rings and all(0 <= v <= 1 for ring in rings for at in ring for v in at)
    assert max(x for ring in rings for x, _ in ring) > 0.95


def bomb(width: int, height: int) -> bytes:
    """A JPEG's head that claims a size (ITU-T T.81, B.2.2), and nothing behind it."""
    frame = struct.pack(">BHHB", 8, height, width, 3) + b"\x01\x11\0\x02\x11\0\x03\x11\0"
    return b"\xff\xd8\xff\xc0" + struct.pack(">H", len(frame) + 2) + frame + b"\xff\xd9"


def test_what_is_no_picture_is_refused(server: Server, ask: Asker, small: bytes) -> None:
    png = cv2.imencode(".png", np.zeros((400, 400, 3), np.uint8))[1].tobytes()
    tiny = cv2.imencode(".jpg", np.zeros((40, 40, 3), np.uint8))[1].tobytes()
    for body in (b"", b"no picture", png, tiny, bomb(65_000, 65_000), bomb(0, 0), small[:300]):
        answer = ask.http.post("/api/glance", content=body)
        assert answer.status_code == 422, body[:20]
        error_of(answer)
    assert ask.http.post("/api/glance", content=b"x" * 4_000_001).status_code == 413
    for finer in ("x", "nan", "-1", "1e9", "inf"):
        assert ask.http.post(f"/api/glance?finer={finer}", content=small).status_code == 422
    for job in ("..", "../x", "%2e%2e", "nothing"):
        assert ask.http.post(f"/api/glance?job={job}", content=small).status_code == 404
    # and it still looks
    assert ask.http.post("/api/glance", content=small).status_code == 200


def test_a_page_from_elsewhere_gets_no_glance(server: Server, small: bytes) -> None:
    with httpx.Client(base_url=server.base) as plain:
        assert plain.post("/api/glance", content=small).status_code == 403
        away = {"X-Profiler": "1", "Origin": "http://evil.example"}
        assert plain.post("/api/glance", content=small, headers=away).status_code == 403
