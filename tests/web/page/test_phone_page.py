"""The phone's page: advice at once, marks at their places, a live picture where there is one."""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.web.chrome import FLAGS, PHONE, ROOT, chromium, until, window

PHOTO = ROOT / "profiler" / "web" / "sample" / "photo-1.jpg"


def asked(address: str, path: str, body: dict[str, Any] | None = None) -> Any:
    request = urllib.request.Request(
        f"{address}/api/{path}",
        None if body is None else json.dumps(body).encode(),
        {"Content-Type": "application/json", "X-Profiler": "1"},
    )
    with urllib.request.urlopen(request, timeout=120) as answer:
        return json.loads(answer.read())


@pytest.fixture
def job(bench: str) -> str:
    """A job with the sample's own mat; the phone's page takes the newest."""
    made: str = asked(bench, "jobs/sample", {})["id"]
    return made


@pytest.fixture
def headless_photo(tmp_path: Path) -> Path:
    """The sample without its headstock."""
    photo = cv2.imread(str(PHOTO))
    assert photo is not None
    cv2.imwrite(str(tmp_path / "shot.jpg"), photo[:, :2016])
    return tmp_path / "shot.jpg"


def clean(page: Page) -> None:
    found = Axe().run(page).response["violations"]
    assert not found, [(v["id"], v["nodes"][0]["target"]) for v in found]


@pytest.mark.parametrize("dark", [False, True], ids=["day", "lamp"])
def test_a_shot_is_advised_before_it_is_sent(
    chrome: Browser, bench: str, job: str, headless_photo: Path, dark: bool
) -> None:
    with window(chrome, bench, PHONE, dark) as page:
        page.goto(bench + "/phone")
        until(page, lambda: page.get_by_text("Take another photo").count())
        page.set_input_files("input[type=file]", str(headless_photo))
        do = "Come higher: the headstock is outside the photo."
        until(page, lambda: page.locator(".first", has_text=do).count())
        # it is marked at the photo's right border
        ring = page.locator(".marked-photo polygon.ring").first.get_attribute("points") or ""
        assert min(float(p.split(",")[0]) for p in ring.split()) > 0.9
        # nothing of it is at the bench; the sentence is in sight without pushing the page
        assert len(asked(bench, f"jobs/{job}")["photos"]) == 1
        box = page.locator(".first", has_text=do).bounding_box()
        assert box and box["y"] + box["height"] < PHONE[1] - 64
        clean(page)
        page.get_by_role("button", name="Send it all the same").click()
        until(page, lambda: page.get_by_role("heading", name="The last photo").count())
        away = page.get_by_role("button", name="Take this photo away")
        until(page, lambda: away.count(), 120)
        clean(page)
        away.click()
        until(page, lambda: len(asked(bench, f"jobs/{job}")["photos"]) == 1)


def test_a_good_shot_goes_by_itself(chrome: Browser, bench: str, job: str) -> None:
    with window(chrome, bench, PHONE) as page:
        page.goto(bench + "/phone")
        until(page, lambda: page.get_by_text("Take another photo").count())
        page.set_input_files("input[type=file]", str(PHOTO))
        until(page, lambda: len(asked(bench, f"jobs/{job}")["photos"]) == 2)
        until(page, lambda: page.get_by_text("Good enough to measure.").count(), 120)


@pytest.fixture(scope="module")
def seeing(chrome: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A chromium whose camera sees the sample."""
    photo = cv2.resize(
        np.asarray(cv2.imread(str(PHOTO))), (1600, 1200), interpolation=cv2.INTER_AREA
    )
    film = tmp_path_factory.mktemp("film") / "camera.mjpeg"
    film.write_bytes(cv2.imencode(".jpg", photo, [cv2.IMWRITE_JPEG_QUALITY, 92])[1].tobytes() * 4)
    flags = [
        *FLAGS,
        "--use-fake-ui-for-media-stream",
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-video-capture={film}",
    ]
    opened = chrome.browser_type.launch(executable_path=chromium(), args=flags)
    yield opened
    opened.close()


def test_the_live_picture_advises_and_keeps_nothing(seeing: Browser, bench: str, job: str) -> None:
    glances: list[int] = []
    under_way = [0]
    with window(seeing, bench, PHONE) as page:

        def begun(request: Any) -> None:
            if "/api/glance" in request.url and request.method == "POST":
                under_way[0] += 1
                glances.append(under_way[0])

        def done(request: Any) -> None:
            if "/api/glance" in request.url and request.method == "POST":
                under_way[0] -= 1

        page.on("request", begun)
        page.on("requestfinished", done)
        page.goto(bench + "/phone")
        until(page, lambda: page.get_by_role("button", name="Live picture with advice").count())
        page.get_by_role("button", name="Live picture with advice").click()
        until(page, lambda: page.locator(".live .first", has_text="Good: take the photo").count())
        until(page, lambda: len(glances) >= 3)
        assert max(glances) == 1, "one picture under way at a time"
        assert len(asked(bench, f"jobs/{job}")["photos"]) == 1
        clean(page)
        page.get_by_role("button", name="Close the camera").click()
        until(page, lambda: page.locator("video").count() == 0)
        before = len(glances)
        page.wait_for_timeout(1500)
        assert len(glances) == before


def test_the_live_picture_takes_the_photo(seeing: Browser, bench: str, job: str) -> None:
    with window(seeing, bench, PHONE) as page:
        page.goto(bench + "/phone")
        until(page, lambda: page.get_by_role("button", name="Live picture with advice").count())
        page.get_by_role("button", name="Live picture with advice").click()
        until(page, lambda: page.locator(".live .first", has_text="Good: take the photo").count())
        page.locator(".live").get_by_role("button", name="Take the photo").click()
        until(page, lambda: len(asked(bench, f"jobs/{job}")["photos"]) == 2)
        assert page.locator("video").count() == 0


def test_without_a_camera_for_pages_it_says_so(chrome: Browser, bench: str) -> None:
    """As over plain HTTP from another machine, where browsers have no `mediaDevices`."""
    with window(chrome, bench, PHONE) as page:
        page.add_init_script(
            "Object.defineProperty(globalThis, 'isSecureContext', { value: false });"
        )
        page.goto(bench + "/phone")
        until(page, lambda: page.get_by_text("There is no live picture here").count())
        assert page.get_by_role("button", name="Live picture with advice").count() == 0
        assert page.locator("input[type=file][capture=environment]").count() == 1
