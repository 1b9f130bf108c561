"""Lengths as people write them, and as they like to read them. Inside, millimetres only.

Good spellings: `230mm`, `23 cm`, `9"`, `25 1/2in`, `25-1/2"`, `2ft 3 1/2in`, `2' 3"`, `3/8in`,
`1e-1m`, `9,5 mm`, with real prime signs and fraction characters too.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from fractions import Fraction
from typing import NamedTuple, TypeVar

from profiler.errors import RequestError

T = TypeVar("T")

MM_PER_INCH = 25.4
#: millimetres in one of each unit that a user may write
UNITS_MM: dict[str, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    "ft": 12 * MM_PER_INCH,
}
_SPELLED: dict[str, str] = {
    **{s: "mm" for s in ("mm", "millimetre", "millimetres", "millimeter", "millimeters")},
    **{s: "cm" for s in ("cm", "centimetre", "centimetres", "centimeter", "centimeters")},
    **{s: "m" for s in ("m", "metre", "metres", "meter", "meters")},
    **{s: "in" for s in ("in", "in.", "inch", "inches", '"')},
    **{s: "ft" for s in ("ft", "ft.", "foot", "feet", "'")},
}
#: nothing this program measures is longer, mm
LONGEST_MM = 100_000.0
#: signs in the longest fraction that anybody types
MOST_DIGITS = 40
GOOD_SPELLINGS = '230mm, 23 cm, 9", 25 1/2in, 2\' 3"'

#: parts of an instrument whose height above the bench may be typed
PARTS = ("body", "back", "neck", "headstock", "tuners", "button", "side-button", "top", "bridge")

_LOOKALIKES = str.maketrans(
    {
        "′": "'",  # prime
        "’": "'",
        "‘": "'",
        "″": '"',  # double prime
        "”": '"',
        "“": '"',
        "⁄": "/",  # fraction slash
        "∕": "/",
        "−": "-",  # minus sign
        "‐": "-",
        "‑": "-",
        "–": "-",
        "µ": "μ",
    }
)
_DECIMAL = r"(?:\d+(?:\.\d+)?|\.\d+)(?:e[+-]?\d+)?"
_NUMBER = rf"(?:\d+(?:\s+|\s*-\s*)\d+/\d+|\d+/\d+|{_DECIMAL})"
_UNIT = "|".join(re.escape(s) for s in sorted(_SPELLED, key=len, reverse=True))
_FEET = "|".join(re.escape(s) for s in sorted((k for k, v in _SPELLED.items() if v == "ft")))
_INCHES = "|".join(
    re.escape(s) for s in sorted((k for k, v in _SPELLED.items() if v == "in"), reverse=True)
)
_ONE = re.compile(rf"([+-]?)\s*({_NUMBER})\s*({_UNIT})?", re.IGNORECASE)
_FEET_INCHES = re.compile(
    rf"([+-]?)\s*({_NUMBER})\s*(?:{_FEET})\s*-?\s*({_NUMBER})\s*(?:{_INCHES})", re.IGNORECASE
)
#: 1,234 is a thousand to some and little more than one to others; 0,125 is not
_TWO_WAYS = re.compile(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?!\d)")


class _Length(NamedTuple):
    mm: float
    unit: str


def parse_length(text: str, default_unit: str = "mm", *, allow_negative: bool = False) -> float:
    """Read a length as a person writes it.

    Args:
        text: number with or without a unit; fractions, feet with inches and decimal commas are
            understood.
        default_unit: what a bare number means: 'mm', 'cm', 'm', 'in' or 'ft'.
        allow_negative: whether a length below zero makes sense here.

    Returns:
        mm.

    Raises:
        RequestError: it cannot be read, can be read two ways, or is no sensible length.
    """
    return _parse(text, default_unit, allow_negative).mm


def optional_length(text: str | None, default_unit: str, option: str) -> float | None:
    """A length that may not have been given, in mm; None then.

    Args:
        text: see `parse_length`.
        default_unit: likewise.
        option: what the sentence names if it cannot be read.

    Raises:
        RequestError: it cannot be read.
    """
    return _named(option, lambda t: parse_length(t, default_unit), text)


def optional_measured(
    text: str | None, default_unit: str, option: str
) -> tuple[float, float | None] | None:
    """As `optional_length`, for a length with or without its uncertainty, as 22±0.3.

    Raises:
        RequestError: it cannot be read.
    """
    return _named(option, lambda t: parse_measured(t, default_unit), text)


def _named(option: str, read: Callable[[str], T], text: str | None) -> T | None:
    """What was read; the sentence names the option where it cannot be."""
    if text is None:
        return None
    try:
        return read(text)
    except RequestError as error:
        raise RequestError(f"{option}: {error}") from None


def _parse(text: str, default_unit: str, allow_negative: bool) -> _Length:
    if default_unit not in UNITS_MM:
        raise RequestError(f"'{default_unit}' is not a unit. Known: {', '.join(UNITS_MM)}.")
    plain = _plain(text)
    if _TWO_WAYS.search(plain):
        raise RequestError(
            f"'{text}' can be read two ways: write {plain.replace(',', '')} or"
            f" {plain.replace(',', '.')}."
        )
    plain = plain.replace(",", ".")
    if both := _FEET_INCHES.fullmatch(plain):
        sign, feet, inches = both.groups()
        mm = _number(feet, text) * UNITS_MM["ft"] + _number(inches, text) * UNITS_MM["in"]
        unit = "in"
    elif one := _ONE.fullmatch(plain):
        sign, number, spelled = one.groups()
        unit = _SPELLED[spelled.lower()] if spelled else default_unit
        mm = _number(number, text) * UNITS_MM[unit]
    else:
        raise RequestError(f"'{text}' is not a length. Good spellings: {GOOD_SPELLINGS}.")
    if sign == "-":
        if not allow_negative:
            raise RequestError(f"'{text}' is below zero; a length is wanted, as {GOOD_SPELLINGS}.")
        mm = -mm
    if not abs(mm) <= LONGEST_MM:
        raise RequestError(
            f"'{text}' is longer than {LONGEST_MM / 1000:.0f} m. Was the unit meant?"
        )
    return _Length(mm, unit)


def _plain(text: str) -> str:
    """Look-alike signs brought to plain ones; fraction characters spelled out with a space."""
    out = []
    for char in text.strip():
        if unicodedata.category(char) == "No" and "⁄" in (
            spelled := unicodedata.normalize("NFKC", char)
        ):
            out.append(f" {spelled}")
        elif char.isspace():  # no-break and thin spaces come with copied text
            out.append(" ")
        else:
            out.append(char)
    return "".join(out).translate(_LOOKALIKES).replace("''", '"').strip()


def _number(spelled: str, text: str) -> float:
    """A decimal, a fraction or a whole number with a fraction."""
    if "/" not in spelled:
        return float(spelled)
    if len(spelled) > MOST_DIGITS:  # Python refuses to turn thousands of digits into a number
        raise RequestError(f"'{text[:20]}…' is not a length. Good spellings: {GOOD_SPELLINGS}.")
    *whole, fraction = re.split(r"\s*-\s*|\s+", spelled)
    top, bottom = fraction.split("/")
    if int(bottom) == 0:
        raise RequestError(f"'{text}' divides by zero. Good spellings: {GOOD_SPELLINGS}.")
    return float(Fraction(int(top), int(bottom)) + (int(whole[0]) if whole else 0))


def format_mm(mm: float, digits: int = 1) -> str:
    """As '618.2 mm'; never '-0.0 mm'."""
    return f"{round(mm, digits) + 0.0:.{digits}f} mm"


def format_inches(mm: float, denominator: int = 64) -> str:
    """The nearest mixed fraction, reduced, as '10 3/16 in'.

    Args:
        mm: any finite length.
        denominator: of the finest step, as 64 for 1/64 in.

    Raises:
        RequestError: a denominator below 1.
    """
    if denominator < 1:
        raise RequestError(f"Inches cannot be rounded to 1/{denominator}; use 16, 32 or 64.")
    steps = round(abs(mm) / MM_PER_INCH * denominator)
    whole, rest = divmod(steps, denominator)
    sign = "-" if mm < 0 and steps else ""
    if not rest:
        return f"{sign}{whole} in"
    part = Fraction(rest, denominator)
    mixed = f"{whole} " if whole else ""
    return f"{sign}{mixed}{part.numerator}/{part.denominator} in"


def parse_height_option(text: str, default_unit: str = "mm") -> tuple[str, float, float | None]:
    """Read 'body=72', 'body=72±0.5' or 'headstock=2 1/4in'. 'button=0' says that there is none.

    Returns:
        part, one of `PARTS`; its height above the bench, mm; its 95 % uncertainty, mm, or None
        where none was typed. An uncertainty without a unit has the height's.

    Raises:
        RequestError: an unknown part, or a height or uncertainty that makes no sense.
    """
    part, equals, value = text.partition("=")
    part = part.strip().lower()
    if not equals or not value.strip():
        raise RequestError(
            f"'{text}' is not a height. Write part=height, as body=72 or top=3 1/4in."
        )
    if part not in PARTS:
        raise RequestError(f"'{part}' is not a part with a height. Known: {', '.join(PARTS)}.")
    mm, u95 = parse_measured(value, default_unit, what=text)
    if mm == 0 and part != "button":
        raise RequestError(f"'{text}': the height of the {part} must be above zero.")
    return part, mm, u95


def parse_measured(
    text: str, default_unit: str = "mm", what: str | None = None
) -> tuple[float, float | None]:
    """Read '22', '22±0.3', '22+/-0.3mm' or '7/8in': a length that somebody measured.

    Args:
        what: how the text was typed, for messages.

    Returns:
        mm, and its 95 % uncertainty in mm or None where none was typed. An uncertainty without a
        unit has the length's.

    Raises:
        RequestError: it cannot be read, or the uncertainty makes no sense.
    """
    value, plus_minus, doubt = re.sub(r"\+/?-", "±", text).partition("±")
    length = _parse(value, default_unit, allow_negative=False)
    if not plus_minus:
        return length.mm, None
    if not doubt.strip():
        raise RequestError(f"'{what or text}': the uncertainty after ± is missing. Good: 72±0.5.")
    u95 = _parse(doubt, length.unit, allow_negative=False).mm
    if length.mm > 0 and not 0 < u95 < length.mm:
        raise RequestError(
            f"'{what or text}': the uncertainty must be above zero and below the length itself."
        )
    return length.mm, u95
