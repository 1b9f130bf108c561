"""How wide lettering runs, and lettering made to fit.

Widths are those of the Bitstream Vera faces that travel with reportlab; DejaVu Sans has the same.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

PLAIN_FACE = "Vera"
BOLD_FACE = "VeraBd"
ELLIPSIS = "…"


# once, while this room is loaded: two threads may draw at the same time
for _face in (PLAIN_FACE, BOLD_FACE):
    pdfmetrics.registerFont(TTFont(_face, f"{_face}.ttf"))


def face_name(bold: bool) -> str:
    """The registered face, ready for reportlab."""
    return BOLD_FACE if bold else PLAIN_FACE


def printable(text: str) -> str:
    """The same text without what no page can carry: control signs, line ends, lone surrogates."""
    return "".join(_printable_char(c) for c in text)


@lru_cache(maxsize=4096)
def _printable_char(char: str) -> str:
    category = unicodedata.category(char)
    if char.isspace() or category == "Cc":
        return " "
    # lone surrogates, and the places that XML forbids
    if category == "Cs" or ord(char) & 0xFFFE == 0xFFFE:
        return "\N{REPLACEMENT CHARACTER}"
    return "" if category == "Cf" else char


@lru_cache(maxsize=1024)  # what is measured to fit is measured again when it is drawn
def in_face(text: str, bold: bool = False) -> str:
    """The text in signs that the face has: a letter without its accent where only that is there.

    The faces cover western and some central European letters. Signs that they lack altogether
    stay as they are and show as an empty box.
    """
    glyphs = pdfmetrics.getFont(face_name(bold)).face.charToGlyph
    return "".join(_in_glyphs(char, glyphs) for char in printable(text))


def _in_glyphs(char: str, glyphs: dict[int, int]) -> str:
    if ord(char) in glyphs:
        return char
    plain = "".join(c for c in unicodedata.normalize("NFKD", char) if ord(c) in glyphs)
    return plain or char


def width_of(text: str, size: float, bold: bool = False) -> float:
    """Length of the baseline, in the unit of `size`."""
    return float(pdfmetrics.stringWidth(in_face(text, bold), face_name(bold), size))


def shortened(text: str, size: float, room: float, bold: bool = False) -> str:
    """The text, cut with an ellipsis where it would run past `room` (same unit as `size`)."""
    text = printable(text)
    if width_of(text, size, bold) <= room:
        return text
    low, high = 0, len(text)
    while low < high:  # the most signs that fit
        middle = (low + high + 1) // 2
        if width_of(text[:middle] + ELLIPSIS, size, bold) <= room:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + ELLIPSIS


def wrapped(text: str, size: float, room: float, bold: bool = False) -> list[str]:
    """The text in lines that fit `room`, broken at blanks; a word too long is shortened."""
    lines: list[str] = []
    line = ""
    for word in printable(text).split():
        word = shortened(word, size, room, bold)
        longer = f"{line} {word}".strip()
        if line and width_of(longer, size, bold) > room:
            lines.append(line)
            line = word
        else:
            line = longer
    if line:
        lines.append(line)
    return lines
