"""Reading `measurement.json` back, with a helpful sentence for every way in which it can be bad."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from profiler.errors import InputError
from profiler.findings import Finding, Level
from profiler.instrument.record import Frame2D, Measurement, PartHeight, Quantity, Stretch
from profiler.jobs.side import side_from_record

Record = dict[str, Any]

FORMAT = "profiler measurement"
VERSION = 1
MEASUREMENT_NAME = "measurement.json"
#: no length or place of an instrument is beyond this, mm
_LARGEST_MM = 20_000.0
#: ours have a point to the millimetre
_MOST_POINTS = 30_000


@dataclass(frozen=True)
class JobNotes:
    """What the user wrote on the job, for headings."""

    name: str = ""
    customer: str = ""


class MeasurementFileError(InputError):
    """A `measurement.json` that cannot be used."""

    def __init__(self, path: Path, what: str) -> None:
        super().__init__(f"{path} {what}")
        self.path = path


def read_measurement(path: Path) -> Measurement:
    """What was measured, from `measurement.json` or from the job folder that it lies in.

    Raises:
        MeasurementFileError: it is not there, is something else, or is damaged.
    """
    return measurement_from_record(read_record(path), path)


def read_record(path: Path) -> Record:
    """The file's content, known to be a measurement of a version that this program reads.

    Raises:
        MeasurementFileError: as for `read_measurement`.
    """
    if path.is_dir():
        if not (path / MEASUREMENT_NAME).is_file():
            raise MeasurementFileError(
                path, f"holds no {MEASUREMENT_NAME}. Name the folder that 'profiler measure' wrote."
            )
        path = path / MEASUREMENT_NAME
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise MeasurementFileError(
            path, "is not there. Name the folder that 'profiler measure' wrote."
        ) from None
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise MeasurementFileError(path, f"cannot be opened: {why}.") from None
    except (ValueError, RecursionError):
        raise MeasurementFileError(
            path, "is damaged: it is not readable as JSON. Measure again."
        ) from None
    if not isinstance(record, dict) or record.get("format") != FORMAT:
        raise MeasurementFileError(path, "is not a measurement. 'profiler measure' writes one.")
    version = record.get("version")
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise MeasurementFileError(path, "does not say which version it has. Measure again.")
    if version > VERSION:
        raise MeasurementFileError(
            path, f"has version {version}; this program reads up to {VERSION}. Update the program."
        )
    if record.get("units") != "mm":
        raise MeasurementFileError(
            path, f"is in '{record.get('units')}', not in mm. Measure again."
        )
    return record


def measurement_from_record(record: Record, path: Path = Path(MEASUREMENT_NAME)) -> Measurement:
    """The measurement in a record; `path` is only for messages.

    Raises:
        MeasurementFileError: something is missing or cannot be.
    """
    try:
        measurement = _measurement(record)
    except _Wrong as wrong:
        raise MeasurementFileError(path, f"holds {wrong}. Measure again.") from None
    except KeyError as error:
        raise MeasurementFileError(path, f"lacks {error}. Measure again.") from None
    except (TypeError, ValueError, AttributeError, IndexError, OverflowError):
        raise MeasurementFileError(
            path, "is not built as 'profiler measure' builds it. Measure again."
        ) from None
    if problem := _problem(measurement):
        raise MeasurementFileError(path, f"holds {problem}. Measure again.")
    return measurement


def notes_from_record(record: Record) -> JobNotes:
    """What the user wrote on the job, '' where nothing or nonsense stands."""
    job = record.get("job")
    if not isinstance(job, dict):
        return JobNotes()
    name, customer = (
        value if isinstance(value := job.get(key), str) else "" for key in ("name", "customer")
    )
    return JobNotes(name, customer)


class _Wrong(Exception):
    """What a measurement cannot hold, in words that follow 'holds'."""


def _measurement(record: Record) -> Measurement:
    envelope, box, frame = record["envelope"], record["box"], record["frame"]
    return Measurement(
        outline=_points(record["outline"]),
        outline_u95=np.array([_real(u, "outline_u95", 0.0) for u in record["outline_u95"]]),
        outline_part=tuple(_text(part, "outline_part") for part in record["outline_part"]),
        doubtful=tuple(
            Stretch(
                _whole(s["start"], "doubtful"),
                _whole(s["end"], "doubtful"),
                _text(s["reason"], "doubtful"),
            )
            for s in record["doubtful"]
        ),
        side=side_from_record(record.get("side_view")),
        length=_quantity(envelope["length"], "length"),
        width=_quantity(envelope["width"], "width"),
        height=_quantity(envelope["height"], "height"),
        widths={
            str(name): _quantity(q, f"width '{str(name)[:30]}'")
            for name, q in record["widths"].items()
        },
        box=(_quantity(box["length"], "box"), _quantity(box["width"], "box")),
        area=_quantity(record["area"], "area", _LARGEST_MM**2),
        heights=tuple(
            PartHeight(
                _text(h["part"], "heights"), _quantity(h, "heights"), _text(h["source"], "heights")
            )
            for h in record["heights"]
        ),
        frame=Frame2D(_real(frame["angle_rad"], "frame"), _pair(frame["origin"])),
        symmetric=None if record["symmetric"] is None else bool(record["symmetric"]),
        findings=tuple(
            Finding(
                _whole(w["code"], "warnings"),
                Level(w["level"]),
                _text(w["message"], "warnings"),
                _text(w["where"], "warnings"),
            )
            for w in record["warnings"]
        ),
    )


def _quantity(q: Record, name: str, largest: float = _LARGEST_MM) -> Quantity:
    return Quantity(
        value=_optional(q["value"], name, 0.0, largest),
        u95=_optional(q["u95"], name, 0.0, largest),
        reason=_text(q.get("reason", ""), name),
        mostly=_text(q.get("mostly", ""), name),
        x=_optional(q.get("x"), name),
    )


def _optional(
    value: Any, name: str, least: float = -_LARGEST_MM, largest: float = _LARGEST_MM
) -> float | None:
    return None if value is None else _real(value, name, least, largest)


def _real(
    value: Any, name: str, least: float = -_LARGEST_MM, largest: float = _LARGEST_MM
) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _Wrong(f"something else where a number of '{name}' belongs")
    if not least <= value <= largest:  # what is not a number at all ends here as well
        raise _Wrong(f"a number of '{name}' that cannot be: {_in_short(value)}")
    return float(value)


def _whole(value: Any, name: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise _Wrong(f"something else where a whole number of '{name}' belongs")
    return value


def _text(value: Any, name: str) -> str:
    if not isinstance(value, str):
        raise _Wrong(f"something else where words of '{name}' belong")
    return value


def _points(values: Any) -> NDArray[np.float64]:
    """(N, 2) mm, each number one that can be."""
    if not isinstance(values, list):
        raise _Wrong("no list of outline points")
    if len(values) > _MOST_POINTS:
        raise _Wrong(
            f"an outline of {len(values)} points, which is more than any instrument's edge has"
        )
    if not all(isinstance(p, list) and len(p) == 2 for p in values):
        raise _Wrong("an outline point that is no pair of numbers")
    pairs = [[_real(v, "outline") for v in p] for p in values]
    return np.array(pairs, dtype=np.float64).reshape(-1, 2)


def _pair(values: Sequence[Any]) -> tuple[float, float]:
    x, y = values
    return _real(x, "frame"), _real(y, "frame")


def _in_short(value: float) -> str:
    """A number short enough for a sentence, however many digits it has."""
    text = str(value) if isinstance(value, float) else f"{value:d}"
    return text if len(text) < 24 else f"{text[:8]}… of {len(text)} digits"


def _problem(m: Measurement) -> str:
    """What is wrong with the numbers, '' for nothing."""
    count = len(m.outline)
    if count < 3:
        return "no outline of at least three points"
    if len(m.outline_u95) != count or len(m.outline_part) != count:
        return f"{count} outline points but another number of uncertainties or parts"
    shape = shapely.Polygon(m.outline)
    if not shape.is_valid:
        return "an outline that crosses itself"
    if not shape.exterior.is_ccw:
        return "an outline that runs the wrong way round"
    if any(not 0 <= i < count for s in m.doubtful for i in (s.start, s.end)):
        return "a doubtful stretch beyond the outline's end"
    return ""
