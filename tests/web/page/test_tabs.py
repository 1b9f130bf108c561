"""Two windows do not fight; reload and a lost server lose nothing; long work can be stopped."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page

from tests.web.chrome import (
    DESKTOP,
    ROOT,
    drop_files,
    marked,
    measured_now,
    sample_job,
    until,
    window,
)

PHOTO = ROOT / "samples" / "wren" / "top-1.jpg"


@pytest.fixture
def sample(chrome: Browser, bench: str) -> Iterator[Page]:
    """A window with a sample job of its own, photos shown, not measured."""
    with window(chrome, bench, DESKTOP) as page:
        sample_job(page, bench)
        yield page


def test_two_windows(chrome: Browser, bench: str, sample: Page) -> None:
    with window(chrome, bench, DESKTOP) as other:
        other.goto(sample.url)
        name = other.get_by_label("Instrument")
        until(other, lambda: name.count())
        # the first window hears of nothing for a moment, as over a bad network
        sample.route(
            "**/api/jobs/*",
            lambda route: route.abort() if route.request.method == "GET" else route.continue_(),
        )
        name.fill("Plover")
        name.press("Enter")
        until(other, lambda: other.title().startswith("Plover"))
        mine = sample.get_by_label("Customer")
        mine.fill("Ines Holt")
        sample.unroute("**/api/jobs/*")
        mine.press("Enter")
        told = sample.locator(".notice")
        until(sample, lambda: "another window" in " ".join(told.all_inner_texts()))
        until(sample, lambda: sample.get_by_label("Instrument").input_value() == "Plover")
        # said again, it is taken; and the other window hears of it
        mine.fill("Ines Holt")
        mine.press("Enter")
        until(other, lambda: other.get_by_label("Customer").input_value() == "Ines Holt")


def test_reload_loses_nothing(sample: Page) -> None:
    sample.get_by_label("Instrument").fill("Curlew")
    sample.get_by_label("Instrument").press("Enter")
    until(sample, lambda: sample.title().startswith("Curlew"))
    measured_now(sample)
    sample.get_by_label("Tuners", exact=True).fill("22")
    sample.get_by_label("Tuners", exact=True).press("Enter")
    until(sample, lambda: sample.locator(".corrections li").count() == 1)
    sample.reload()
    until(sample, lambda: marked(sample, "outline"))
    until(sample, lambda: sample.locator(".corrections li").count() == 1)
    sample.get_by_role("link", name="Choose").click()
    until(sample, lambda: sample.get_by_role("radio", name="Case").count())
    sample.get_by_role("radio", name="Case").check(force=True)
    air = sample.get_by_label("Air at the sides")
    until(sample, lambda: air.count())
    air.fill("9mm")
    sample.reload()
    until(sample, lambda: sample.get_by_label("Air at the sides").count())
    assert sample.get_by_label("Air at the sides").input_value() == "9mm"


def test_measuring_can_be_stopped(chrome: Browser, bench: str) -> None:
    with window(chrome, bench, DESKTOP) as page:
        page.goto(bench + "/")
        until(page, lambda: page.get_by_role("heading", name="A photo from above").count())
        drop_files(page, [PHOTO])
        until(page, lambda: page.url.endswith("/look"), 60)
        stop = page.get_by_role("button", name="Stop", exact=True)
        until(page, lambda: stop.count())
        stop.click()
        until(page, lambda: page.get_by_role("heading", name="Not measured yet").count())
        measured_now(page)


def test_names_are_only_text(sample: Page) -> None:
    name = '<img src=x onerror="document.title=1">\u202eabc'
    sample.get_by_label("Instrument").fill(name)
    sample.get_by_label("Instrument").press("Enter")
    until(sample, lambda: sample.locator(".whose b").inner_text().startswith("<img"))
    assert sample.locator(".whose img").count() == 0
    assert "profiler" in sample.title()


def test_a_photo_of_something_else(chrome: Browser, bench: str) -> None:
    """What cannot be measured is told in words, with the way back."""
    with window(chrome, bench, DESKTOP) as page:
        page.goto(bench + "/")
        until(page, lambda: page.get_by_role("heading", name="A photo from above").count())
        drop_files(page, [ROOT / "tests" / "published" / "opencv" / "left01.jpg"])
        told = page.locator("[role=alert]")
        until(page, lambda: any(len(words) > 20 for words in told.all_inner_texts()), 90)
