"""Names that come from outside: for a line on the page, for a folder, for a download."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from urllib.parse import quote

from profiler.archive.words import file_stem

LONGEST_NAME = 120


def plain_line(text: str) -> str:
    """One line without anything that could turn or hide it; markup stays the text that it is."""
    line = "".join(
        " " if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") and c != "\u200d" else c
        for c in text
    )
    return " ".join(line.split())[:LONGEST_NAME]


def with_names_said(text: str, photos: Iterable[tuple[str, str]]) -> str:
    """A sentence with the names under which photos came for those that they have in the folder."""
    said = dict(photos)
    if not said:
        return text
    known = "|".join(re.escape(name) for name in sorted(said, key=len, reverse=True))
    return re.sub(rf"(?<![\w.-])(?:{known})(?![\w-])", lambda m: said[m[0]], text)


def folder_stem(text: str) -> str:
    """A folder's name on any system: small letters, numbers and dashes."""
    return file_stem(text, "job")[:40].strip("-") or "job"


def disposition(name: str, inline: bool) -> str:
    """The header that names a download (RFC 6266, with RFC 8187's encoding)."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-_. ") else "_" for c in name)
    kind = "inline" if inline else "attachment"
    return f"{kind}; filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}"
