"""Several pieces on one page at full size; what is larger goes over several pages."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import rectpack

from profiler.drawing.lettering import shortened
from profiler.drawing.model import Drawing, Inset, Item, Layer, Text, moved
from profiler.drawing.page import Page
from profiler.drawing.tiling import Correction, page_bars, tile, tile_pages
from profiler.errors import RequestError
from profiler.paper import Paper
from profiler.plates.cradle.cards import Card
from profiler.plates.cradle.words import CAUTIONS, STEPS
from profiler.plates.pieces import bullets

#: between blocks on a page
GAP_MM = 5.0
#: the strip below with the cautions
STRIP_MM, STRIP_TEXT_MM = 25.0, 2.0
#: the library wants whole numbers: 1/100 mm
UNIT = 100


@dataclass(frozen=True)
class Laid:
    """A block on a page: its lower left corner, mm in the drawing before any correction."""

    card: Card
    x: float
    y: float


@dataclass(frozen=True)
class Spread:
    """All pages: pages with several pieces, and the cards that are too large for one."""

    page: Page
    pages: tuple[tuple[Laid, ...], ...]
    large: tuple[Card, ...]


def lay_out(cards: Sequence[Card], paper: Paper, correction: Correction) -> Spread:
    """Set the blocks on as few pages as they need, the paper turned the better way."""
    ways = [_spread(cards, Page(paper, landscape), correction) for landscape in (True, False)]
    return min(ways, key=lambda s: (len(s.large), len(s.pages)))


def _room(page: Page, k: Correction) -> tuple[float, float]:
    x0, y0, x1, y1 = page.window
    return (x1 - x0) / k.x, (y1 - y0 - STRIP_MM) / k.y


def _spread(cards: Sequence[Card], page: Page, k: Correction) -> Spread:
    width, height = _room(page, k)
    fit = [c for c in cards if c.width <= width and c.height <= height]
    large = tuple(c for c in cards if c not in fit)
    packer = rectpack.newPacker(
        mode=rectpack.PackingMode.Offline,
        pack_algo=rectpack.MaxRectsBssf,
        sort_algo=rectpack.SORT_AREA,
        rotation=False,
    )
    whole = (int((width + GAP_MM) * UNIT), int((height + GAP_MM) * UNIT))
    for number, card in enumerate(fit):
        packer.add_rect(
            math.ceil((card.width + GAP_MM) * UNIT),
            math.ceil((card.height + GAP_MM) * UNIT),
            number,
        )
    packer.add_bin(*whole, count=max(1, len(fit)))
    packer.pack()
    pages: dict[int, list[Laid]] = {}
    for bin_, x, y, _, high, number in packer.rect_list():
        card = fit[number]
        # the library counts from below; the first blocks belong to the top
        top = height + GAP_MM - (y + high) / UNIT
        pages.setdefault(bin_, []).append(Laid(card, x / UNIT, max(top, 0.0)))
    return Spread(page, tuple(tuple(v) for _, v in sorted(pages.items())), large)


def layout_drawing(spread: Spread, laid: Sequence[Laid], title: str) -> Drawing:
    """The pieces of one page alone: for machines, and what the page shows."""
    width, height = _room(spread.page, Correction())
    layers: dict[str, list[Item]] = {}
    for one in laid:
        for layer in one.card.layers:
            found = layers.setdefault(layer.name, [])
            found += [moved(i, (one.x, one.y)) for i in layer.items]
    return Drawing(title, width, height, tuple(Layer(n, tuple(v)) for n, v in layers.items()))


def layout_pages(spread: Spread, title: str, correction: Correction) -> tuple[Drawing, ...]:
    """Pages at full size with bars and cautions, then the large pieces' pages."""
    found = []
    count = len(spread.pages)
    for number, laid in enumerate(spread.pages, start=1):
        words = f"{title}, pieces at full size, page {number} of {count}"
        found.append(_page(spread, laid, words, correction))
    return tuple(found)


def large_pages(
    sheets: Sequence[Drawing], paper: Paper, correction: Correction
) -> tuple[Drawing, ...]:
    """Sheets of single pieces, each over several pages.

    Raises:
        RequestError: the paper is too small.
    """
    found: list[Drawing] = []
    for sheet in sheets:
        try:
            found += tile_pages(tile(sheet, paper, correction))
        except ValueError as error:
            raise RequestError(
                f"The cradle's pieces cannot be tiled: {error}. Choose larger paper."
            ) from None
    return tuple(found)


def _page(spread: Spread, laid: Sequence[Laid], title: str, k: Correction) -> Drawing:
    page = spread.page
    x0, y0, x1, _ = page.window
    inner = layout_drawing(spread, laid, title)
    low = y0 + STRIP_MM
    inset = Inset(inner, (0.0, 0.0, inner.width / k.x, inner.height / k.y), (x0, low), (k.x, k.y))
    third = (x1 - x0 - 8.0) / 3
    columns = (STEPS, CAUTIONS[:2], CAUTIONS[2:])
    strip: list[Item] = []
    for number, texts in enumerate(columns):
        x = x0 + number * (third + 4.0)
        items, _ = bullets(texts, x, low - 2.0, third, STRIP_TEXT_MM, numbered=texts is STEPS)
        strip += items
    words = shortened(title, 2.6, x1 - x0 - 170.0)
    name = Text(x1, page.margins.bottom - 9.0, words, 2.6, "end", bold=True)
    return Drawing(
        title,
        page.width,
        page.height,
        (
            Layer("drawing", (inset,)),
            Layer("bars", tuple(page_bars(page, k))),
            Layer("notes", (*strip, name)),
        ),
    )
