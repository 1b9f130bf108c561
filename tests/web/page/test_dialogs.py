"""Each dialog: named, kept inside the window, worked by keys alone, and gone with Escape."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.web.chrome import DESKTOP, PHONE, window
from tests.web.dialogs import opened
from tests.web.page.test_phone_page import asked


@pytest.fixture(scope="module")
def kept(bench: str) -> Iterator[tuple[str, str]]:
    """Addresses of a measured sample job and of an entry made from it."""
    import time

    job = asked(bench, "jobs/sample", {})
    asked(bench, f"jobs/{job['id']}/measure", {"revision": job["revision"]})
    end = time.monotonic() + 120
    while asked(bench, f"jobs/{job['id']}")["state"] != "measured" and time.monotonic() < end:
        time.sleep(0.3)
    made = asked(bench, "archive", {"job": job["id"], "name": "Wren", "another": True})
    yield f"/job/{job['id']}", f"/archive/{made['number'].replace('.', '-')}"


def inside(page: Page) -> bool:
    """Whether the focus is in the dialog or in the browser's own bars."""
    held: bool = page.evaluate(
        "document.activeElement === document.body || !!document.activeElement.closest('dialog')"
    )
    return held


@pytest.mark.parametrize("dark", [False, True], ids=["day", "lamp"])
@pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_every_dialog(
    chrome: Browser, bench: str, kept: tuple[str, str], size: tuple[int, int], dark: bool
) -> None:
    wrong: list[str] = []
    with window(chrome, bench, size, dark) as page:
        for dialog, button in opened(page, bench, *kept):
            shown = page.locator("dialog[open]")
            box = shown.bounding_box()
            assert box
            if box["x"] < 0 or box["y"] < 0:
                wrong.append(f"{dialog.name}: begins outside the window")
            if box["x"] + box["width"] > size[0] or box["y"] + box["height"] > size[1]:
                wrong.append(f"{dialog.name}: ends outside the window")
            if shown.evaluate("d => d.scrollWidth - d.clientWidth") > 0:
                wrong.append(f"{dialog.name}: wider than itself")
            for violation in Axe().run(page).response["violations"]:
                places = [node["target"] for node in violation["nodes"]][:2]
                wrong.append(f"{dialog.name}: {violation['id']}: {violation['help']} {places}")
            name = shown.evaluate("d => document.getElementById(d.getAttribute('aria-labelledby'))")
            if name is None:
                wrong.append(f"{dialog.name}: has no name")
            for _ in range(30):
                page.keyboard.press("Tab")
                if not inside(page):
                    wrong.append(f"{dialog.name}: the focus leaves it")
                    break
            small = shown.evaluate(
                "d => [...d.querySelectorAll('button, a, select, input:not(.unseen)')].filter("
                "e => e.offsetParent && e.type !== 'checkbox' && e.type !== 'radio'"
                " && e.getBoundingClientRect().height < 40).map(e => e.textContent || e.id)"
            )
            if small and size == PHONE:
                wrong.append(f"{dialog.name}: too small for a finger: {small}")
            page.keyboard.press("Escape")
            page.wait_for_timeout(200)
            if page.locator("dialog[open]").count():
                wrong.append(f"{dialog.name}: Escape leaves it open")
            elif not button.evaluate("b => b === document.activeElement"):
                wrong.append(f"{dialog.name}: the focus is lost behind it")
    assert not wrong, "\n".join(wrong)
