"""The program's own PDF pages, printed: rasterised by an independent library, put on real paper."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pypdfium2
from numpy.typing import NDArray

from profiler.drawing.model import Line
from profiler.drawing.pdf import pdf_bytes
from profiler.paper import paper_named
from profiler.plates.cards import cards_drawing
from profiler.plates.mat import mat_drawings
from profiler.target.mat import MatDesign
from tests.studio.ground import on_paper

MM_PER_INCH = 25.4


@dataclass(frozen=True)
class CardPicture:
    """A card's face, cut out of the printed page at whole dots.

    Attributes:
        face: (H, W, 3) uint8, row 0 at the top; it shows a little more than the card.
        dots: dots per mm across and up.
        origin: mm from the picture's lower left corner to the card's.
        height: mm, of the picture.
    """

    face: NDArray[np.uint8]
    dots: tuple[float, float]
    origin: tuple[float, float]
    height: float


def _pages(document: bytes, dpi: float) -> list[NDArray[np.uint8]]:
    """Pages as RGB pictures; a picture covers its page exactly, rounded to whole dots."""
    pdf = pypdfium2.PdfDocument(document)
    pages = []
    for page in pdf:
        picture = page.render(scale=dpi / 72.0, rev_byteorder=True).to_numpy()
        pages.append(on_paper(np.ascontiguousarray(picture[:, :, :3])))
    pdf.close()
    return pages


def printed_sheets(design: MatDesign, dpi: float) -> list[NDArray[np.uint8]]:
    """Every sheet of a mat, in its numbering."""
    drawings = mat_drawings(design)
    # a mat of several sheets has its assembly page first
    return _pages(pdf_bytes(drawings[-design.count :], "mat"), dpi)


def printed_cards(tint: str, dpi: float) -> list[CardPicture]:
    """Every card, in its numbering."""
    paper = paper_named("A4")
    drawing = cards_drawing(paper, tint)
    (page,) = _pages(pdf_bytes([drawing], "cards"), dpi)
    h, w = page.shape[:2]
    dx, dy = w / paper.width_mm, h / paper.height_mm
    cuts = next(layer for layer in drawing.layers if layer.name == "cut")
    faces = []
    for item in cuts.items:
        if not isinstance(item, Line):
            raise TypeError("the cards' cutting lines are no longer lines")
        xs, ys = [p[0] for p in item.points], [p[1] for p in item.points]
        left, right = int(min(xs) * dx) - 2, int(np.ceil(max(xs) * dx)) + 2
        top = int((paper.height_mm - max(ys)) * dy) - 2
        bottom = int(np.ceil((paper.height_mm - min(ys)) * dy)) + 2
        faces.append(
            CardPicture(
                page[top:bottom, left:right],
                (dx, dy),
                (min(xs) - left / dx, min(ys) - (paper.height_mm - bottom / dy)),
                (bottom - top) / dy,
            )
        )
    return faces
