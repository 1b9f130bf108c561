"""Phones: none without --lan, none without a code, a code once."""

from __future__ import annotations

import socket
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from pathlib import Path

import cv2
import httpx
import numpy as np
import pytest

from profiler.web.phones import COOKIE, Phones, qr_svg
from profiler.web.serving import MOST_OF_ONE, lan_addresses
from tests.web.conftest import OURS, Asker, Server, ended, error_of, started

SAMPLE = Path(__file__).parents[2] / "profiler" / "web" / "sample"


@pytest.fixture(scope="module")
def open_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    if not lan_addresses():
        pytest.skip("this machine is on no local network")
    running = started(tmp_path_factory.mktemp("lan"), "--lan")
    yield running
    ended(running)


@pytest.fixture
def address(open_server: Server) -> str:
    """As a phone sees it: not loopback, so the server takes the peer for a stranger."""
    return f"http://{lan_addresses()[0]}:{open_server.port}"


def code_of(server: Server) -> str:
    with server.client() as bench:
        url: str = Asker(bench).post("/api/lan/code")["url"]
    return url.partition("#code=")[2]


def test_without_lan_nobody_else_can_connect(server: Server) -> None:
    for address in lan_addresses():
        with pytest.raises(httpx.ConnectError):
            httpx.get(f"http://{address}:{server.port}/api/state", timeout=5)


def test_without_lan_there_is_no_code(ask: Asker) -> None:
    assert ask.http.post("/api/lan/code", json={}).status_code == 422
    assert ask.http.post("/api/join", json={"code": "x"}).status_code == 403


def test_a_stranger_gets_the_join_page_and_nothing_else(open_server: Server, address: str) -> None:
    with httpx.Client(base_url=address, headers=OURS) as phone:
        assert phone.get("/join").status_code == 200
        for path in ("/", "/phone", "/api/state", "/api/jobs", "/api/events", "/job/1"):
            answer = phone.get(path)
            assert answer.status_code == 401 and error_of(answer)["code"] == "join", path
        for path in ("/api/jobs", "/api/lan/code", "/api/jobs/sample"):
            assert phone.post(path, json={}).status_code == 401, path
        for cookie in ("", "x", "a" * 3000, "\x01", f"{COOKIE}="):
            answer = phone.get("/api/state", headers={"Cookie": f"{COOKIE}={cookie}"})
            assert answer.status_code == 401
    assert not list(open_server.folder.iterdir())


@pytest.mark.parametrize(
    "pretence",
    [
        {"X-Forwarded-For": "127.0.0.1"},
        {"Forwarded": "for=127.0.0.1"},
        {"X-Real-IP": "127.0.0.1"},
        {"X-Forwarded-Host": "127.0.0.1"},
    ],
)
def test_a_stranger_cannot_pretend_to_be_here(address: str, pretence: dict[str, str]) -> None:
    with httpx.Client(base_url=address, headers={**OURS, **pretence}) as phone:
        assert phone.get("/api/state").status_code == 401


def test_a_stranger_who_says_localhost_is_still_one(open_server: Server, address: str) -> None:
    host = {"Host": f"127.0.0.1:{open_server.port}"}
    with httpx.Client(base_url=address, headers={**OURS, **host}) as phone:
        assert phone.get("/api/state").status_code == 401


def test_a_code_lets_one_phone_in_once(open_server: Server, address: str) -> None:
    code = code_of(open_server)
    with httpx.Client(base_url=address, headers=OURS, timeout=120) as phone:
        answer = phone.post("/api/join", json={"code": code})
        assert answer.status_code == 204
        cookie = answer.headers["set-cookie"].lower()
        assert "httponly" in cookie and "samesite=strict" in cookie
        state = phone.get("/api/state").json()
        assert state["client"] == "phone" and state["lan"] == {"on": True, "phones": 1}
        with httpx.Client(base_url=address, headers=OURS) as second:
            again = second.post("/api/join", json={"code": code})
            assert again.status_code == 403 and error_of(again)["code"] == "code"
            assert second.get("/api/state").status_code == 401
        # the phone does its work, but lets nobody else in
        job = phone.post("/api/jobs", json={"name": "From the phone"}).json()
        photo = (SAMPLE / "photo-1.jpg").read_bytes()
        sent = phone.post(f"/api/jobs/{job['id']}/photos?name=IMG.jpg", content=photo)
        assert sent.status_code == 201
        assert Asker(phone).checked(job["id"])["check"]["points"]
        assert phone.post("/api/lan/code", json={}).status_code == 403
        assert phone.get("/api/lan/code.svg?n=1").status_code == 403
        with open_server.client() as bench:
            assert bench.post("/api/lan/close", json={}).status_code == 204
        assert phone.get("/api/state").status_code == 401


def test_guessing_ends_the_code(open_server: Server, address: str) -> None:
    code = code_of(open_server)
    with httpx.Client(base_url=address, headers=OURS) as phone:
        for n in range(12):
            guess = phone.post("/api/join", json={"code": f"{code[:-2]}{n:02d}"})
            assert guess.status_code == 403
        assert phone.post("/api/join", json={"code": code}).status_code == 403


def test_another_machine_cannot_hold_all_connections(open_server: Server, address: str) -> None:
    host = lan_addresses()[0]
    links = [socket.create_connection((host, open_server.port), timeout=20) for _ in range(60)]
    try:
        held = 0
        for link in links:
            link.settimeout(0.3)
            try:
                assert link.recv(1) == b""  # hung up on
            except TimeoutError:
                held += 1
            except ConnectionError:
                pass
        assert 0 < held <= MOST_OF_ONE
        with open_server.client() as bench:
            Asker(bench).get("/api/state")
    finally:
        for link in links:
            link.close()


def test_a_code_is_not_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [1000.0]
    monkeypatch.setattr("profiler.web.phones.time.monotonic", lambda: now[0])
    phones = Phones()
    code, _ = phones.new_code()
    now[0] += 601
    with pytest.raises(Exception, match="too old"):
        phones.join(code)
    code, _ = phones.new_code()
    session = phones.join(code)
    assert phones.knows(session)
    now[0] += 13 * 3600
    assert not phones.knows(session)


def test_the_picture_holds_the_address() -> None:
    """Read back by OpenCV's own reader of QR codes (ISO/IEC 18004)."""
    text = "http://192.168.1.5:8765/join#code=Ab-cdefghij_klmnopqrs"
    root = ET.fromstring(qr_svg(text))
    path = next(e for e in root.iter() if e.tag.endswith("path") and "stroke" in e.attrib)
    size = int(root.attrib["width"]) // 8
    modules = np.full((size, size), 255, np.uint8)
    y = x = 0.0
    numbers = path.attrib["d"].replace("M", " M ").replace("h", " h ").replace("m", " m ").split()
    at = 0
    while at < len(numbers):
        kind = numbers[at]
        if kind == "h":
            length = int(numbers[at + 1])
            modules[int(y), int(x) : int(x) + length] = 0
            x += length
            at += 2
        else:
            dx, dy = float(numbers[at + 1]), float(numbers[at + 2])
            x, y = (dx, dy) if kind == "M" else (x + dx, y + dy)
            at += 3
    picture = cv2.resize(modules, None, fx=8, fy=8, interpolation=cv2.INTER_NEAREST)
    found, *_ = cv2.QRCodeDetector().detectAndDecode(picture)
    assert found == text
