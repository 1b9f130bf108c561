"""Every view under axe-core, by day and by lamp: labels, roles, contrast. Keys alone suffice."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from tests.web.chrome import DESKTOP, PHONE, marked, measured_sample, settled, until, window


@pytest.fixture(scope="module")
def sample(chrome: Browser, bench: str) -> Iterator[str]:
    """The address of a measured sample job."""
    with window(chrome, bench, DESKTOP) as page:
        measured_sample(page, bench)
        yield page.url.removesuffix("/look")


@pytest.mark.parametrize("dark", [False, True], ids=["day", "lamp"])
@pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_every_view(
    chrome: Browser, bench: str, sample: str, size: tuple[int, int], dark: bool
) -> None:
    views = [bench + path for path in ("/", "/mat", "/tour", "/archive", "/phone", "/nowhere")]
    views += [f"{sample}/{step}" for step in ("photos", "look", "choose", "print")]
    wrong = []
    with window(chrome, bench, size, dark) as page:
        for address in views:
            page.goto(address)
            until(page, lambda: page.locator("h1, h2").count())
            settled(page)
            found = Axe().run(page)
            for violation in found.response["violations"]:
                places = [node["target"] for node in violation["nodes"]][:3]
                wrong.append(f"{address}: {violation['id']}: {violation['help']} {places}")
            wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            if wide > 0:
                wrong.append(f"{address}: {wide} px wider than the window")
    assert not wrong, "\n".join(wrong)


def test_keys_alone_correct_the_edge(chrome: Browser, bench: str, sample: str) -> None:
    with window(chrome, bench, DESKTOP) as page:
        page.goto(f"{sample}/look")
        until(page, lambda: marked(page, "whole-photo"))
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.textContent") == "To the work"
        page.get_by_role("button", name="Move the edge").focus()
        page.keyboard.press("Enter")
        page.locator("canvas.lines").focus()
        page.keyboard.press(".")
        spoken = page.locator(".unseen[role=status]")
        until(page, lambda: "from the tail" in spoken.inner_text())
        for _ in range(6):
            page.keyboard.press("ArrowUp")
        until(page, lambda: "moved" in spoken.inner_text())
        page.keyboard.press("Enter")
        until(page, lambda: page.locator(".corrections li").count() == 1)
        page.keyboard.press("Control+z")
        until(page, lambda: page.locator(".corrections li").count() == 0)


def test_targets_are_large_enough(chrome: Browser, bench: str, sample: str) -> None:
    """48 px for dusty fingers, on the phone."""
    with window(chrome, bench, PHONE) as page:
        for step in ("photos", "look", "choose", "print"):
            page.goto(f"{sample}/{step}")
            settled(page)
            small = page.evaluate(
                """() => [...document.querySelectorAll("button, a.button, select, input")]
                  .filter((e) => e.checkVisibility() && !e.closest(".unseen"))
                  .filter((e) => !["checkbox", "radio", "range", "file"].includes(e.type))
                  .map((e) => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
                  .filter(([, b]) => b.width > 1 && (b.height < 47.5 || b.width < 47.5))
                  .map(([html, b]) => `${html} ${b.width}x${b.height}`)"""
            )
            assert not small, small
