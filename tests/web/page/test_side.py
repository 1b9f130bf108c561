"""A photo from the side, dropped with one from above: used, and shown beside the numbers."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from tests.web.chrome import DESKTOP, ROOT, drop_files, marked, settled, until, window

WREN = ROOT / "samples" / "wren"


def test_dropped_with_the_photo_from_above(chrome: Browser, bench: str) -> None:
    with window(chrome, bench, DESKTOP) as page:
        page.goto(bench + "/")
        until(page, lambda: page.get_by_role("heading", name="A photo from above").count())
        names = ("top-1.jpg", "side-1.jpg", "upright.json")
        drop_files(page, [WREN / name for name in names])
        until(page, lambda: marked(page, "outline"), 150)
        settled(page)
        side = page.locator("section", has=page.get_by_role("heading", name="From the side"))
        words = side.locator("p").first.inner_text()
        assert words.startswith("Thickest: ") and words.count("±") == 2, words
        drawing = side.get_by_role("img", name="Heights along the instrument.")
        assert drawing.locator(".line").count() >= 2 and drawing.locator(".thickest").count() == 1
        overlay = side.get_by_role("img", name="The photo from the side")
        overlay.scroll_into_view_if_needed()
        until(page, lambda: overlay.evaluate("image => image.naturalWidth") > 1000)
        side.get_by_text("Heights in figures").click()
        assert "strings" in side.get_by_role("table").inner_text()
        for violation in Axe().run(page).response["violations"]:
            raise AssertionError(f"{violation['id']}: {violation['help']}")
        # known by the sheets that stand in it: nobody is asked; taken away, the results are old
        page.get_by_role("link", name="Photos").click()
        until(page, lambda: page.get_by_text("From the side: it gives the heights").count())
        assert page.get_by_role("button", name="It is from the side top-1.jpg").count() == 1
        assert page.get_by_role("button", name="It is from above").count() == 0
        page.get_by_role("button", name="Take away side-1.jpg").click()
        until(page, lambda: page.get_by_role("button", name="Measure", exact=True).count())
