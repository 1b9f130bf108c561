"""Sections and headstock in `measurement.json`: there and back, without losing any."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from profiler.errors import OutputError, RequestError
from profiler.findings import Finding, Level
from profiler.instrument.headstock import FacePlane, Headstock
from profiler.instrument.record import Quantity
from profiler.instrument.sections import Section
from profiler.jobs.reading import MEASUREMENT_NAME, MeasurementFileError, Record, read_record
from profiler.jobs.rendering import numbers, quantity_record, record_bytes, rounded, warning_record
from profiler.jobs.writing import OutputImpossible, write_atomically

SECTIONS, HEADSTOCK = "sections", "headstock"
#: no profile of ours has more points
_MOST_POINTS = 5_000
_LARGEST_MM = 20_000.0
_SOURCES = ("gauge", "tracing", "typed", "between")

T = TypeVar("T")


class SectionTaken(OutputError):
    """There is a section of that name already."""

    def __init__(self, name: str) -> None:
        self.name = name
        super().__init__(
            f"The job has a section called '{name}' already, and it was left as it is. Give another"
            " --name, or say --force to replace it."
        )


class HeadstockTaken(OutputError):
    """The job has a headstock's record already."""

    def __init__(self) -> None:
        super().__init__(
            "The job knows its headstock already, and that was left as it is. Say --force to"
            " replace it."
        )


class NoSection(RequestError):
    """No section has that name."""

    def __init__(self, name: str, known: tuple[str, ...]) -> None:
        self.name, self.known = name, known
        has = ", ".join(f"'{k}'" for k in known) if known else "none yet"
        super().__init__(f"The job has no section called '{name}'. It has: {has}.")


def sections_from_record(
    record: Record, path: Path = Path(MEASUREMENT_NAME)
) -> tuple[Section, ...]:
    """The sections of a job in the order of their stations; none where it has none.

    Raises:
        MeasurementFileError: something is missing or cannot be.
    """
    return _read(
        path,
        "section",
        lambda: tuple(sorted(map(_section, record.get(SECTIONS, [])), key=lambda s: (s.x, s.name))),
    )


def headstock_from_record(record: Record, path: Path = Path(MEASUREMENT_NAME)) -> Headstock | None:
    """The headstock's record, None where the job has none.

    Raises:
        MeasurementFileError: something is missing or cannot be.
    """
    if HEADSTOCK not in record:
        return None
    return _read(path, "headstock", lambda: _headstock(record[HEADSTOCK]))


def face_planes(record: Record) -> tuple[FacePlane, ...]:
    """The planes that the job's cards showed, in the instrument's frame; () for an old job."""
    planes = []
    for card in record.get("cards", []):
        plane = card.get("plane") if isinstance(card, dict) else None
        if isinstance(plane, dict):
            x, z, slope, u_z, u_slope = (
                _real(plane[k], "plane") for k in ("x", "z", "slope", "u95_z", "u95_slope")
            )
            planes.append(FacePlane(x, z, slope, u_z, u_slope, str(card.get("name", "card"))))
    return tuple(planes)


def with_section(record: Record, section: Section, force: bool = False) -> Record:
    """The record with one more section, or with the one of that name replaced.

    Raises:
        SectionTaken: there is one of that name and `force` is off.
    """
    others = record.get(SECTIONS, [])
    kept = [s for s in others if s.get("name") != section.name]
    if len(kept) < len(others) and not force:
        raise SectionTaken(section.name)
    rows = sorted([*kept, section_record(section)], key=lambda s: (s["x"], s["name"]))
    return {**record, SECTIONS: rows}


def without_section(record: Record, name: str) -> Record:
    """The record without one section.

    Raises:
        NoSection: there is none of that name.
    """
    others = record.get(SECTIONS, [])
    kept = [s for s in others if s.get("name") != name]
    if len(kept) == len(others):
        raise NoSection(name, tuple(str(s.get("name")) for s in others))
    return {**record, SECTIONS: kept}


def with_headstock(record: Record, headstock: Headstock, force: bool = False) -> Record:
    """The record with what is known of the headstock.

    Raises:
        HeadstockTaken: it has that already and `force` is off.
    """
    if HEADSTOCK in record and not force:
        raise HeadstockTaken
    return {**record, HEADSTOCK: headstock_record(headstock)}


def carried_over(old: Record, new: Record) -> Record:
    """A new measurement of the same instrument with the sections and headstock of the old one."""
    carried = {k: old[k] for k in (SECTIONS, HEADSTOCK) if k in old and k not in new}
    return {**new, **carried} if carried else new


def change_record(job: Path, change: Callable[[Record], Record]) -> None:
    """Read a job's record, change it, write it back: whole or not at all.

    Args:
        job: the folder, or `measurement.json` in it.
        change: gives the new record.

    Raises:
        MeasurementFileError: there is none, or it is damaged.
        OutputImpossible: it cannot be written, or was written by somebody else meanwhile.
    """
    path = job / MEASUREMENT_NAME if job.is_dir() else job
    read_record(job)  # its sentences fit a folder that was named
    before = path.read_bytes()
    data = record_bytes(change(read_record(path)))
    if path.read_bytes() != before:
        raise OutputImpossible(path, "it was changed meanwhile. Run the command again")
    write_atomically(path, data, overwrite=True)


def section_record(section: Section) -> Record:
    """What `measurement.json` holds of a section."""
    return {
        "name": section.name,
        "x": rounded(section.x, 4),
        "source": section.source,
        "detail": section.detail,
        "photo_sha256": section.photo_sha256,
        "width": quantity_record(section.width),
        "depth": quantity_record(section.depth),
        "radius": quantity_record(section.radius),
        "face_height": quantity_record(section.face_height),
        "warnings": [warning_record(f) for f in section.findings],
        "points": [numbers(p, 3) for p in section.points],
        "u95": numbers(section.u95, 3),
    }


def headstock_record(head: Headstock) -> Record:
    """What `measurement.json` holds of a headstock."""
    return {
        "start": rounded(head.start, 4),
        "end": rounded(head.end, 4),
        "tilt_deg": quantity_record(head.tilt),
        "thickness": quantity_record(head.thickness),
        "face_height": quantity_record(head.face_height),
        "lowest_wood": quantity_record(head.lowest_wood),
        "lowest": quantity_record(head.lowest),
        "edge": quantity_record(head.edge),
    }


class _Wrong(Exception):
    """What a section cannot hold, in words that follow 'holds'."""


def _read(path: Path, what: str, read: Callable[[], T]) -> T:
    try:
        return read()
    except _Wrong as wrong:
        raise MeasurementFileError(
            path, f"holds {wrong}. Take the {what} again, or measure again."
        ) from None
    except (KeyError, TypeError, ValueError, AttributeError, IndexError, OverflowError):
        raise MeasurementFileError(
            path,
            f"holds a {what} that is not built as this program builds it. Take the {what} again,"
            " or measure again.",
        ) from None


def _section(row: Record) -> Section:
    points = np.array(
        [[_real(v, "section") for v in p] for p in row["points"][: _MOST_POINTS + 1]],
        dtype=np.float64,
    )
    u95 = np.array([_real(u, "section's u95", 0.0) for u in row["u95"][: _MOST_POINTS + 1]])
    if len(points) > _MOST_POINTS or points.ndim != 2 or points.shape[1] != 2 or len(points) < 5:
        raise _Wrong("a section without a curve of points")
    if len(u95) != len(points):
        raise _Wrong(f"a section of {len(points)} points but {len(u95)} uncertainties")
    if points[0, 0] >= points[-1, 0]:
        raise _Wrong("a section that runs the wrong way round")
    if row["source"] not in _SOURCES:
        raise _Wrong("a section whose source is unknown")
    section = Section(
        _text(row["name"]),
        _real(row["x"], "section"),
        points,
        _quantity(row["width"]),
        _quantity(row["depth"]),
        _quantity(row["radius"]),
        u95,
        _quantity(row["face_height"]),
        row["source"],
        _text(row.get("detail", "")),
        _text(row.get("photo_sha256", "")),
    )
    findings = tuple(
        Finding(int(w["code"]), Level(w["level"]), _text(w["message"]), _text(w["where"]))
        for w in row.get("warnings", [])
    )
    return replace(section, findings=findings)


def _headstock(row: Record) -> Headstock:
    found = Headstock(
        _real(row["start"], "headstock"),
        _real(row["end"], "headstock"),
        *(
            _quantity(row[k], -90.0 if k == "tilt_deg" else 0.0)
            for k in ("tilt_deg", "thickness", "face_height", "lowest_wood", "lowest")
        ),
    )
    return replace(found, edge=_quantity(row["edge"])) if "edge" in row else found


def _quantity(row: Record, least: float = 0.0) -> Quantity:
    value, u95, x = row["value"], row["u95"], row.get("x")
    if (value is None) != (u95 is None):
        raise _Wrong("a number without its uncertainty")
    return Quantity(
        None if value is None else _real(value, "size", least),
        None if u95 is None else _real(u95, "size's u95", 0.0),
        _text(row.get("reason", "")),
        _text(row.get("mostly", "")),
        None if x is None else _real(x, "place"),
    )


def _real(value: Any, name: str, least: float = -_LARGEST_MM) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _Wrong(f"something else where a number of a {name} belongs")
    if not least <= value <= _LARGEST_MM:
        raise _Wrong(f"a number of a {name} that cannot be")
    return float(value)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise _Wrong("something else where words belong")
    return value
