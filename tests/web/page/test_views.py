"""Choose, print, archive and the first round, each as a hand would go through it."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pypdfium2 as pdfium
import pytest
from playwright.sync_api import Browser, Page

from tests.web.chrome import DESKTOP, PHONE, ROOT, drop_files, marked, until, window
from tests.web.page.test_round import download, figures, finished

WREN = ROOT / "samples" / "wren"


@pytest.fixture(scope="module")
def wren(chrome: Browser, bench: str) -> Iterator[str]:
    """The address of a measured job whose thickest height is known."""
    with window(chrome, bench, DESKTOP) as page:
        page.goto(bench + "/")
        until(page, lambda: page.get_by_role("heading", name="A photo from above").count())
        drop_files(page, [WREN / "mat.json", WREN / "cards.json", WREN / "top-1.jpg"])
        until(page, lambda: marked(page, "outline"), 120)
        page.get_by_label("Top", exact=True).fill("80")
        page.get_by_label("Top", exact=True).press("Enter")
        until(page, lambda: figures(page)["Thickest height"].startswith("80.0"))
        until(page, lambda: finished(page))
        address = page.url.removesuffix("/look")
        page.goto(f"{address}/photos")
        until(page, lambda: page.get_by_label("Instrument").count())
        page.get_by_label("Instrument").fill("Sandpiper")
        page.get_by_label("Instrument").press("Enter")
        until(page, lambda: page.title().startswith("Sandpiper"))
        yield address


def plan_words(page: Page) -> str:
    return page.locator("svg.plan").first.get_attribute("aria-label") or ""


def to_case(page: Page, address: str) -> None:
    page.goto(f"{address}/choose")
    until(page, lambda: page.get_by_role("radio", name="Case").count())
    page.get_by_role("radio", name="Case").check(force=True)
    until(page, lambda: page.locator("svg.plan").count() == 2, 90)


def test_the_drawing_follows(chrome: Browser, bench: str, wren: str) -> None:
    with window(chrome, bench, DESKTOP) as page:
        to_case(page, wren)
        before = plan_words(page)
        inside = float(re.findall(r"inside ([\d.]+)", before)[0])
        page.get_by_label("Air at the ends").fill("30mm")
        until(page, lambda: plan_words(page) != before)
        wider = float(re.findall(r"inside ([\d.]+)", plan_words(page))[0])
        assert wider == pytest.approx(inside + 2 * (30 - 8), abs=0.51)


def test_what_does_not_fit_is_in_the_drawing(chrome: Browser, bench: str, wren: str) -> None:
    with window(chrome, bench, DESKTOP) as page:
        to_case(page, wren)
        assert page.locator(".misfit").count() == 0
        page.get_by_text("Hardware", exact=True).click()
        latch = page.get_by_label("Latch, up × down")
        latch.fill("18x300mm")
        until(page, lambda: page.locator("svg.front .misfit rect").count())
        wish = page.locator("svg.front .misfit rect").first
        assert float(wish.get_attribute("height") or 0) == pytest.approx(318)
        assert latch.get_attribute("aria-invalid") == "true"
        case = page.locator("svg.front .inside").last.bounding_box()
        drawn = wish.bounding_box()
        assert case and drawn and drawn["height"] > 2 * case["height"], "it sticks out, visibly"
        latch.fill("18x28mm")
        until(page, lambda: page.locator(".misfit").count() == 0)


def test_case_on_paper_and_printer_check(chrome: Browser, bench: str, wren: str) -> None:
    with window(chrome, bench, DESKTOP) as page:
        page.goto(f"{wren}/print")
        until(page, lambda: page.get_by_role("button", name="Check a printer").count())
        page.get_by_role("button", name="Check a printer").click()
        page.get_by_label("What you call the printer").fill("hall")
        page.get_by_role("button", name="Make the bar page").click()
        until(page, lambda: page.get_by_label("Bar X, across").count())
        assert download(page, "bars.pdf").startswith(b"%PDF")
        x, y = page.get_by_label("Bar X, across"), page.get_by_label("Bar Y, up the page")
        for field, short in ((x, 0.994), (y, 1.002)):
            drawn = float(str(field.get_attribute("placeholder")).split()[0])
            field.fill(f"{drawn * short:.1f}")
        page.get_by_role("button", name="Keep these readings").click()
        until(page, lambda: page.locator("dialog").count() == 0)
        printer = page.get_by_label("Printer", exact=True)
        until(page, lambda: printer.input_value() == "hall")

        page.get_by_role("radio", name="Case").check(force=True)
        until(page, lambda: page.locator(".pages img").count() > 4, 120)
        first = page.locator(".pages img").first
        until(page, lambda: first.evaluate("img => img.complete && img.naturalWidth > 300"))
        data = download(page, "case.pdf")
        assert len(pdfium.PdfDocument(data)) > 4


def test_archive(chrome: Browser, bench: str, wren: str) -> None:
    with window(chrome, bench, DESKTOP) as page:
        page.goto(f"{wren}/print")
        until(page, lambda: page.get_by_role("button", name="Keep in the archive").count(), 90)
        page.get_by_role("button", name="Keep in the archive").click()
        page.get_by_label("Customer").fill("Ada Marsh")
        page.get_by_label("Tags").fill("left-handed, repair")
        page.get_by_role("button", name="Keep it", exact=True).click()
        until(page, lambda: "/archive/" in page.url, 60)
        entry = page.url
        until(page, lambda: page.get_by_role("heading", name="Sandpiper").count())
        assert "left-handed" in page.locator("main").inner_text()

        page.get_by_role("button", name="Print again").click()
        data = download(page, "template.pdf")
        assert data.startswith(b"%PDF")
        page.keyboard.press("Escape")

        page.get_by_role("button", name="Compare").click()
        until(page, lambda: page.locator("dialog table tbody tr").count() > 0, 90)
        assert "0.0 mm" in page.locator("dialog table").inner_text()
        page.keyboard.press("Escape")

        page.goto(bench + "/archive")
        words = page.get_by_role("searchbox")
        until(page, lambda: page.locator(".cover").count() >= 1)
        words.fill("no such bird")
        until(page, lambda: page.get_by_text("Nothing with these words is kept.").count())
        words.fill("sandpiper")
        until(page, lambda: page.locator(".cover", has_text="Sandpiper").count() == 1)
        page.get_by_text("By shape").click()
        page.get_by_role("button", name="Look", exact=True).click()
        until(page, lambda: page.get_by_text("nearest, the most alike first").count())
        page.locator(".cover", has_text="Sandpiper").click()
        until(page, lambda: page.url == entry)


@pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_first_round(chrome: Browser, bench: str, size: tuple[int, int]) -> None:
    """From the mat to the sheets of the sample, guided, without a file or a phone."""
    with window(chrome, bench, size) as page:
        page.goto(bench + "/tour")
        begin = page.get_by_role("button", name=re.compile("^Begin"))
        until(page, lambda: begin.count())
        begin.click()
        guide = page.get_by_role("region", name="First round")
        until(page, lambda: guide.count())

        def at(title: str) -> bool:
            return title in guide.inner_text().splitlines()[0]

        until(page, lambda: at("The mat") and page.url.endswith("/mat"))
        page.get_by_role("button", name="Show the pages").first.click()
        until(page, lambda: page.locator(".pages img").count() >= 1, 60)
        for title in ("A rule on the bars", "The cards", "A photo"):
            guide.get_by_role("button", name="Next").click()
            until(page, lambda title=title: at(title))
        guide.get_by_role("button", name="Open the sample job").click()
        until(page, lambda: "/job/" in page.url)
        guide.get_by_role("button", name="Next").click()
        until(page, lambda: at("Measure"))
        measure = guide.get_by_role("button", name="Measure the sample")
        until(page, lambda: page.get_by_text("Good enough to measure.").count(), 60)
        measure.click()
        until(page, lambda: marked(page, "outline"), 120)
        page.reload()
        until(page, lambda: guide.count() and at("Measure"))
        for title in ("Look", "Correct", "A height of your own", "Choose", "A cradle"):
            guide.get_by_role("button", name="Next").click()
            until(page, lambda title=title: at(title))
        # as the guide says it: what it tells to type makes the neck rest possible
        guide.get_by_role("button", name="Show the cradle").click()
        said = guide.inner_text()
        assert "type 400 at" in said and "21 at" in said
        until(page, lambda: page.get_by_label("Station", exact=True).count())
        page.get_by_label("Station", exact=True).fill("400")
        page.locator("form.add-section").get_by_label("Depth there").fill("21")
        page.get_by_role("button", name="Add the section").click()
        until(
            page,
            lambda: page.locator("svg.plan.cradle .station:not(.unmade)[data-key=neck]").count(),
        )
        for title in ("Print", "Keep"):
            guide.get_by_role("button", name="Next").click()
            until(page, lambda title=title: at(title))
        until(page, lambda: page.locator(".pages img").count() >= 1, 90)
        guide.get_by_role("button", name="Done").click()
        until(page, lambda: guide.count() == 0)
