"""Pencil, tags and a steel rule on a picture: the look of the overlay."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
import reportlab
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from profiler.drawing.lettering import printable

Array = NDArray[np.float64]
Colour = tuple[int, int, int]

#: red, green, blue
PAPER: Colour = (246, 241, 230)
PENCIL: Colour = (52, 50, 48)
FAINT: Colour = (150, 143, 132)
INK: Colour = (16, 84, 168)
VERMILION: Colour = (214, 58, 22)
TEAL: Colour = (0, 176, 160)
PLUM: Colour = (140, 20, 120)
STEEL: Colour = (196, 200, 204)
WHITE: Colour = (255, 255, 255)

#: OpenCV takes coordinates in 16ths of a pixel
_SHIFT = 4


@lru_cache(maxsize=16)
def face(size: int, bold: bool = False) -> ImageFont.FreeTypeFont:
    """Bitstream Vera, which travels with reportlab."""
    name = "VeraBd.ttf" if bold else "Vera.ttf"
    return ImageFont.truetype(str(Path(reportlab.__file__).parent / "fonts" / name), size)


class Easel:
    """A picture being drawn on. Lines go down at once; lettering is set last, over everything."""

    def __init__(self, picture: NDArray[np.uint8], wash: float = 0.0) -> None:
        """Begin on a copy.

        Args:
            picture: (H, W, 3) BGR.
            wash: how much paper white is washed over it, 0 to 1, so that lines stand out.
        """
        levels = np.arange(256.0)[:, None] * (1 - wash) + np.array(PAPER[::-1]) * wash
        table = np.round(levels).astype(np.uint8).reshape(256, 1, 3)
        self._pixels = np.asarray(cv2.LUT(picture, table), dtype=np.uint8)
        self._texts: list[tuple[float, float, str, ImageFont.FreeTypeFont, Colour, str]] = []
        self._tags: list[tuple[float, float, float, float]] = []

    @property
    def width(self) -> int:
        return int(self._pixels.shape[1])

    @property
    def height(self) -> int:
        return int(self._pixels.shape[0])

    def frame(self, top: int, below: int, side: int) -> None:
        """Put the picture on a larger sheet of paper; coordinates are the sheet's from now on."""
        self._pixels = np.asarray(
            cv2.copyMakeBorder(
                self._pixels, top, below, side, side, cv2.BORDER_CONSTANT, value=PAPER[::-1]
            ),
            dtype=np.uint8,
        )
        self._texts = [(t[0] + side, t[1] + top, *t[2:]) for t in self._texts]
        self._tags = []

    def line(self, points: Array, colour: Colour, width: int, closed: bool = False) -> None:
        """A chain of straight pieces, (N, 2) px."""
        fixed = np.round(points * (1 << _SHIFT)).astype(np.int32).reshape(-1, 1, 2)
        cv2.polylines(self._pixels, [fixed], closed, colour[::-1], width, cv2.LINE_AA, _SHIFT)

    def cased(self, points: Array, colour: Colour, width: int, closed: bool = False) -> None:
        """A line with a white rim, which shows on pale and on dark wood."""
        self.line(points, WHITE, width + 4, closed)
        self.line(points, colour, width, closed)

    def dashed(self, start: Array, end: Array, colour: Colour, pattern: Sequence[float]) -> None:
        """A cased straight line of marks and gaps in turn, lengths in px."""
        length = float(np.hypot(*(end - start)))
        at, mark = 0.0, 0
        while at < length:
            step = min(pattern[mark % len(pattern)], length - at)
            if mark % 2 == 0:
                ends = start + np.outer([at, at + step], (end - start) / length)
                self.cased(ends, colour, 2)
            at, mark = at + pattern[mark % len(pattern)], mark + 1

    def crosses(self, at: Array, arm: float, colour: Colour, slanted: bool = False) -> None:
        """Small upright crosses at points (N, 2) px, or slanted ones."""
        d = np.array([[-arm, 0.0], [arm, 0.0], [0.0, -arm], [0.0, arm]])
        if slanted:
            d = d @ np.array([[0.7, 0.7], [-0.7, 0.7]])
        self._pieces(at[:, None] + d, colour)

    def arrows(self, starts: Array, vectors: Array, colour: Colour) -> None:
        """From starts (N, 2) px along vectors (N, 2), with a head where they are long enough."""
        tips = starts + vectors
        self._pieces(np.stack([starts, tips], axis=1), colour)
        length = np.hypot(*vectors.T)[:, None]
        far = length[:, 0] >= 5
        tips, length = tips[far], length[far]
        along = vectors[far] / length
        side = np.column_stack([-along[:, 1], along[:, 0]])
        head = np.minimum(7.0, 0.4 * length)
        for way in (-0.5, 0.5):
            ends = tips - head * along + way * head * side
            self._pieces(np.stack([tips, ends], axis=1), colour)

    def _pieces(self, ends: Array, colour: Colour) -> None:
        """Straight pieces, each from one point to the next of (..., 2) px, all in one go."""
        fixed = np.round(ends.reshape(-1, 2, 2) * (1 << _SHIFT)).astype(np.int32)
        cv2.polylines(self._pixels, list(fixed), False, colour[::-1], 2, cv2.LINE_AA, _SHIFT)

    def panel(self, x0: float, y0: float, x1: float, y1: float, colour: Colour) -> None:
        """A filled rectangle."""
        corners = (round(x0), round(y0)), (round(x1), round(y1))
        cv2.rectangle(self._pixels, corners[0], corners[1], colour[::-1], cv2.FILLED)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: int,
        colour: Colour = PENCIL,
        bold: bool = False,
        anchor: str = "lm",
    ) -> float:
        """One line of lettering at x, y px; `anchor` as in Pillow. Returns its length, px."""
        font, words = face(size, bold), printable(words)
        self._texts.append((x, y, words, font, colour, anchor))
        return float(font.getlength(words))

    def tag(self, places: Sequence[Array], words: str, size: int, colour: Colour = PENCIL) -> None:
        """A paper tag centred on the first place where it covers no other and is all seen."""
        half_w = face(size).getlength(words) / 2 + 0.5 * size
        half_h = 0.85 * size

        def box(at: Array) -> tuple[float, float, float, float]:
            x = float(np.clip(at[0], half_w + 2, self.width - half_w - 2))
            y = float(np.clip(at[1], half_h + 2, self.height - half_h - 2))
            return x - half_w, y - half_h, x + half_w, y + half_h

        chosen = next((b for b in map(box, places) if not self._covered(b)), box(places[-1]))
        self._tags.append(chosen)
        x0, y0, x1, y1 = chosen
        self.panel(x0 - 1, y0 - 1, x1 + 1, y1 + 1, FAINT)
        self.panel(x0, y0, x1, y1, PAPER)
        self.text((x0 + x1) / 2, (y0 + y1) / 2, words, size, colour, anchor="mm")

    def _covered(self, box: tuple[float, float, float, float]) -> bool:
        x0, y0, x1, y1 = box
        return any(x0 < b[2] and b[0] < x1 and y0 < b[3] and b[1] < y1 for b in self._tags)

    def steel_rule(self, x: float, y: float, px_per_mm: float, length_mm: int, size: int) -> None:
        """A rule with millimetre marks whose zero is at x, its upper edge at y."""
        tall = 2.6 * size
        end = x + length_mm * px_per_mm
        self.panel(x - 8, y, end + 8, y + tall, STEEL)
        self.panel(x - 8, y, end + 8, y + 2, (228, 231, 234))
        self.panel(x - 8, y + tall - 3, end + 8, y + tall, (150, 154, 158))
        step = 1 if px_per_mm > 4 else 5
        for mm in range(0, length_mm + 1, step):
            mark = 1.1 if mm % 10 == 0 else 0.8 if mm % 5 == 0 else 0.5
            at = x + mm * px_per_mm
            self.line(np.array([[at, y + 1], [at, y + mark * size]]), PENCIL, 1)
            if mm % 50 == 0:
                self.text(at, y + 1.75 * size, str(mm), round(0.85 * size), anchor="mm")

    def done(self) -> NDArray[np.uint8]:
        """(H, W, 3) BGR."""
        for x, y, words, font, colour, anchor in self._texts:
            # Pillow gets the patch under the words: copying the whole picture takes longer
            left, top, right, bottom = font.getbbox(words, anchor=anchor)
            x0, y0 = max(int(x + left) - 2, 0), max(int(y + top) - 2, 0)
            under = self._pixels[y0 : int(y + bottom) + 3, x0 : int(x + right) + 3]
            if under.size == 0:
                continue
            patch = Image.fromarray(under)  # which need not know that blue comes first
            ImageDraw.Draw(patch).text(
                (x - x0, y - y0), words, font=font, fill=colour[::-1], anchor=anchor
            )
            under[:] = np.asarray(patch)
        return self._pixels
