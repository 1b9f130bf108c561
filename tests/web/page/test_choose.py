"""Choosing: form, drawing and what comes out lie beside each other, whatever the window's size."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page

from tests.web.chrome import DESKTOP, PHONE, measured_sample, settled, until, window

SIZES = {"laptop": DESKTOP, "small laptop": (1024, 600), "phone": PHONE}
#: sections of the view that share a spot on the screen, while it is pushed from end to end
OVERLAPS = """async () => {
  const main = document.querySelector("main");
  const found = [];
  for (let y = 0; ; y += 120) {
    main.scrollTo(0, y);
    await new Promise((done) => requestAnimationFrame(() => done()));
    const all = [...document.querySelectorAll("main section.sheet")];
    const boxes = all.map((e) => e.getBoundingClientRect());
    for (let i = 0; i < all.length; i++) for (let j = i + 1; j < all.length; j++) {
      const [a, b] = [boxes[i], boxes[j]];
      const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (wide > 1 && high > 1) found.push([y, all[i].className, all[j].className, high]);
    }
    if (y > main.scrollHeight - main.clientHeight) return found;
  }
}"""


@pytest.fixture(scope="module")
def chosen(chrome: Browser, bench: str) -> Iterator[str]:
    """Where a measured sample's choices are."""
    with window(chrome, bench, DESKTOP) as page:
        measured_sample(page, bench)
        yield page.url.replace("/look", "/choose")


def opened(page: Page, chosen: str, which: str) -> None:
    page.goto(chosen)
    until(page, lambda: page.get_by_role("radio", name=which).count())
    page.get_by_role("radio", name=which).check(force=True)
    if which == "Case":
        page.get_by_label("Thickest height").fill("90mm")
        until(page, lambda: page.get_by_label("What comes out").count())
    if which == "Cradle":
        until(page, lambda: page.locator("svg.plan.cradle").count())
        until(page, lambda: page.locator(".wide-table").count(), 60)
    settled(page)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("which", ["Case", "Template", "Cradle"])
def test_nothing_lies_over_another(
    chrome: Browser, bench: str, chosen: str, size: str, which: str
) -> None:
    with window(chrome, bench, SIZES[size]) as page:
        opened(page, chosen, which)
        assert page.evaluate(OVERLAPS) == []
        if size == "phone":
            return
        # beside a long form the drawing is whole in sight
        page.evaluate("document.querySelector('main').scrollTo(0, 300)")
        box = page.locator(".drawn").bounding_box()
        assert box and box["y"] >= 60 and box["y"] + box["height"] <= SIZES[size][1]


def test_what_a_remark_of_the_case_speaks_of_is_numbered_in_the_drawing(
    chrome: Browser, bench: str, chosen: str
) -> None:
    with window(chrome, bench, DESKTOP) as page:
        opened(page, chosen, "Case")
        ends = page.locator("svg.plan:not(.front) .remarked")
        handle = page.locator("svg.front .remarked")
        assert handle.count() == 1, "the mass is not known: the handle"
        assert ends.count() == 2, "a strap button may be hidden: the ends"
        page.get_by_label("Air at the ends").fill("20mm")
        until(page, lambda: ends.count() == 0)
        page.get_by_label("Air at the ends").fill("0.2mm")
        until(page, lambda: ends.count() == 2)
        number = ends.first.text_content()
        remark = page.locator(".remarks li", has_text="may touch at the ends")
        assert remark.locator(".ring-number").inner_text() == number
        # one at the tail, one at the head, both between instrument and wall
        xs = sorted(float(c.get_attribute("cx") or "nan") for c in ends.locator("circle").all())
        inside = page.locator("svg.plan:not(.front) rect.inside")
        assert 0 <= xs[0] < 10 and 0 <= float(inside.get_attribute("width") or 0) - xs[1] < 10
        page.get_by_label("Air at the ends").fill("20mm")
        until(page, lambda: ends.count() == 0)


def test_a_refused_lining_and_a_piece_that_presses_show_at_their_piece(
    chrome: Browser, bench: str, chosen: str
) -> None:
    with window(chrome, bench, DESKTOP) as page:
        opened(page, chosen, "Cradle")
        tail = page.get_by_role("group", name="Tail rest").get_by_label("Thickness")
        tail.fill("900mm")
        refused = page.locator("svg.plan.cradle [data-refused]")
        until(page, lambda: refused.count())
        assert [r.get_attribute("data-refused") for r in refused.all()] == ["tail"]
        tail.fill("")
        until(page, lambda: refused.count() == 0)
        # without air what is uncertain makes the blocks press
        blocks = page.get_by_role("group", name="Body blocks").get_by_label("Air beside it")
        blocks.fill("0mm")
        marks = page.locator("svg.plan.cradle .remarked")
        until(page, lambda: marks.count())
        number = marks.first.text_content()
        assert page.locator(".remarks .ring-number", has_text=str(number)).count()
        blocks.fill("")
