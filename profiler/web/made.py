"""Sheets that were drawn and may be looked at: kept in memory until others push them out."""

from __future__ import annotations

import secrets
from collections import OrderedDict
from typing import Any

from profiler.web.answers import missing
from profiler.web.tasks.drawing_values import Pages, Sheets

#: all that is kept together, bytes
_MOST_BYTES = 160_000_000
_MOST_MADE = 40


class Shelf:
    """What was drawn, by a token that nobody guesses."""

    def __init__(self) -> None:
        self._made: OrderedDict[str, Sheets] = OrderedDict()
        self._pictures: OrderedDict[tuple[str, str, int, int], bytes] = OrderedDict()

    def put(self, sheets: Sheets) -> str:
        """Keep it; the token to ask for it."""
        token = secrets.token_urlsafe(12)
        self._made[token] = sheets
        while len(self._made) > 1 and (len(self._made) > _MOST_MADE or self._size() > _MOST_BYTES):
            self._made.popitem(last=False)
        return token

    def get(self, token: str) -> Sheets:
        """Raises:
        Refused: it is gone; make it again.
        """
        sheets = self._made.get(token)
        if sheets is None:
            raise missing("This drawing")
        self._made.move_to_end(token)
        return sheets

    def file(self, token: str, name: str) -> bytes:
        """Raises:
        Refused: it is gone; make it again.
        """
        data = self.get(token).files.get(name)
        if data is None:
            raise missing(f"The file {name[:60]}")
        return data

    def _size(self) -> int:
        return sum(len(d) for made in self._made.values() for d in made.files.values())


def pages_told(pages: Pages, base: str) -> list[dict[str, Any]]:
    """Pages as the contract says; `base` is the address in front of file and number."""
    return [
        {
            "file": file,
            "number": number,
            "width_mm": width,
            "height_mm": height,
            "url": f"{base}/{file}/{number}.png",
        }
        for file, number, width, height in pages
    ]
