"""Debian's chromium, driven through the DevTools protocol, and a served bench for it to open."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
#: viewport of a small laptop and of a phone, CSS px
DESKTOP, PHONE = (1280, 720), (390, 844)
NAMES = ("chromium", "chromium-browser", "google-chrome")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def chromium() -> str:
    """Where chromium is. Without it there is nothing to test with, and that is said aloud."""
    for name in NAMES:
        if found := shutil.which(name):
            return found
    words = "chromium is not installed: 'apt install chromium' (.ci/run does it)"
    if os.environ.get("CI"):
        pytest.fail(words)
    pytest.skip(words)


@contextmanager
def browser() -> Iterator[Browser]:
    """A headless chromium with an empty profile."""
    with sync_playwright() as playwright:
        chrome = playwright.chromium.launch(executable_path=chromium(), args=list(FLAGS))
        try:
            yield chrome
        finally:
            chrome.close()


@contextmanager
def served(home: Path) -> Iterator[str]:
    """`profiler serve` with everything it keeps below `home`; gives its address."""
    surroundings = {k: v for k, v in os.environ.items() if not k.startswith("PROFILER_")}
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME", "XDG_STATE_HOME", "HOME"):
        surroundings[name] = str(home / "user")
    command = [sys.executable, "-c", "from profiler.cli.main import run; run()", "serve"]
    command += [str(home / "jobs"), "--port", "0", "--no-browser"]
    command += ["--archive", str(home / "archive")]
    with (home / "serve.log").open("w+", encoding="utf-8") as log:
        running = subprocess.Popen(
            command,
            cwd=home,
            env=surroundings | {"PYTHONUNBUFFERED": "1", "PYTHONPATH": str(ROOT)},
            stdout=log,
            stderr=subprocess.STDOUT,
        )
        try:
            yield _address(running, home / "serve.log")
        finally:
            running.terminate()
            try:
                running.wait(20)
            except subprocess.TimeoutExpired:
                running.kill()
                running.wait()


def _address(running: subprocess.Popen[bytes], log: Path) -> str:
    end = time.monotonic() + 60
    while time.monotonic() < end:
        said = log.read_text(encoding="utf-8")
        if found := re.search(r"http://127\.0\.0\.1:\d+", said):
            return found.group()
        if running.poll() is not None:
            break
        time.sleep(0.1)
    raise AssertionError(f"profiler serve did not start:\n{log.read_text(encoding='utf-8')}")


@contextmanager
def window(
    chrome: Browser, address: str, size: tuple[int, int], dark: bool = False
) -> Iterator[Page]:
    """A window of its own, without memory of others. Whatever the page complains of fails it."""
    context = window_context(chrome, size, dark)
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    # a refusal is an answer, and chromium notes each of them down
    page.on(
        "console",
        lambda said: (
            wrong.append(said.text)
            if said.type == "error" and "Failed to load resource" not in said.text
            else None
        ),
    )
    asked_outside: list[str] = []
    page.on(
        "request",
        lambda asked: (
            None
            if asked.url.startswith((address, "blob:", "data:"))
            else asked_outside.append(asked.url)
        ),
    )
    try:
        yield page
    finally:
        context.close()
    assert not wrong, wrong
    assert not asked_outside, asked_outside


def window_context(chrome: Browser, size: tuple[int, int], dark: bool = False) -> BrowserContext:
    """A phone has fingers and a dense screen."""
    phone = size[0] < 700
    return chrome.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme="dark" if dark else "light",
        device_scale_factor=2 if phone else 1,
        has_touch=phone,
        is_mobile=phone,
        accept_downloads=True,
    )


def until(page: Page, what: Callable[[], Any], seconds: float = 60) -> Any:
    """Asks until the answer is yes; the page's content policy forbids playwright's own waiting."""
    end = time.monotonic() + seconds
    while True:
        if answer := what():
            return answer
        if time.monotonic() > end:
            shown = page.evaluate("document.body.innerText")
            raise AssertionError(f"not within {seconds} s: {page.url}\n{shown[-2500:]}")
        page.wait_for_timeout(50)


def marked(page: Page, name: str) -> float | None:
    """When the page marked something in its timeline, ms; None if it did not yet."""
    times = page.evaluate(f"performance.getEntriesByName({name!r}, 'mark').map(e => e.startTime)")
    return float(times[0]) if times else None


def drop_files(page: Page, files: list[Path]) -> None:
    """Lets files fall onto the window, as a hand does."""
    page.evaluate(
        """() => {
          const input = document.createElement("input");
          input.type = "file"; input.multiple = true; input.id = "in-hand"; input.hidden = true;
          document.body.append(input);
        }"""
    )
    page.set_input_files("#in-hand", [str(file) for file in files])
    page.evaluate(
        """() => {
          const hand = document.getElementById("in-hand");
          const data = new DataTransfer();
          for (const file of hand.files) data.items.add(file);
          hand.remove();
          const on = (name) => document.body.dispatchEvent(new DragEvent(name,
            { dataTransfer: data, bubbles: true, cancelable: true }));
          on("dragenter"); on("dragover"); on("drop");
        }"""
    )


def lay_out(address: str) -> None:
    """The bench gets the mat and cards of `samples/wren`, as a user would have made them."""
    for path, body in (
        ("mat", {"paper": "A4", "width": "780mm", "height": "560mm", "keep": True}),
        ("mat/bars", {"x": "179.5mm", "y": "270.5mm"}),
        ("cards", {"paper": "A4", "thickness": "0.2mm", "keep": True}),
        ("cards/bars", {"x": "169.5mm", "y": "220.4mm"}),
    ):
        asked = urllib.request.Request(
            f"{address}/api/{path}",
            json.dumps(body).encode(),
            {"Content-Type": "application/json", "X-Profiler": "1"},
        )
        with urllib.request.urlopen(asked, timeout=120) as answer:
            assert answer.status < 300


def sample_job(page: Page, bench: str) -> None:
    """Make a sample job and show its photo, which may be measured."""
    page.goto(bench + "/")
    until(page, lambda: page.get_by_role("button", name="Sample job").count())
    page.get_by_role("button", name="Sample job").click()
    measure = page.get_by_role("button", name="Measure", exact=True)
    until(page, lambda: measure.count() and measure.is_enabled())


def measured_now(page: Page) -> None:
    """Measure the job whose photos are shown; its outline is shown then."""
    page.get_by_role("button", name="Measure", exact=True).click()
    until(page, lambda: marked(page, "outline"), 120)


def measured_sample(page: Page, bench: str) -> None:
    """Make a sample job and measure it."""
    sample_job(page, bench)
    measured_now(page)


def settled(page: Page) -> None:
    until(page, lambda: page.locator("[aria-busy=true]").count() == 0)
    page.wait_for_timeout(300)
