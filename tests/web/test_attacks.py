"""What a hostile page, file, name or peer may try against a running server: nothing comes of it."""

from __future__ import annotations

import json
import socket
import struct
import threading
import time
import zlib
from pathlib import Path
from typing import Any

import httpx
import pytest

from profiler.web import serving, uploads, workers
from profiler.web.answers import Refused
from profiler.web.folder import WorkingFolder
from tests.web.conftest import OURS, Asker, Server, error_of

SAMPLE = Path(__file__).parents[2] / "profiler" / "web" / "sample"
STRANGE = [
    "../escape",
    "..%2fescape",
    "%2e%2e%2fescape",
    "..\\escape",
    "%00",
    ".removed",
    ".bench",
    "a/b",
    "C:windows",
    "con\u202egpj.exe",
    "x" * 300,
]


def raw(server: Server, text: bytes, wait_s: float = 20.0) -> bytes:
    """What comes back for bytes that no library would send."""
    with socket.create_connection(("127.0.0.1", server.port), timeout=wait_s) as link:
        link.sendall(text)
        return answer_on(link)


def answer_on(link: socket.socket) -> bytes:
    """One whole answer."""
    found = b""
    while part := link.recv(65536):
        found += part
        head, end, body = found.partition(b"\r\n\r\n")
        length = [h for h in head.lower().split(b"\r\n") if h.startswith(b"content-length:")]
        if end and (not length or len(body) >= int(length[0].split(b":")[1])):
            break
    return found


# --- who asks ---


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:{port}", "localhost", "127.0.0.1:1", "[::1]:80", ""]
)
def test_another_name_that_leads_here_is_refused(server: Server, host: str) -> None:
    """Rebinding: a page from outside makes its own name point at this machine."""
    with server.client() as client:
        answer = client.get("/api/state", headers={"Host": host.format(port=server.port)})
        assert answer.status_code == 421 and error_of(answer)["code"] == "host"
        assert str(server.folder) not in answer.text


def test_two_host_lines_are_refused(server: Server) -> None:
    good = f"127.0.0.1:{server.port}".encode()
    found = raw(server, b"GET /api/state HTTP/1.1\r\nHost: %b\r\nHost: evil\r\n\r\n" % good)
    assert found.split()[1] in (b"400", b"421")


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "http://127.0.0.1:1", "file://"])
def test_a_page_from_elsewhere_changes_and_reads_nothing(
    server: Server, ask: Asker, origin: str
) -> None:
    before = ask.get("/api/jobs")
    for method, path in (("POST", "/api/jobs"), ("GET", "/api/jobs"), ("PUT", "/api/settings")):
        answer = ask.http.request(method, path, headers={"Origin": origin}, content=b"{}")
        assert answer.status_code == 403 and error_of(answer)["code"] == "origin"
        assert "access-control-allow-origin" not in answer.headers
    assert ask.get("/api/jobs") == before


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", None])
def test_a_form_on_another_page_changes_nothing(
    server: Server, ask: Asker, kind: str | None
) -> None:
    """What a browser sends without asking first: no header of ours."""
    before = ask.get("/api/jobs")
    headers = {"Content-Type": kind} if kind else {}
    with httpx.Client(base_url=server.base) as plain:
        answer = plain.post("/api/jobs", content=b'{"name": "planted"}', headers=headers)
        assert answer.status_code == 403
        asks_first = plain.options(
            "/api/jobs",
            headers={
                "Origin": "http://evil.example",
                "Access-Control-Request-Method": "POST",
                "Access-Control-Request-Headers": "x-profiler",
            },
        )
        assert asks_first.status_code in (403, 405)
        assert not any(h.startswith("access-control") for h in asks_first.headers)
    assert ask.get("/api/jobs") == before


def test_a_picture_tag_on_another_page_gets_nothing(server: Server, wren: Any) -> None:
    with httpx.Client(base_url=server.base) as plain:
        for path in (f"/api/jobs/{wren['id']}/view.jpg", "/api/events", "/api/jobs"):
            answer = plain.get(path, headers={"Sec-Fetch-Site": "cross-site"})
            assert answer.status_code == 403


def test_every_answer_carries_the_safety_headers(server: Server, ask: Asker, wren: Any) -> None:
    paths = ["/", "/api/state", "/api/nothing", f"/api/jobs/{wren['id']}/view.jpg", "/static/no.js"]
    for path in paths:
        headers = ask.http.get(path).headers
        assert headers["x-content-type-options"] == "nosniff", path
        assert headers["x-frame-options"] == "DENY"
        policy = headers["content-security-policy"]
        assert "unsafe" not in policy and "http" not in policy and "*" not in policy
        assert "default-src 'none'" in policy and "server" not in headers


# --- names and paths ---


@pytest.mark.parametrize("name", STRANGE)
def test_no_job_outside_the_folder(server: Server, ask: Asker, name: str) -> None:
    outside = server.folder.parent / "escape"
    outside.mkdir(exist_ok=True)
    (outside / "job.json").write_text("{}")
    for path in (f"/api/jobs/{name}", f"/api/jobs/{name}/files/job.json"):
        answer = ask.http.get(path)
        assert answer.status_code in (404, 414), path
        error_of(answer)


@pytest.mark.parametrize("name", ["../escape", "work/../../escape", "", ".", "..", "inside/../in"])
def test_no_name_leads_out_even_if_it_came_so_far(tmp_path: Path, name: str) -> None:
    """What the addresses let through is looked at once more."""
    work = tmp_path / "work"
    for folder in (tmp_path / "escape", work, work / "in", work / "inside"):
        folder.mkdir()
        (folder / "job.json").write_text("{}")
    assert WorkingFolder(work).place("in").path == work / "in"
    with pytest.raises(Refused):
        WorkingFolder(work).place(name)


def test_a_photo_that_is_a_link_is_not_sent(server: Server, ask: Asker) -> None:
    """A job's folder that came from elsewhere may hold one."""
    job = ask.post("/api/jobs", {"name": "Linked"}, 201)["id"]
    folder = server.folder / job
    secret = server.folder.parent / "secret.jpg"
    secret.write_bytes(b"not for anybody")
    (folder / "photo-1.jpg").symlink_to(secret)
    state = json.loads((folder / "job.json").read_text())
    state["photos"] = [["photo-1.jpg", "x"]]
    (folder / "job.json").write_text(json.dumps(state))
    answer = ask.http.get(f"/api/jobs/{job}/photos/photo-1.jpg")
    assert answer.status_code == 404 and error_of(answer)["code"] == "missing"


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("job.json", '{"format": "profiler bench job", "version": 1, "revision": 1e999}'),
        ("job.json", "[" * 100_000),
        (".bench/view.json", "[]"),
        (".bench/view.json", '{"key": "\\ud800", "stations": [], "sheets": NaN}'),
        (".bench/photo-1.jpg.check.json", "[1]"),
        (".bench/photo-1.jpg.check.json", '{"ok": true, "points": [], "hints": "\\ud800"}'),
        ("measurement.json", '{"format": "profiler measurement", "length": 1e999}'),
    ],
)
def test_damaged_files_spoil_neither_list_nor_job(
    ask: Asker, server: Server, name: str, text: str
) -> None:
    job = ask.sample()["id"]
    ask.checked(job)
    path = server.folder / job / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(text)
    assert job in {j["id"] for j in ask.get("/api/jobs")["jobs"]}
    ask.job(job)
    for what in ("view", "measurement", "thumbnail.svg"):
        assert ask.http.get(f"/api/jobs/{job}/{what}").status_code < 500, what


def test_a_link_out_of_the_folder_is_no_job(server: Server, ask: Asker, wren: Any) -> None:
    outside = server.folder.parent / "secret"
    outside.mkdir(exist_ok=True)
    (outside / "measurement.json").write_bytes(
        (server.folder / wren["id"] / "measurement.json").read_bytes()
    )
    (server.folder / "link").symlink_to(outside)
    (server.folder / wren["id"] / "away.json").symlink_to(outside / "measurement.json")
    try:
        assert ask.http.get("/api/jobs/link").status_code == 404
        assert "link" not in {j["id"] for j in ask.get("/api/jobs")["jobs"]}
        assert ask.http.get(f"/api/jobs/{wren['id']}/files/away.json").status_code == 404
    finally:
        (server.folder / "link").unlink()
        (server.folder / wren["id"] / "away.json").unlink()


@pytest.mark.parametrize(
    "path",
    [
        "../../data/profiler/bench.json",
        "..%2f..%2flog.txt",
        "%2fetc%2fpasswd",
        "/etc/passwd",
        ".bench/view.json",
        "job.json",
        "corrections.json/../job.json",
        "photo-1.jpg",
    ],
)
def test_no_file_but_results(ask: Asker, wren: Any, path: str) -> None:
    for where in ("files", "pages"):
        answer = ask.http.get(f"/api/jobs/{wren['id']}/{where}/{path}")
        assert answer.status_code == 404
    answer = ask.http.get(f"/api/jobs/{wren['id']}/photos/{path}")
    assert answer.status_code == (200 if path == "photo-1.jpg" else 404)


@pytest.mark.parametrize("path", ["..%2fapp.py", "%2e%2e/app.py", "index.html", "../app.py", ".x"])
def test_no_file_but_the_pages_own(server: Server, path: str) -> None:
    found = raw(
        server,
        f"GET /static/{path} HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n\r\n".encode(),
    )
    assert found.split()[1] == b"404" and b"import" not in found


def test_markup_in_names_stays_text(server: Server, ask: Asker) -> None:
    evil = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>\r\nX-Evil: 1\u202e\x00"
    job = ask.post("/api/jobs", {"name": evil, "customer": evil}, 201)
    assert "<script>" in job["name"]  # it is a name; the page shows it as one
    assert not set(job["name"]) & set("\r\n\u202e\x00")
    assert set(job["id"]) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    answer = ask.http.get(f"/api/jobs/{job['id']}")
    assert answer.headers["content-type"] == "application/json"
    assert "x-evil" not in answer.headers
    upload = ask.http.post(
        f"/api/jobs/{job['id']}/photos",
        params={"name": "../../../evil\r\nX-Evil: 1.jpg<script>"},
        content=(SAMPLE / "photo-1.jpg").read_bytes(),
    )
    assert upload.status_code == 201 and upload.json()["name"] == "photo-1.jpg"
    done = ask.measured(job["id"])
    svg = ask.post(f"/api/jobs/{done['id']}/template", {"clearance": "3mm"})
    drawn = next(f for f in svg["files"] if f["kind"] == "svg")
    shown = ask.http.get(drawn["url"] + "?inline=1")
    assert "<script" not in shown.text and "sandbox" in shown.headers["content-security-policy"]
    assert not list(server.folder.parent.glob("evil*"))


@pytest.mark.parametrize("name", ["x" * 3000, ["a"], {"a": 1}, True, "\ud800"])
def test_names_that_are_none(ask: Asker, name: Any) -> None:
    body = json.dumps({"name": name})
    answer = ask.http.post("/api/jobs", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code in (201, 422)
    assert answer.status_code == 422


# --- bodies ---


@pytest.mark.parametrize(
    "body",
    [b"[]", b"nonsense", b"\xff\xfe", b"[" * 100_000, b'{"a":' * 50_000, b"1", b'"a"', b"null"],
)
def test_bodies_that_are_no_request(ask: Asker, body: bytes) -> None:
    answer = ask.http.post("/api/jobs", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == 400
    error_of(answer)


@pytest.mark.parametrize(
    ("method", "path", "field"),
    [
        ("POST", "/api/mat/bars", "x"),
        ("POST", "/api/mat", "roll_width"),
        ("DELETE", "/api/printers", "name"),
        ("POST", "/api/archive/serves", "least"),
        ("PUT", "/api/settings", "paper"),
    ],
)
def test_half_a_surrogate_pair_is_no_text(ask: Asker, method: str, path: str, field: str) -> None:
    """No UTF-8 can hold it, so an answer that repeats it could not be sent."""
    body = b'{"%s": "\\ud800"}' % field.encode()
    answer = ask.http.request(
        method, path, content=body, headers={"Content-Type": "application/json"}
    )
    assert answer.status_code == 422 and error_of(answer)["code"] == "request"


def test_a_name_too_long_for_the_disk(server: Server) -> None:
    with server.client() as client:
        for path in (
            "/static/" + "a" * 400,
            "/api/jobs/" + "a" * 400,
            "/api/mat/files/" + "a" * 400,
        ):
            answer = client.get(path)
            assert answer.status_code == 404 and error_of(answer)["code"] == "missing", path


def test_a_body_without_end_is_cut_off(server: Server, ask: Asker) -> None:
    def endless() -> Any:
        for _ in range(100):
            yield b" " * 100_000

    with server.client(headers={"Content-Type": "application/json"}) as client:
        try:
            answer = client.post("/api/jobs", content=endless())
            assert answer.status_code == 413
        except httpx.WriteError:
            pass  # the server has hung up on it
    ask.get("/api/state")


@pytest.mark.parametrize("announced", [True, False])
def test_an_upload_that_is_too_large(server: Server, ask: Asker, announced: bool) -> None:
    job = ask.post("/api/jobs", {"name": "Big"}, 201)
    place = server.folder / job["id"]
    head = b"\xff\xd8\xff\xe0" + b"\0" * 100
    target = f"/api/jobs/{job['id']}/photos?name=a.jpg".encode()
    start = b"POST %b HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nX-Profiler: 1\r\n" % (target, server.port)
    if announced:
        found = raw(server, start + b"Content-Length: 9000000000\r\n\r\n" + head)
        assert found.split()[1] == b"413"
    else:
        chunk = b"100000\r\n" + b"\0" * 0x100000 + b"\r\n"
        found = b""
        with socket.create_connection(("127.0.0.1", server.port), timeout=60) as link:
            link.sendall(start + b"Transfer-Encoding: chunked\r\n\r\n")
            link.sendall(b"%x\r\n%b\r\n" % (len(head), head))
            try:
                for _ in range(uploads.MOST_BYTES // 0x100000 + 20):
                    link.sendall(chunk)
                found = link.recv(4000)
            except OSError:
                found = b"HTTP/1.1 413 hung up"
        assert found.split()[1] == b"413"
    wait_for(lambda: not list(place.glob(".*.part")))
    assert ask.job(job["id"])["photos"] == []


def test_an_upload_that_breaks_off_leaves_nothing(server: Server, ask: Asker) -> None:
    job = ask.post("/api/jobs", {"name": "Broken off"}, 201)
    target = f"/api/jobs/{job['id']}/photos?name=a.jpg".encode()
    with socket.create_connection(("127.0.0.1", server.port), timeout=10) as link:
        link.sendall(
            b"POST %b HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nX-Profiler: 1\r\nContent-Length: 5000000"
            b"\r\n\r\n" % (target, server.port)
        )
        link.sendall(b"\xff\xd8\xff\xe0" + b"\0" * 50_000)
        time.sleep(0.3)
    wait_for(lambda: not list((server.folder / job["id"]).glob(".*.part")))
    assert ask.job(job["id"])["photos"] == []


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.zip", b"PK\x03\x04" + b"\0" * 200, "no photo"),
        ("a.jpg", b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>" * 3, "no photo"),
        ("a.jpg", b"%PDF-1.7" + b"\0" * 100, "a PDF"),
        ("a.jpg", b"", "empty"),
        ("a.html", b"<html><script>alert(1)</script>" * 9, "no photo"),
    ],
)
def test_what_is_no_photo(ask: Asker, name: str, data: bytes, words: str) -> None:
    job = ask.post("/api/jobs", {"name": "No photo"}, 201)
    answer = ask.http.post(f"/api/jobs/{job['id']}/photos?name={name}", content=data)
    assert answer.status_code == 422 and words in error_of(answer)["message"]


def png_bomb(width: int, height: int) -> bytes:
    """A small file that unpacks to a huge picture (PNG, ISO/IEC 15948)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    packer = zlib.compressobj(9)
    line = b"\0" * 1_000_000
    data = b"".join(packer.compress(line) for _ in range(400)) + packer.flush()
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def test_a_picture_that_would_fill_the_memory_is_never_unpacked(server: Server, ask: Asker) -> None:
    bomb = png_bomb(40_000, 40_000)
    assert len(bomb) < 1_000_000
    job = ask.post("/api/jobs", {"name": "Bomb"}, 201)
    answer = ask.http.post(f"/api/jobs/{job['id']}/photos?name=a.png", content=bomb)
    assert answer.status_code == 201
    before = time.monotonic()
    check = ask.checked(job["id"])["check"]
    assert not check["ok"] and "40000 x 40000 px" in check["points"][0]["message"]
    assert time.monotonic() - before < 60
    assert most_memory_mb(server) < 1500


def most_memory_mb(server: Server) -> float:
    """Of the server and its workers, so far (Linux)."""
    peaks = [0.0]
    children = Path(f"/proc/{server.process.pid}/task/{server.process.pid}/children")
    if not children.exists():
        pytest.skip("memory can be read on Linux only")
    for pid in (str(server.process.pid), *children.read_text().split()):
        for line in Path(f"/proc/{pid}/status").read_text().splitlines():
            if line.startswith("VmHWM"):
                peaks.append(int(line.split()[1]) / 1024)
    return max(peaks)


# --- time ---


def test_slow_peers_do_not_hold_up_others(server: Server, ask: Asker) -> None:
    """Connections that say nothing, or a letter at a time, while others are served."""
    links = [socket.create_connection(("127.0.0.1", server.port), timeout=60) for _ in range(40)]
    whole = b"GET /api/state HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n\r\n" % server.port
    try:
        for i, link in enumerate(links):
            if i % 4 == 0:  # one good request first
                link.sendall(whole)
                assert answer_on(link).startswith(b"HTTP/1.1 200")
            link.sendall(b"GET /api/state HT" if i % 2 == 0 else b"")
        ask.get("/api/state")
        until = time.monotonic() + serving.FIRST_REQUEST_S + 10
        for link in links:
            link.settimeout(max(0.1, until - time.monotonic()))
            assert link.recv(10) == b""  # hung up on
    finally:
        for link in links:
            link.close()


def test_long_work_does_not_hold_up_others(ask: Asker, server: Server) -> None:
    """While a job is measured, forty other requests are answered."""
    job = ask.sample()
    ask.post(f"/api/jobs/{job['id']}/measure", {"revision": job["revision"]}, 202)
    answered: list[int] = []

    def other() -> None:
        with server.client() as client:
            for _ in range(10):
                answered.append(client.get("/api/state").status_code)

    threads = [threading.Thread(target=other) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert answered == [200] * 40
    assert ask.rest(job["id"])["state"] == "measured"


def test_a_crowd_of_requests_for_work_is_turned_away_in_part(ask: Asker, server: Server) -> None:
    """Sheets asked for by the hundred: some are drawn, the rest get a clear no, the page lives."""
    found: list[tuple[int, str]] = []

    def crowd() -> None:
        with server.client() as client:
            answer = client.post("/api/cards", json={"paper": "A4"})
            code = "" if answer.status_code == 200 else error_of(answer)["code"]
            found.append((answer.status_code, code))

    threads = [threading.Thread(target=crowd) for _ in range(workers.MOST_WAITING + 30)]
    for thread in threads:
        thread.start()
    ask.get("/api/state")
    for thread in threads:
        thread.join(120)
    assert len(found) == len(threads)
    assert set(found) == {(200, ""), (503, "full")}
    assert sum(status == 200 for status, _ in found) >= workers.MOST_WAITING


def test_headers_without_end_are_cut_off(server: Server) -> None:
    start = b"GET /api/state HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n" % server.port
    try:
        found = raw(server, start + b"X-Long: " + b"a" * 200_000 + b"\r\n\r\n")
    except OSError:
        found = b"HTTP/1.1 431 hung up"
    assert found.split()[1][:1] == b"4"


def wait_for(what: Any) -> None:
    """Until it is so; what happens behind an answer takes a moment."""
    until = time.monotonic() + 30
    while not what():
        assert time.monotonic() < until
        time.sleep(0.05)


def test_the_servers_own_log_names_no_fault(server: Server) -> None:
    """Runs last in this file: nothing above was a fault of the program."""
    assert "Traceback" not in server.log.read_text(), server.log.read_text()
    assert OURS
