"""Every view of the page as a picture, to be looked at: `python -m tests.web.pictures FOLDER`.

By day and by lamp, on a small laptop and on a phone.
"""

from __future__ import annotations

import argparse
import re
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, Page

from tests.web.chrome import (
    DESKTOP,
    PHONE,
    ROOT,
    browser,
    drop_files,
    lay_out,
    marked,
    served,
    until,
    window_context,
)

PHOTO = ROOT / "samples" / "wren" / "top-1.jpg"
WINDOWS = {
    "laptop-day": (DESKTOP, False),
    "laptop-lamp": (DESKTOP, True),
    "phone-day": (PHONE, False),
    "phone-lamp": (PHONE, True),
}


def made_job(chrome: Browser, address: str) -> str:
    """A measured, named job with a case that is possible, kept in the archive; its path."""
    page = window_context(chrome, DESKTOP).new_page()
    page.goto(address + "/")
    until(page, lambda: page.get_by_role("heading", name="A photo from above").count())
    drop_files(page, [PHOTO])
    until(page, lambda: marked(page, "outline"), 180)
    page.get_by_label("Top", exact=True).fill("80")
    page.get_by_label("Top", exact=True).press("Enter")
    until(page, lambda: page.locator(".corrections li").count() == 1)
    page.get_by_role("link", name="Photos", exact=True).click()
    for label, words in (("Instrument", "Wren"), ("Customer", "Ada Marsh")):
        page.get_by_label(label).fill(words)
        page.get_by_label(label).press("Enter")
        page.wait_for_timeout(600)
    until(page, lambda: page.locator("[aria-busy=true]").count() == 0)
    page.get_by_role("link", name="Print", exact=True).click()
    keep = page.get_by_role("button", name="Keep in the archive")
    until(page, lambda: keep.count(), 120)
    keep.click()
    page.get_by_role("button", name="Keep it", exact=True).click()
    until(page, lambda: "/archive/" in page.url)
    page.goto(address + "/")
    link = until(page, lambda: page.locator("a.cover").first)
    path = str(link.get_attribute("href")).rsplit("/", 1)[0]
    page.context.close()
    return path


def settle(page: Page) -> None:
    until(page, lambda: page.locator("[aria-busy=true]").count() == 0, 120)
    page.wait_for_timeout(700)


def shoot(page: Page, address: str, job: str, save: Path) -> None:
    phone = bool(page.viewport_size and page.viewport_size["width"] < 700)

    def keep(name: str) -> None:
        settle(page)
        page.screenshot(path=save / f"{save.name}-{name}.png")

    for name, path in (
        ("start", "/"),
        ("photos", f"{job}/photos"),
        ("mat", "/mat"),
        ("tour", "/tour"),
        ("archive", "/archive"),
        ("entry", "/archive/1-1"),
        ("phone", "/phone"),
        ("print", f"{job}/print"),
    ):
        page.goto(address + path)
        until(page, lambda: page.locator("h1, h2").count())
        page.wait_for_timeout(500)
        keep(name)
    page.goto(address + f"{job}/print")
    page.get_by_role("radio", name="Case").check(force=True)
    page.wait_for_timeout(800)
    keep("print-case")
    page.get_by_role("button", name="Check a printer").first.click()
    keep("printer")

    page.keyboard.press("Escape")
    page.goto(address + "/tour")
    page.get_by_role("button", name=re.compile("^Begin")).click()
    keep("guide")
    page.get_by_role("button", name="End the round").click()

    page.goto(address + f"{job}/look")
    until(page, lambda: marked(page, "whole-photo"))
    keep("look")
    page.get_by_role("button", name="Move the edge").click()
    for _ in range(4):
        page.get_by_role("button", name="Zoom in").click()
    keep("look-move")
    if phone:
        page.get_by_role("button", name="Numbers, heights, corrections").click()
        keep("look-numbers")
        page.get_by_role("button", name="Back to the photo").click()
    page.get_by_role("button", name=re.compile("^Lengths in")).click()
    page.wait_for_timeout(400)
    keep("look-inches")
    page.get_by_role("button", name=re.compile("^Lengths in")).click()

    page.goto(address + f"{job}/choose")
    until(page, lambda: page.get_by_role("radio", name="Case").count())
    page.get_by_role("radio", name="Case").check(force=True)
    until(page, lambda: page.locator("svg.plan").count(), 120)
    keep("choose")
    page.get_by_text("Hardware", exact=True).click()
    latch = page.get_by_label("Latch, up × down")
    latch.fill("18x140mm")
    until(page, lambda: page.locator(".misfit").count())
    page.locator("svg.front").scroll_into_view_if_needed()
    keep("choose-refused")
    latch.fill("")
    page.wait_for_timeout(1200)


def shoot_cradle(page: Page, address: str, job: str, save: Path) -> None:
    """Before anything is known of the neck, with its pieces, its fit check, refused, its sheets."""

    def keep(name: str, whole: bool = False) -> None:
        settle(page)
        if whole:
            # the page scrolls within itself: for a picture of all of it the window grows
            size = page.viewport_size
            assert size
            high = page.evaluate(
                "innerHeight - document.querySelector('main').clientHeight"
                " + document.querySelector('main').scrollHeight"
            )
            page.set_viewport_size({"width": size["width"], "height": int(high)})
            page.wait_for_timeout(500)
            page.screenshot(path=save / f"{save.name}-{name}.png")
            page.set_viewport_size(size)
            page.wait_for_timeout(300)
        else:
            page.screenshot(path=save / f"{save.name}-{name}.png")

    page.goto(address + f"{job}/choose")
    until(page, lambda: page.get_by_role("radio", name="Cradle").count())
    page.get_by_role("radio", name="Cradle").check(force=True)
    until(page, lambda: page.locator("svg.plan.cradle").count())
    if page.locator(".sections > li").count() == 0:
        keep("cradle-empty")
        for at, depth in (("330mm", "22mm"), ("nut", "18.5mm")):
            page.get_by_label("Station", exact=True).fill(at)
            page.locator("form.add-section").get_by_label("Depth there").fill(depth)
            page.get_by_role("button", name="Add the section").click()
        page.screenshot(path=save / f"{save.name}-cradle-sending.png")
        until(page, lambda: page.locator(".sections > li").count() == 2)
        page.locator("summary", has_text="Headstock").first.click()
        for label, words in (
            ("Tilt, degrees", "12"),
            ("Thickness of the wood", "13mm"),
            ("Lowest point above the bench", "20mm"),
        ):
            page.get_by_label(label, exact=True).fill(words)
        page.get_by_role("button", name="Take it", exact=True).click()
        page.wait_for_timeout(1500)
    until(page, lambda: page.locator(".wide-table").count(), 60)
    keep("cradle")
    page.locator(".fit").scroll_into_view_if_needed()
    page.evaluate("document.querySelector('#fit-title').scrollIntoView()")
    keep("fit")
    keep("cradle-whole", whole=True)
    page.locator("summary", has_text="Wood").first.click()
    page.get_by_label("Wood beside a notch").fill("200mm")
    until(page, lambda: page.locator(".misfit, .wrong-box").count())
    page.evaluate("document.querySelector('main').scrollTo(0, 0)")
    keep("cradle-refused")
    page.get_by_label("Wood beside a notch").fill("")
    settle(page)
    page.get_by_role("button", name="To the pages").click()
    until(page, lambda: page.locator(".pages img").count() >= 3, 120)
    keep("print-cradle", whole=True)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as home, browser() as chrome, served(Path(home)) as address:
        page = window_context(chrome, DESKTOP).new_page()
        page.goto(address + "/")
        page.wait_for_timeout(800)
        asked.folder.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=asked.folder / "first-start.png")
        lay_out(address)
        job = made_job(chrome, address)
        for name, (size, dark) in WINDOWS.items():
            save = asked.folder / name
            save.mkdir(parents=True, exist_ok=True)
            page = window_context(chrome, size, dark).new_page()
            shoot(page, address, job, save)
            shoot_cradle(page, address, job, save)
            page.context.close()
    print(f"Pictures are in {asked.folder}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
