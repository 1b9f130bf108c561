"""Two measurements of one instrument, laid over each other, as a page."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from profiler.archive.compare import Comparison
from profiler.drawing.lettering import shortened
from profiler.drawing.model import GREY, Drawing, Item, Layer, Line, Point, Stroke, Text
from profiler.drawing.pdf import pdf_bytes
from profiler.drawing.svg import svg_bytes
from profiler.paper import paper_named
from profiler.pipeline.wording import Wording
from profiler.plates.offset import as_points
from profiler.plates.pieces import LEADING, paragraph

MARGIN_MM = 14.0
SIZE_MM = 2.9
OLD = Stroke(0.35, "#7a8ca8", (2.0, 1.2))
NEW = Stroke(0.35)
WITHIN = Stroke(0.18, "#8fb08f")
BEYOND = Stroke(0.3, "#c8301e")
#: differences are drawn so many times larger than the outline, the largest that fits
BLOW_UPS = (50, 20, 10, 5, 2, 1)
#: the longest difference on paper, mm
LONGEST_MM = 16.0
CAUTION = (
    "Seen from above: sideways and lengthwise changes show. A neck that rose or sank, and a top"
    " that bulges, do not; lay a straightedge on those."
)


@dataclass(frozen=True)
class Headings:
    """Words on the page: which instrument, and when it was measured."""

    title: str
    customer: str
    before: str
    now: str


def verdict(comparison: Comparison) -> str:
    """One sentence."""
    beyond = [p for p in comparison.parts if p.exceeding > 0]
    numbers = [n.name for n in comparison.numbers if n.exceeds]
    if not beyond and not numbers:
        return "Nothing differs by more than the uncertainty of the two measurements."
    parts = ", ".join(p.part for p in sorted(beyond, key=lambda p: -p.exceeding))
    said = []
    if beyond:
        said.append(f"the outline of {parts} differs by more than the uncertainty")
    if numbers:
        said.append(f"so {'do' if len(numbers) > 1 else 'does'} {', '.join(numbers)}")
    text = ", and ".join(said) if beyond else f"{', '.join(numbers)} differ by more than it"
    return text[0].upper() + text[1:] + "."


def comparison_files(comparison: Comparison, heads: Headings, wording: Wording) -> dict[str, bytes]:
    """`comparison.pdf` and `comparison.svg`."""
    drawing = comparison_drawing(comparison, heads, wording)
    return {
        "comparison.pdf": pdf_bytes([drawing], drawing.title, "Two measurements compared"),
        "comparison.svg": svg_bytes(drawing),
    }


def comparison_drawing(comparison: Comparison, heads: Headings, wording: Wording) -> Drawing:
    """A page on its side: the outlines with their differences blown up, the numbers below."""
    paper = paper_named("Letter" if wording.units == "in" else "A4")
    width, height = paper.height_mm, paper.width_mm
    room = width - 2 * MARGIN_MM
    items: list[Item] = []
    y = height - MARGIN_MM
    title = shortened(heads.title, 6.0, 0.6 * room, bold=True)
    items.append(Text(MARGIN_MM, y - 5.5, title, 6.0, bold=True))
    if heads.customer:
        owner = shortened(f"for {heads.customer}", SIZE_MM, 0.36 * room)
        items.append(Text(width - MARGIN_MM, y - 4.5, owner, SIZE_MM, "end"))
    lines, y = paragraph(verdict(comparison), MARGIN_MM, y - 9.0, room, SIZE_MM * 1.15, bold=True)
    items += lines
    low = min(comparison.before.min(axis=0)[0], comparison.now.min(axis=0)[0])
    size = np.maximum(comparison.before.max(axis=0), comparison.now.max(axis=0)) - [low, 0.0]
    bottom = min(comparison.before[:, 1].min(), comparison.now[:, 1].min())
    tall = float(size[1] - bottom)
    blow_up = _blow_up(comparison)
    most = float(np.abs(comparison.difference).max()) * blow_up
    scale = min((room - 2 * LONGEST_MM) / float(size[0]), 86.0 / tall)
    at = (MARGIN_MM + LONGEST_MM, y - 6.0 - min(most, LONGEST_MM) - tall * scale)

    def place(points: np.ndarray) -> tuple[Point, ...]:
        return as_points((points - [low, bottom]) * scale + at)

    items.append(Line(place(comparison.before), OLD, closed=True))
    items += _differences(comparison, place, blow_up)
    items.append(Line(place(comparison.now), NEW, closed=True))
    y = at[1] - min(most, LONGEST_MM) - 4.0
    items += _key(heads, blow_up, y, wording)
    y -= 9.0
    half = (room - 8.0) / 2
    left, y_left = _parts(comparison, MARGIN_MM, y, half, wording)
    right, y_right = _numbers(comparison, MARGIN_MM + half + 8.0, y, half, wording)
    items += left + right
    lines, _ = paragraph(
        f"Laid over each other by the {comparison.laid_by}. ± is the two measurements' uncertainty"
        f" together, meant for 95 times in 100. {CAUTION}",
        MARGIN_MM,
        min(y_left, y_right) - 1.0,
        room,
        SIZE_MM * 0.9,
    )
    items += lines
    return Drawing(f"{heads.title}, compared", width, height, (Layer("comparison", tuple(items)),))


def _blow_up(comparison: Comparison) -> int:
    largest = max(float(np.abs(comparison.difference).max()), 1e-6)
    return next((b for b in BLOW_UPS if largest * b <= LONGEST_MM), 1)


def _differences(comparison: Comparison, place: object, blow_up: int) -> list[Item]:
    """A line across the outline at every point, as long as the difference blown up."""
    assert callable(place)
    feet = place(comparison.points)
    items: list[Item] = []
    reach = np.clip(comparison.difference * blow_up, -LONGEST_MM, LONGEST_MM)
    for (x, y), (nx, ny), r, beyond in zip(
        feet, comparison.normals, reach, comparison.exceeding, strict=True
    ):
        if abs(r) > 0.1:
            end = (x + float(nx * r), y + float(ny * r))
            items.append(Line(((x, y), end), BEYOND if beyond else WITHIN))
    return items


def _key(heads: Headings, blow_up: int, y: float, wording: Wording) -> list[Item]:
    items: list[Item] = []
    x = MARGIN_MM
    for stroke, words in (
        (OLD, f"before: {heads.before}"),
        (NEW, f"now: {heads.now}"),
        (WITHIN, f"difference × {blow_up}, within ±"),
        (BEYOND, f"difference × {blow_up}, more than ±"),
    ):
        items.append(Line(((x, y + 0.9), (x + 8, y + 0.9)), stroke))
        items.append(Text(x + 10, y, shortened(words, SIZE_MM, 52), SIZE_MM))
        x += 66.0
    return items


def _signed(mm: float, wording: Wording) -> str:
    text = wording.say(abs(mm))
    sign = "+" if mm > 0 else "−"
    return f"{sign}{text}" if any(c in "123456789" for c in text) else text


def _table(
    rows: list[tuple[str, ...]], shares: tuple[float, ...], x: float, y: float, room: float
) -> tuple[list[Item], float]:
    items: list[Item] = []
    for i, row in enumerate(rows):
        at = x
        for text, share in zip(row, shares, strict=True):
            items.append(
                Text(
                    at,
                    y - SIZE_MM,
                    shortened(text, SIZE_MM, share * room - 1.5, bold=i == 0),
                    SIZE_MM,
                    bold=i == 0,
                    colour=BEYOND.colour if row[-1].startswith("more") else "#000000",
                )
            )
            at += share * room
        y -= SIZE_MM * LEADING
        items.append(Line(((x, y - 0.2), (x + room, y - 0.2)), Stroke(0.05, GREY)))
        y -= 0.6
    return items, y


def _parts(
    comparison: Comparison, x: float, y: float, room: float, wording: Wording
) -> tuple[list[Item], float]:
    rows: list[tuple[str, ...]] = [("part", "towards head", "to the left", "±", "")]
    for p in comparison.parts:
        rows.append(
            (
                p.part,
                _signed(p.along, wording),
                _signed(p.sideways, wording),
                wording.say(p.u95),
                "more than ±" if p.moved else "within ±",
            )
        )
    return _table(rows, (0.22, 0.22, 0.2, 0.16, 0.2), x, y, room)


def _numbers(
    comparison: Comparison, x: float, y: float, room: float, wording: Wording
) -> tuple[list[Item], float]:
    rows: list[tuple[str, ...]] = [("number", "before", "now", "change", "±", "")]
    for n in comparison.numbers:
        known = n.difference is not None
        rows.append(
            (
                n.name,
                "not known" if n.before is None else wording.say(n.before),
                "not known" if n.now is None else wording.say(n.now),
                _signed(n.difference or 0.0, wording) if known else "",
                "" if n.u95 is None else wording.say(n.u95),
                {True: "more than ±", False: "within ±", None: "cannot be told"}[n.exceeds],
            )
        )
    return _table(rows, (0.26, 0.17, 0.17, 0.13, 0.1, 0.17), x, y, room)
