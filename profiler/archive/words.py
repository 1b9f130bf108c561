"""Text that people typed: made safe to keep, to compare, to search and to show."""

from __future__ import annotations

import hashlib
import re
import unicodedata

from profiler.errors import RequestError

#: nobody's name is longer; it is a pasted file
LONGEST_NAME = 10_000
LONGEST_NOTE = 1_000_000
LONGEST_TAG = 200
#: in file names made from names
LONGEST_STEM = 60
#: names that mean a device on one of the common systems, whatever their ending
_DEVICES = {"con", "prn", "aux", "nul", *(f"{d}{i}" for d in ("com", "lpt") for i in range(1, 10))}


def kept(text: str, what: str = "name", longest: int = LONGEST_NAME) -> str:
    """Text as it is stored: no NUL and no half characters (no database takes them), ends trimmed.

    Raises:
        RequestError: it is too long.
    """
    clean = _clean(text)
    if len(clean) > longest:
        raise RequestError(
            f"The {what} has {len(clean)} characters; up to {longest} are kept. Shorten it."
        )
    return clean


def _clean(text: str) -> str:
    whole = "".join("\ufffd" if c == "\0" or "\ud800" <= c <= "\udfff" else c for c in text)
    return unicodedata.normalize("NFC", whole).strip()


def folded(text: str) -> str:
    """For comparing: no accents, no capitals, single blanks."""
    plain = unicodedata.normalize("NFKD", _clean(text))
    bare = "".join(c for c in plain if not unicodedata.combining(c)).casefold()
    return " ".join(bare.split())


def key_of(*names: str) -> str:
    """One short key for names of any length; equal for names that differ in case or blanks only."""
    whole = "\0".join(" ".join(_clean(name).split()).casefold() for name in names)
    return hashlib.sha256(whole.encode()).hexdigest()


def like_pattern(word: str) -> str:
    """A SQL LIKE pattern, with '\\' as escape, that finds `word` anywhere."""
    return "%" + re.sub(r"([\\%_])", r"\\\1", word) + "%"


def shown_line(text: str, longest: int = 0) -> str:
    """One line for a terminal: whatever could move the cursor or turn the line is replaced.

    Args:
        longest: cut there, with …; 0 for no limit.
    """
    line = "".join(
        c if unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Zl", "Zp") or c == "\u200d" else " "
        for c in text
    )
    line = " ".join(line.split())
    return line if not longest or len(line) <= longest else line[: longest - 1] + "…"


def file_stem(text: str, otherwise: str) -> str:
    """A name for a file on any system, out of any text: no folders, no dots in front, no device."""
    plain = unicodedata.normalize("NFKD", text)
    bare = "".join(c for c in plain if not unicodedata.combining(c))
    stem = re.sub(r"[^A-Za-z0-9]+", "-", bare).strip("-").lower()[:LONGEST_STEM].strip("-")
    return otherwise if not stem or stem in _DEVICES else stem


def file_name(name: str, otherwise: str) -> str:
    """A photo's or document's own name, made safe; its ending is kept if it looks like one."""
    last = re.split(r"[/\\]", name)[-1]
    stem, dot, ending = last.rpartition(".")
    if not dot or not re.fullmatch(r"[A-Za-z0-9]{1,8}", ending):
        return file_stem(last, otherwise)
    return f"{file_stem(stem, otherwise)}.{ending.lower()}"


def table_cell(value: object) -> str:
    """A cell of a CSV file that no spreadsheet takes for a formula.

    An apostrophe goes before =, +, -, @, tab and carriage return, as OWASP's page 'CSV Injection'
    advises; plain numbers stay numbers.
    """
    text = "" if value is None else str(value)
    if re.fullmatch(r"[+-]?\d+(\.\d+)?", text):
        return text
    return "'" + text if text.lstrip(" ")[:1] in ("=", "+", "-", "@", "\t", "\r", "\n") else text
