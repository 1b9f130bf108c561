"""Reading sheets back with libraries that did not write them; everything in mm, y up."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
import pdfplumber
import pypdfium2

MM = 25.4 / 72.0


@dataclass(frozen=True)
class Found:
    """A path on a PDF page: its points in mm, whether it is filled, its line width in mm."""

    points: np.ndarray
    filled: bool
    stroked: bool
    width: float
    colour: tuple[float, ...]
    dashed: bool

    @property
    def box(self) -> np.ndarray:
        """x0, y0, x1, y1."""
        return np.concatenate([self.points.min(axis=0), self.points.max(axis=0)])


@dataclass(frozen=True)
class PdfPage:
    """What pdfplumber finds on a page."""

    width: float
    height: float
    paths: tuple[Found, ...]
    text: str
    #: (text, x0, y0, x1, y1)
    words: tuple[tuple[str, float, float, float, float], ...]


def pdf_pages(data: bytes) -> list[PdfPage]:
    """Every page as pdfplumber reads it."""
    pages = []
    with pdfplumber.open(io.BytesIO(data)) as document:
        for page in document.pages:
            height = float(page.height)
            paths = []
            for kind in (page.curves, page.rects, page.lines):
                for item in kind:
                    points = np.array(
                        [(float(x) * MM, (height - float(y)) * MM) for x, y in item["pts"]]
                    )
                    dash = item.get("dash") or ([], 0)
                    fill = bool(item["fill"])
                    colour = item["non_stroking_color"] if fill else item["stroking_color"]
                    colour = colour if isinstance(colour, tuple | list) else (colour,)
                    paths.append(
                        Found(
                            points,
                            fill,
                            bool(item["stroke"]),
                            float(item["linewidth"] or 0) * MM,
                            tuple(float(c) for c in colour if c is not None),
                            bool(dash[0]),
                        )
                    )
            words = tuple(
                (
                    w["text"],
                    w["x0"] * MM,
                    (height - w["bottom"]) * MM,
                    w["x1"] * MM,
                    (height - w["top"]) * MM,
                )
                for w in page.extract_words()
            )
            pages.append(
                PdfPage(
                    float(page.width) * MM,
                    height * MM,
                    tuple(paths),
                    page.extract_text(),
                    words,
                )
            )
    return pages


def rendered(data: bytes, page: int, dpi: float) -> np.ndarray:
    """(H, W, 3) uint8 RGB of a page, drawn by PDFium."""
    document = pypdfium2.PdfDocument(data)
    return np.asarray(document[page].render(scale=dpi / 72.0).to_pil().convert("RGB"))
