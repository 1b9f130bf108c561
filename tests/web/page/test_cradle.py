"""A cradle on the page: from a measured sample to its PDF, after a station was dragged."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pypdfium2 as pdfium
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, Route

from tests.web.chrome import DESKTOP, PHONE, ROOT, measured_sample, settled, until, window
from tests.web.hand import grip_of, held

GAUGE = ROOT / "samples" / "wren" / "gauge-1.jpg"


@pytest.fixture(params=["desktop", "phone"])
def size(request: pytest.FixtureRequest) -> tuple[int, int]:
    return DESKTOP if request.param == "desktop" else PHONE


@pytest.fixture
def cradle(chrome: Browser, bench: str, size: tuple[int, int]) -> Iterator[Page]:
    """A window on the cradle of a measured sample job of its own."""
    with window(chrome, bench, size) as page:
        measured_sample(page, bench)
        page.goto(page.url.replace("/look", "/choose"))
        until(page, lambda: page.get_by_role("radio", name="Cradle").count())
        page.get_by_role("radio", name="Cradle").check(force=True)
        until(page, lambda: page.locator("svg.plan.cradle").count())
        yield page


def station(page: Page, key: str) -> float:
    return float(
        page.locator(f"[role=slider][data-key='{key}']").get_attribute("aria-valuenow") or "nan"
    )


def stands(page: Page, key: str, mm: float) -> bool:
    # both are shown to a tenth, so what is ten apart may be shown 10.1 apart
    return abs(station(page, key) - mm) < 0.11


def send_section(page: Page, at: str, depth: str, shape: str | None = "D") -> None:
    """Typed and sent, without waiting for anything."""
    page.get_by_label("Station", exact=True).fill(at)
    page.locator("form.add-section").get_by_label("Depth there").fill(depth)
    if shape:
        page.get_by_label("Shape", exact=True).select_option(shape)
        page.get_by_role("button", name="Add the section").click()
    else:
        page.get_by_label("Needles above the mat").fill("6mm")
        page.get_by_role("button", name="Read the section").click()


def dragged(page: Page, key: str, by_px: float) -> None:
    """By its line: with the mouse, on the phone with a finger."""
    x, y = grip_of(page, key)
    with held(page, x, y) as hand:
        for n in range(1, 9):
            hand.move(x + by_px * n / 8, y)
            page.wait_for_timeout(16)


def width_said(page: Page) -> float:
    """Of the neck where it is cut, from the words beside the drawing."""
    found = re.search(r"([\d.]+) mm wide", page.locator("figure.section figcaption").inner_text())
    assert found
    return float(found[1])


def test_from_a_gauge_photo_to_the_cradles_paper(cradle: Page, size: tuple[int, int]) -> None:
    page = cradle
    # what cannot be made is told in the drawing, where it would stand
    why = page.locator("svg.plan.cradle .misfit .why").all_text_contents()
    assert any("neck rest" in w and "section" in w for w in why), why
    assert not any("profiler" in w or "--" in w for w in why), why

    page.get_by_role("radio", name="Gauge photo").check(force=True)
    page.get_by_label("Choose the gauge's photo").set_input_files(str(GAUGE))
    send_section(page, "385mm", "20.6mm", shape=None)
    # the next one does not wait until the photo has been read
    page.get_by_role("radio", name="By a word").check(force=True)
    send_section(page, "nut", "18.5mm", shape="round")
    until(page, lambda: page.locator(".sections > li").count() == 2, 120)
    until(
        page,
        lambda: (
            "neck rest"
            not in " ".join(page.locator("svg.plan.cradle .misfit .why").all_text_contents())
        ),
    )
    settled(page)

    # dragged towards the tail the neck grows wider, and the words say between which sections
    before, narrow = station(page, "neck"), width_said(page)
    grip = page.locator("[role=slider][data-key=neck] .grip").bounding_box()
    assert grip and grip["width"] >= 44, "wide enough for a finger"
    dragged(page, "neck", -40)
    until(page, lambda: station(page, "neck") < before - 20)
    assert width_said(page) > narrow
    words = page.locator("figure.section figcaption").inner_text()
    assert "between" in words and "gauge photo" in words, words
    settled(page)
    there = station(page, "neck")
    # keys do the same, and blocks of the body move too
    page.locator("[role=slider][data-key=neck]").focus()
    page.keyboard.press("ArrowRight")
    until(page, lambda: stands(page, "neck", there + 1))
    block = station(page, "shoulder left")
    page.locator("[role=slider][data-key='shoulder left']").focus()
    page.keyboard.press("PageDown")
    until(page, lambda: stands(page, "shoulder left", block - 10))
    page.get_by_role("button", name="Undo", exact=True).click()
    until(page, lambda: stands(page, "shoulder left", block))
    page.get_by_role("button", name="Redo", exact=True).click()
    until(page, lambda: stands(page, "shoulder left", block - 10))
    page.reload()
    until(page, lambda: page.locator("svg.plan.cradle").count())
    until(page, lambda: stands(page, "shoulder left", block - 10))
    assert stands(page, "neck", there + 1), "reload loses nothing"

    # the fit check: a row for each piece
    until(page, lambda: page.locator(".wide-table tbody tr").count() >= 6)
    settled(page)
    rows = page.locator(".wide-table tbody th").all_inner_texts()
    assert "neck rest" in rows and "body block, shoulder left" in rows
    picture = page.locator(".fit img.drawing")
    until(page, lambda: picture.evaluate("e => e.complete && e.naturalWidth > 0"))

    found = Axe().run(page).response["violations"]
    assert not found, [(v["id"], v["nodes"][0]["target"]) for v in found]
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert wide <= 0, f"{wide} px wider than the window"

    page.get_by_role("button", name="To the pages").click()
    until(page, lambda: page.locator(".pages img").count() >= 3)
    text = page.locator("main, body").first.inner_text()
    assert "in scrap first" in text and "100 %" in text
    link = page.get_by_role("link", name="cradle.pdf", exact=True).first
    with page.expect_download() as caught:
        link.click()
    document = pdfium.PdfDocument(Path(caught.value.path()).read_bytes())
    said = " ".join(document[n].get_textpage().get_text_range() for n in range(len(document)))
    stood = f"{there + 1:.1f}".removesuffix(".0")
    assert f"{stood} from the instrument's tail" in re.sub(r"\s+", " ", said), (
        "the sheets are of the neck rest where the hand put it"
    )


@pytest.mark.parametrize("size", [DESKTOP], ids=["desktop"], indirect=False)
def test_two_windows_choose_one_cradle(cradle: Page, bench: str) -> None:
    """What one window chose, the other shows; neither puts it back."""
    other = cradle.context.new_page()
    other.goto(cradle.url)
    until(other, lambda: other.locator("svg.plan.cradle").count())
    cradle.locator("[role=slider][data-key='tail left']").focus()
    cradle.keyboard.press("ArrowRight")
    until(cradle, lambda: station(cradle, "tail left") > 0)
    now = station(cradle, "tail left")
    until(other, lambda: stands(other, "tail left", now))
    other.locator("[role=slider][data-key='tail left']").focus()
    other.keyboard.press("ArrowRight")
    until(cradle, lambda: stands(cradle, "tail left", now + 1))
    # a section added in one is there in the other
    other.get_by_label("Station", exact=True).fill("450")
    other.locator("form.add-section").get_by_label("Depth there").fill("20")
    other.get_by_role("button", name="Add the section").click()
    until(cradle, lambda: cradle.locator(".sections > li").count() == 1)


@pytest.mark.parametrize("size", [DESKTOP], ids=["desktop"], indirect=False)
def test_sections_sent_at_once_are_all_taken(cradle: Page, bench: str) -> None:
    """As quickly as a hand can, and with the job changed elsewhere in between."""
    page = cradle
    send_section(page, "330mm", "22mm")
    send_section(page, "400mm", "21mm")
    job = re.search(r"/jobs?/([^/]+)/", page.url)
    assert job
    # with the answer about the revision still on its way to the page
    page.get_by_label("Station", exact=True).fill("470mm")
    page.locator("form.add-section").get_by_label("Depth there").fill("20mm")
    page.evaluate(
        """async (id) => {
          const now = await (await fetch(`/api/jobs/${id}`)).json();
          await fetch(`/api/jobs/${id}`, { method: "PATCH",
            headers: { "X-Profiler": "1", "Content-Type": "application/json" },
            body: JSON.stringify({ name: "Once more", revision: now.revision }) });
          document.querySelector("form.add-section").requestSubmit();
        }""",
        job[1],
    )
    until(page, lambda: page.get_by_label("Station", exact=True).input_value() == "")
    # one that cannot be, and another typed before the answer is there: neither vanishes
    # with its answer held back until the next is typed, however slow the hand
    kept: list[Route] = []
    page.route(
        re.compile("/sections$"),
        lambda route: (
            kept.append(route)
            if not kept and "9m" in (route.request.post_data or "")
            else route.continue_()
        ),
    )
    send_section(page, "9m", "20mm")
    page.get_by_label("Station", exact=True).fill("500mm")
    until(page, lambda: page.locator(".sections > li").count() == 3 and kept)
    kept[0].continue_()
    refused = page.locator(".sent > li")
    until(page, lambda: refused.count() == 1 and refused.get_by_role("alert").count())
    assert "at 9m" in refused.inner_text()
    assert page.get_by_label("Station", exact=True).input_value() == "500mm"
    refused.get_by_role("button", name="Into the form").click()
    until(page, lambda: page.get_by_label("Station", exact=True).input_value() == "9m")
    assert "at 500mm" in page.locator(".sent").inner_text(), "what stood in the form is laid aside"
    page.reload()
    until(page, lambda: page.get_by_label("Station", exact=True).count())
    assert page.get_by_label("Station", exact=True).input_value() == "9m"


@pytest.mark.parametrize("size", [PHONE], ids=["phone"], indirect=False)
def test_a_finger_along_moves_the_piece_and_a_finger_down_pushes_the_page(
    cradle: Page, bench: str
) -> None:
    page = cradle
    x, y = grip_of(page, "tail left")
    before, top = station(page, "tail left"), scrolled(page)
    px = page.locator("svg.plan.cradle").evaluate("e => e.clientWidth / e.viewBox.baseVal.width")
    dragged(page, "tail left", 24)
    until(page, lambda: abs(station(page, "tail left") - before - 24 / px) < 2)
    assert scrolled(page) == top, "the page stays where it is under a finger that drags"
    there = station(page, "tail left")
    x, y = grip_of(page, "tail left")
    top = scrolled(page)
    with held(page, x, y) as finger:
        for n in range(1, 13):
            finger.move(x, y - 12 * n)
            page.wait_for_timeout(16)
    until(page, lambda: scrolled(page) > top + 60)
    assert station(page, "tail left") == there


def scrolled(page: Page) -> float:
    return float(page.evaluate("document.querySelector('main').scrollTop"))
