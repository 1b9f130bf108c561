"""Printers that were measured once: what a steel rule read on their bar page, kept for every sheet.

`printers.json` lies in the user's data folder. `format` is "profiler printers", `version` 1;
`printers` holds for each its `name`, `paper`, and `x` and `y` with `designed_mm` and `read_mm`.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import platformdirs

from profiler.drawing.tiling import Correction
from profiler.errors import InputError, RequestError
from profiler.jobs.records import checked_reading
from profiler.jobs.results import record_bytes
from profiler.jobs.writing import write_atomically

PRINTERS_NAME = "printers.json"
FORMAT = "profiler printers"
VERSION = 1
LONGEST_NAME = 80
MOST_PRINTERS = 100


class PrintersUnusable(InputError):
    """The file of printers cannot be used."""


@dataclass(frozen=True)
class Printer:
    """Attributes:
    name: as the user calls it.
    paper: that the bar page was printed on.
    designed: lengths of the two bars, mm.
    read: what a steel rule read on them, mm.
    """

    name: str
    paper: str
    designed: tuple[float, float]
    read: tuple[float, float]

    @property
    def correction(self) -> Correction:
        """How much longer to draw for it."""
        return Correction(self.designed[0] / self.read[0], self.designed[1] / self.read[1])

    @property
    def words(self) -> str:
        """How it prints, for people."""
        said = []
        for way, designed, read in zip(("across", "up"), self.designed, self.read, strict=True):
            off = 100 * (read / designed - 1)
            if abs(off) < 0.05:
                said.append(f"true {way} the page")
            else:
                said.append(f"{abs(off):.1f} % too {'long' if off > 0 else 'short'} {way}")
        return "prints " + ", ".join(said)


def default_file() -> Path:
    """In the place that the system has for a user's data."""
    return Path(platformdirs.user_data_dir("profiler", appauthor=False)) / PRINTERS_NAME


def read_printers(path: Path | None = None) -> tuple[Printer, ...]:
    """All that were measured, by name; none where there is no file.

    Raises:
        PrintersUnusable: the file is damaged or newer than this program.
    """
    path = path or default_file()
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
        if record["format"] != FORMAT or record["version"] != VERSION:
            raise ValueError
        found = [_printer(entry) for entry in record["printers"]]
    except FileNotFoundError:
        return ()
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise PrintersUnusable(f"{path} cannot be opened: {why}.") from None
    except (ValueError, KeyError, TypeError, RecursionError):
        raise PrintersUnusable(
            f"{path} is no list of printers that this program reads. Move it away and measure the"
            " printers again."
        ) from None
    return tuple(sorted(found, key=lambda p: p.name.casefold()))


def printer_named(name: str, path: Path | None = None) -> Printer:
    """One of them, without regard to capitals.

    Raises:
        RequestError: there is none of that name.
    """
    printers = read_printers(path)
    for printer in printers:
        if printer.name.casefold() == name.strip().casefold():
            return printer
    known = ", ".join(p.name for p in printers) or "none yet"
    raise RequestError(f"No printer is called '{name[:60]}'. Known: {known}.")


def keep_printer(printer: Printer, replace: bool = False, path: Path | None = None) -> None:
    """Keep a printer's readings.

    Raises:
        RequestError: no name, or there is one of that name and `replace` is off.
        SceneError: readings that no print at 100 % can give.
        OutputError: the disk refuses.
    """
    path = path or default_file()
    if not printer.name.strip() or len(printer.name) > LONGEST_NAME:
        raise RequestError(f"A printer has a name of up to {LONGEST_NAME} letters.")
    for name, designed, read in zip("XY", printer.designed, printer.read, strict=True):
        checked_reading(designed, read, name)
    others = [p for p in read_printers(path) if p.name.casefold() != printer.name.casefold()]
    if len(others) < len(read_printers(path)) and not replace:
        raise RequestError(
            f"There is a printer called '{printer.name}' already. Replace its readings, or take"
            " another name."
        )
    if len(others) >= MOST_PRINTERS:
        raise RequestError("There are too many printers. Forget some.")
    _write(path, [*others, printer])


def forget_printer(name: str, path: Path | None = None) -> None:
    """Raises:
    RequestError: there is none of that name.
    """
    path = path or default_file()
    gone = printer_named(name, path)
    _write(path, [p for p in read_printers(path) if p.name != gone.name])


def _write(path: Path, printers: list[Printer]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    record = {
        "format": FORMAT,
        "version": VERSION,
        "printers": [
            {
                "name": p.name,
                "paper": p.paper,
                "x": {"designed_mm": p.designed[0], "read_mm": p.read[0]},
                "y": {"designed_mm": p.designed[1], "read_mm": p.read[1]},
            }
            for p in printers
        ],
    }
    write_atomically(path, record_bytes(record), overwrite=True)


def _printer(entry: Any) -> Printer:
    pairs = [
        (float(entry[axis]["designed_mm"]), float(entry[axis]["read_mm"])) for axis in ("x", "y")
    ]
    if not all(1.0 < v < 5000.0 for pair in pairs for v in pair):
        raise ValueError
    (dx, rx), (dy, ry) = pairs
    return Printer(str(entry["name"]), str(entry["paper"]), (dx, dy), (rx, ry))
