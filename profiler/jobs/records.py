"""The records that lie beside a printed mat and beside height cards: `mat.json` and `cards.json`.

A mat record holds, besides `format` ("profiler mat") and `version` (1):

- `paper`: `name`, `width_mm`, `height_mm` of one sheet as it lies in the tray;
- `landscape`, `columns`, `rows`: how the sheets are turned and how many there are;
- `tint`: the ground's colour, `#rrggbb`;
- `upright`: true for the row of sheets that stands behind the instrument, else left out;
- `bar_x`, `bar_y`: `designed_mm`, and `read_mm`, what a steel rule read on the print, or null.

A cards record ("profiler cards") holds `bar_x`, `bar_y`, `tint`, and `thickness_mm`, from the
wood to the printed face. `about` is for people; the program does not read it.
"""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

from profiler.errors import SceneError
from profiler.paper import Paper
from profiler.scene.record import PrintScale
from profiler.target.card import THICKNESS_MM, card_bars
from profiler.target.mat import DEFAULT_TINT, MatDesign
from profiler.target.panel import Bar

Record = dict[str, Any]

MAT_FORMAT = "profiler mat"
CARDS_FORMAT = "profiler cards"
VERSION = 1
#: a reading further off than this is a scaled print or a slip, not a printer's tolerance
LARGEST_ERROR = 0.03
#: shortest and longest that a record may speak of, mm
PAPER_LIMITS = (50.0, 20000.0)
BAR_LIMITS = (1.0, 20000.0)
_THICKNESS_MM = (0.0, 20.0)
#: standard uncertainty of one reading, mm: a steel rule read between its marks
U_READING_MM = 0.1
#: without a reading: office printers are out by 0.2 to 2 %, mostly by less than 1
U_UNREAD = 0.005
ABOUT = (
    "Lay a steel rule on the two printed bars, outer end to outer end, and put what it reads, in"
    " mm, where it says read_mm."
)


def mat_record(
    design: MatDesign, read_x: float | None = None, read_y: float | None = None
) -> Record:
    """What a mat's record holds.

    Args:
        design: as printed.
        read_x, read_y: mm, what a steel rule read on the bars, None where nobody did.

    Raises:
        SceneError: a reading that no print at 100 % can give.
    """
    paper = design.paper
    _check_not_swapped((design.bar_x, design.bar_y), (read_x, read_y))
    return {
        "format": MAT_FORMAT,
        "version": VERSION,
        "about": ABOUT,
        "paper": {
            "name": paper.name,
            "width_mm": paper.width_mm,
            "height_mm": paper.height_mm,
        },
        "landscape": design.landscape,
        "columns": design.columns,
        "rows": design.rows,
        "tint": design.tint,
        **({"upright": True} if design.upright else {}),
        "bar_x": _bar(design.bar_x, read_x, "X"),
        "bar_y": _bar(design.bar_y, read_y, "Y"),
    }


def design_from_record(record: Record) -> tuple[MatDesign, PrintScale]:
    """The design that was printed and its printer's scale.

    Raises:
        SceneError: the record is broken, foreign, newer than this program, or tells of a print
            that was scaled.
    """
    _check_kind(record, MAT_FORMAT, "mat")
    paper = _section(record, "paper")
    name = paper.get("name")
    if not isinstance(name, str):
        raise _broken("mat", "paper.name must be a name")
    design = MatDesign(
        Paper(
            name,
            _number(paper, "width_mm", "paper.width_mm", PAPER_LIMITS, "mat"),
            _number(paper, "height_mm", "paper.height_mm", PAPER_LIMITS, "mat"),
        ),
        _flag(record, "landscape"),
        _count(record, "columns"),
        _count(record, "rows"),
        _tint(record, "mat"),
        record.get("upright", False) is True,
    )
    if design.count * design.clusters_per_sheet > design.most_clusters:
        raise _broken("mat", "so many sheets of this size cannot have been printed")
    return design, _scale(record, (design.bar_x, design.bar_y), "mat")


def cards_record(
    read_x: float | None = None,
    read_y: float | None = None,
    thickness_mm: float = THICKNESS_MM,
    tint: str = DEFAULT_TINT,
) -> Record:
    """What the record of height cards holds; arguments and errors as for `mat_record`."""
    bar_x, bar_y = card_bars()
    _check_not_swapped((bar_x, bar_y), (read_x, read_y))
    low, high = _THICKNESS_MM
    if not low <= thickness_mm <= high:
        raise SceneError(
            f"A card cannot be {thickness_mm:g} mm thick: {low:g} to {high:g} mm. It is what lies"
            " between wood and print. Was the unit meant?"
        )
    return {
        "format": CARDS_FORMAT,
        "version": VERSION,
        "about": ABOUT + " thickness_mm is that of a finished card.",
        "tint": tint,
        "thickness_mm": thickness_mm,
        "bar_x": _bar(bar_x, read_x, "X"),
        "bar_y": _bar(bar_y, read_y, "Y"),
    }


def cards_from_record(record: Record) -> tuple[PrintScale, float]:
    """The cards' print scale and their thickness in mm; errors as for `design_from_record`."""
    _check_kind(record, CARDS_FORMAT, "cards")
    thickness = _number(record, "thickness_mm", "thickness_mm", _THICKNESS_MM, "cards")
    return _scale(record, card_bars(), "cards"), thickness


def record_bytes(record: Record) -> bytes:
    """The record as a JSON file that a person can edit, the same bytes every time."""
    return (json.dumps(record, indent=2, ensure_ascii=False) + "\n").encode()


def load_record(path: Path) -> Record:
    """Read a record's file, without judging what it says.

    Raises:
        SceneError: it cannot be read or is not a JSON object.
    """
    try:
        record = json.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        reason = error.strerror or str(error)
        raise SceneError(f"The record {path} cannot be read: {reason}.") from error
    except (ValueError, RecursionError) as error:
        raise SceneError(
            f"The record {path} cannot be read: {why_not_json(error)}. Give the file that was"
            " written beside the PDF, or make it anew with the options that you printed with."
        ) from error
    if not isinstance(record, dict):
        raise SceneError(f"The record {path} holds no record of a mat or of cards.")
    return record


def why_not_json(error: Exception) -> str:
    """What is wrong with a file that `json.loads` did not read, as the end of a sentence."""
    if isinstance(error, UnicodeDecodeError):
        return "it is not a text file"
    if isinstance(error, json.JSONDecodeError):
        return f"its line {error.lineno} is broken" if error.doc.strip() else "it is empty"
    return "it holds what no record holds"


def checked_reading(designed_mm: float, read_mm: float, name: str) -> float:
    """A reading that a print at 100 % can give, or a SceneError that says what went wrong."""
    if not math.isfinite(read_mm) or read_mm <= 0:
        raise SceneError(f"Bar {name} cannot read {read_mm} mm: a length above zero is needed.")
    scale = read_mm / designed_mm
    if abs(scale - 1.0) > LARGEST_ERROR:
        raise SceneError(
            f"Bar {name} reads {read_mm:g} mm but was designed {designed_mm:g} mm, that is"
            f" {100 * scale:.1f} %. No printer is so far out at 100 %: the printer dialog scaled"
            " the page to fit. Print again with 'actual size' or 100 %, or read the bar again, in"
            " millimetres and from outer end to outer end."
        )
    return read_mm


def _check_not_swapped(bars: tuple[Bar, Bar], readings: tuple[float | None, float | None]) -> None:
    x, y = readings
    if x is None or y is None:
        return

    def fit(first: Bar, second: Bar) -> bool:
        parts = x / first.length, y / second.length
        return all(abs(part - 1.0) <= LARGEST_ERROR for part in parts)

    if not fit(bars[0], bars[1]) and fit(bars[1], bars[0]):
        raise SceneError(
            f"The two readings are the wrong way round: bar X, across the page, is drawn"
            f" {bars[0].length:g} mm long and bar Y, up the page, {bars[1].length:g} mm. Swap them."
        )


def _bar(bar: Bar, read_mm: float | None, name: str) -> Record:
    if read_mm is not None:
        read_mm = checked_reading(bar.length, read_mm, name)
    return {"designed_mm": bar.length, "read_mm": read_mm}


def _scale(record: Record, bars: tuple[Bar, Bar], kind: str) -> PrintScale:
    scales, sigmas, read = [], [], True
    for key, name, bar in zip(("bar_x", "bar_y"), "XY", bars, strict=True):
        section = _section(record, key)
        designed = _number(section, "designed_mm", f"{key}.designed_mm", BAR_LIMITS, kind)
        if abs(designed - bar.length) > 0.01:
            raise _broken(
                kind, f"bar {name} is {bar.length:g} mm on such a print, not {designed:g} mm"
            )
        if section.get("read_mm") is None:
            scales.append(1.0)
            sigmas.append(U_UNREAD)
            read = False
            continue
        reading = _number(section, "read_mm", f"{key}.read_mm", BAR_LIMITS, kind)
        scales.append(checked_reading(designed, reading, name) / designed)
        sigmas.append(U_READING_MM / designed)
    return PrintScale(scales[0], scales[1], sigmas[0], sigmas[1], read)


def _check_kind(record: Record, wanted: str, kind: str) -> None:
    found = record.get("format")
    if found != wanted:
        other = f"it says '{found}'" if isinstance(found, str) else "it does not say what it is"
        raise SceneError(
            f"This is not the record of {'a mat' if kind == 'mat' else 'height cards'}: {other}."
            f" Give the file that 'profiler {kind}' wrote beside the PDF."
        )
    version = record.get("version")
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise _broken(kind, "version must be a whole number from 1")
    if version > VERSION:
        raise SceneError(
            f"This {kind} record has version {version}; this program reads up to {VERSION}."
            " Update the program."
        )


def _broken(kind: str, what: str) -> SceneError:
    return SceneError(
        f"The {kind} record is broken: {what}. Run 'profiler {kind}' again with the options you"
        " printed with, to write it anew."
    )


def _kind(record: Record) -> str:
    return "mat" if record.get("format") == MAT_FORMAT else "cards"


def _section(record: Record, key: str) -> Record:
    section = record.get(key)
    if not isinstance(section, dict):
        raise _broken(_kind(record), f"'{key}' is missing")
    return section


def _number(section: Record, key: str, name: str, limits: tuple[float, float], kind: str) -> float:
    value = section.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _broken(kind, f"{name} must be a number, in mm and without its unit")
    low, high = limits
    if not low <= value <= high:  # NaN and whole numbers too long for a float end here as well
        raise _broken(kind, f"{name} must lie between {low:g} and {high:g} mm")
    return float(value)


def _flag(record: Record, key: str) -> bool:
    value = record.get(key)
    if not isinstance(value, bool):
        raise _broken(_kind(record), f"'{key}' must be true or false")
    return value


def _count(record: Record, key: str) -> int:
    value = record.get(key)
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 100:
        raise _broken(_kind(record), f"'{key}' must be a whole number from 1")
    return value


def _tint(record: Record, kind: str) -> str:
    tint = record.get("tint")
    if not isinstance(tint, str) or not re.fullmatch("#[0-9a-fA-F]{6}", tint):
        raise _broken(kind, "'tint' must be a colour such as #b4d2ee")
    return tint.lower()
