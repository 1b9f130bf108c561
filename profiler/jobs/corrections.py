"""`corrections.json`: what a person put right in a photo, so that it can be measured again with it.

Besides `format` ("profiler corrections") and `version` (1):

- `photo`: `name` and `sha256` of the photo whose pixels the places are (sensor's side up);
- `done`: the corrections in order. `kind` is 'move' (`at`, `to`, `reach_mm`), 'redraw' (`path`,
  `snap`), 'exclude' (`area`) or 'height' (`part`, `mm`, `u95`; null mm takes it back);
- `undone`: those that were taken back last, the latest last.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from profiler.errors import InputError
from profiler.jobs.results import record_bytes
from profiler.silhouette.strokes import CutOut, Moved, Redrawn, Stroke
from profiler.units import PARTS

Record = dict[str, Any]
Point = tuple[float, float]
Heights = dict[str, tuple[float, float | None]]

CORRECTIONS_NAME = "corrections.json"
FORMAT = "profiler corrections"
VERSION = 1
#: no photo is larger, px
_LARGEST_PX = 100_000.0
MOST_POINTS = 2000
MOST_CORRECTIONS = 500
#: nothing that is laid on a mat is thicker, mm
_HIGHEST_MM = 600.0


class CorrectionsUnusable(InputError):
    """A corrections file, or a correction in it, that cannot be used."""


@dataclass(frozen=True)
class Height:
    """A height typed for a part, or taken back (None), mm."""

    part: str
    mm: float | None
    u95: float | None = None


Correction = Stroke | Height


@dataclass(frozen=True)
class Corrections:
    """Attributes:
    done: in the order in which they were made.
    undone: taken back, the latest last.
    photo: name of the photo that they are for.
    sha256: of that photo; '' before anything was measured.
    """

    done: tuple[Correction, ...] = ()
    undone: tuple[Correction, ...] = ()
    photo: str = ""
    sha256: str = ""

    @property
    def strokes(self) -> tuple[Stroke, ...]:
        """What was done to the edge."""
        return tuple(c for c in self.done if not isinstance(c, Height))

    @property
    def heights(self) -> Heights:
        """The typed heights that stand at the end."""
        standing: Heights = {}
        for one in self.done:
            if isinstance(one, Height):
                standing.pop(one.part, None)
                if one.mm is not None:
                    standing[one.part] = (one.mm, one.u95)
        return standing


def read_corrections(path: Path) -> Corrections:
    """From a file, or from the job folder that it lies in.

    Raises:
        CorrectionsUnusable: it is not there, is something else, or is damaged.
    """
    if path.is_dir():
        path = path / CORRECTIONS_NAME
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise CorrectionsUnusable(f"{path} cannot be opened: {why}.") from None
    except (ValueError, RecursionError):
        raise CorrectionsUnusable(f"{path} is damaged: it is not readable as JSON.") from None
    try:
        return corrections_from_record(record)
    except CorrectionsUnusable as error:
        raise CorrectionsUnusable(f"{path}: {error}") from None


def corrections_for(path: Path, photo: Path) -> Corrections:
    """As `read_corrections`, and made for this very photo.

    Raises:
        CorrectionsUnusable: also if they were made for another one.
    """
    corrections = read_corrections(path)
    if corrections.strokes and corrections.sha256:
        try:
            same = hashlib.sha256(photo.read_bytes()).hexdigest() == corrections.sha256
        except OSError:
            return corrections  # that the photo is not there is told by who opens it
        if not same:
            raise CorrectionsUnusable(
                f"{path}: these corrections are places in another photo"
                f" ({corrections.photo[:60]}), not in {photo.name}."
            )
    return corrections


def corrections_from_record(record: object) -> Corrections:
    """Raises:
    CorrectionsUnusable: something is missing or cannot be.
    """
    if not isinstance(record, dict) or record.get("format") != FORMAT:
        raise CorrectionsUnusable("This is no list of corrections.")
    if record.get("version") != VERSION:
        raise CorrectionsUnusable(
            f"The corrections have version {record.get('version')}; this program reads {VERSION}."
        )
    photo = record.get("photo")
    photo = photo if isinstance(photo, dict) else {}
    lists = []
    for key in ("done", "undone"):
        entries = record.get(key, [])
        if not isinstance(entries, list) or len(entries) > MOST_CORRECTIONS:
            raise CorrectionsUnusable(f"'{key}' is no list of at most {MOST_CORRECTIONS}.")
        lists.append(tuple(correction_from_record(e) for e in entries))
    return Corrections(lists[0], lists[1], str(photo.get("name", "")), str(photo.get("sha256", "")))


def correction_from_record(entry: object) -> Correction:
    """One correction.

    Raises:
        CorrectionsUnusable: it is none.
    """
    if not isinstance(entry, dict):
        raise CorrectionsUnusable("A correction is no object.")
    kind = entry.get("kind")
    readers: dict[object, Callable[[Mapping[str, Any]], Correction]] = {
        "move": _move,
        "redraw": _redraw,
        "exclude": _exclude,
        "height": _height,
    }
    if not isinstance(kind, str) or kind not in readers:
        raise CorrectionsUnusable(
            "A correction has no kind that is known: move, redraw, exclude or height."
        )
    return readers[kind](entry)


def corrections_record(corrections: Corrections) -> Record:
    """What the file holds."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "photo": {"name": corrections.photo, "sha256": corrections.sha256},
        "done": [correction_record(c) for c in corrections.done],
        "undone": [correction_record(c) for c in corrections.undone],
    }


def correction_record(one: Correction) -> Record:
    """One correction as plain values."""
    if isinstance(one, Moved):
        return {"kind": "move", "at": [*one.at], "to": [*one.to], "reach_mm": one.reach}
    if isinstance(one, Redrawn):
        return {"kind": "redraw", "path": [[*p] for p in one.path], "snap": one.snap}
    if isinstance(one, CutOut):
        return {"kind": "exclude", "area": [[*p] for p in one.area]}
    return {"kind": "height", "part": one.part, "mm": one.mm, "u95": one.u95}


def corrections_bytes(corrections: Corrections) -> bytes:
    """The file; the same corrections give the same bytes."""
    return record_bytes(corrections_record(corrections))


def _move(entry: Mapping[str, Any]) -> Correction:
    reach = entry.get("reach_mm", 8.0)
    return Moved(_point(entry.get("at")), _point(entry.get("to")), _number(reach, 0.0, 1000.0))


def _redraw(entry: Mapping[str, Any]) -> Correction:
    snap = entry.get("snap", True)
    if not isinstance(snap, bool):
        raise CorrectionsUnusable("'snap' is true or false.")
    return Redrawn(_line(entry.get("path"), 2), snap)


def _exclude(entry: Mapping[str, Any]) -> Correction:
    return CutOut(_line(entry.get("area"), 3))


def _height(entry: Mapping[str, Any]) -> Correction:
    part, mm, u95 = entry.get("part"), entry.get("mm"), entry.get("u95")
    if part not in PARTS:
        raise CorrectionsUnusable(f"A height is for one of {', '.join(PARTS)}.")
    return Height(
        str(part),
        None if mm is None else _number(mm, 0.0, _HIGHEST_MM),
        None if u95 is None else _number(u95, 0.0, _HIGHEST_MM),
    )


def _line(value: object, least: int) -> tuple[Point, ...]:
    if not isinstance(value, list) or not least <= len(value) <= MOST_POINTS:
        raise CorrectionsUnusable(f"A drawn line has {least} to {MOST_POINTS} points.")
    return tuple(_point(p) for p in value)


def _point(value: object) -> Point:
    if not isinstance(value, Sequence) or isinstance(value, str) or len(value) != 2:
        raise CorrectionsUnusable("A place in the photo is a pair of numbers.")
    x, y = (_number(v, -_LARGEST_PX, _LARGEST_PX) for v in value)
    return x, y


def _number(value: object, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise CorrectionsUnusable("A number of a correction is no number.")
    if not low <= value <= high:
        raise CorrectionsUnusable(f"{value:g} cannot be: {low:g} to {high:g}.")
    return round(float(value), 3)
