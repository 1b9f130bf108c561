"""Pages of a PDF as pictures, for looking at what will be printed."""

from __future__ import annotations

import io
from collections.abc import Callable

import pypdfium2

from profiler.errors import InputError
from profiler.web.tasks.drawing_values import Sheets

Progress = Callable[[str, float], None]

POINTS_PER_MM = 72.0 / 25.4
#: no picture has more px; a page of 5 m by 0.1 would
_MOST_PX = 12_000_000
MOST_PAGES = 400


class PageMissing(InputError):
    """A page that the document does not have, or a document that is none."""


def sizes(_progress: Progress, pdf: bytes) -> list[tuple[float, float]]:
    """(width, height) of each page, mm.

    Raises:
        PageMissing: it is no PDF.
    """
    document = _open(pdf)
    try:
        return [
            (round(w / POINTS_PER_MM, 2), round(h / POINTS_PER_MM, 2))
            for w, h in (document.get_page_size(i) for i in range(min(len(document), MOST_PAGES)))
        ]
    finally:
        document.close()


def picture(_progress: Progress, pdf: bytes, number: int, width_px: int) -> bytes:
    """One page as a PNG file.

    Args:
        pdf: the document.
        number: from 1.
        width_px: of the picture; less where the page is very long.

    Raises:
        PageMissing: there is no such page.
    """
    document = _open(pdf)
    try:
        if not 1 <= number <= len(document):
            raise PageMissing(f"The document has no page {number}.")
        width, height = document.get_page_size(number - 1)
        scale = width_px / width
        most = (_MOST_PX / (width * height)) ** 0.5
        picture = document[number - 1].render(scale=min(scale, most)).to_pil()
        out = io.BytesIO()
        picture.convert("RGB").quantize(64).save(out, "PNG")
        return out.getvalue()
    finally:
        document.close()


def _open(pdf: bytes) -> pypdfium2.PdfDocument:
    try:
        return pypdfium2.PdfDocument(pdf)
    except pypdfium2.PdfiumError:
        raise PageMissing("The document is no PDF that can be shown.") from None


def paged(files: dict[str, bytes]) -> Sheets:
    """Files with the pages of every PDF among them."""
    pages = [
        (name, number, *size)
        for name, data in files.items()
        if name.endswith(".pdf")
        for number, size in enumerate(sizes(lambda _w, _s: None, data), start=1)
    ]
    return Sheets(files, pages)
