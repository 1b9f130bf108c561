"""Reading `measurement.json` back, with a helpful sentence for every way in which it can be bad."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from profiler.errors import InputError
from profiler.findings import Finding, Level
from profiler.instrument.record import Frame2D, Measurement, PartHeight, Quantity, Stretch

Record = dict[str, Any]

FORMAT = "profiler measurement"
VERSION = 1
MEASUREMENT_NAME = "measurement.json"


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
    if not isinstance(version, int) or version > VERSION:
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
    except KeyError as error:
        raise MeasurementFileError(path, f"lacks {error}. Measure again.") from None
    except (TypeError, ValueError, AttributeError, IndexError, OverflowError) as error:
        raise MeasurementFileError(
            path, f"holds something that cannot be ({error}). Measure again."
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


def _measurement(record: Record) -> Measurement:
    envelope, box, frame = record["envelope"], record["box"], record["frame"]
    outline = np.array(record["outline"], dtype=np.float64).reshape(-1, 2)
    return Measurement(
        outline=outline,
        outline_u95=np.array(record["outline_u95"], dtype=np.float64),
        outline_part=tuple(map(str, record["outline_part"])),
        doubtful=tuple(
            Stretch(int(s["start"]), int(s["end"]), str(s["reason"])) for s in record["doubtful"]
        ),
        length=_quantity(envelope["length"]),
        width=_quantity(envelope["width"]),
        height=_quantity(envelope["height"]),
        widths={str(name): _quantity(q) for name, q in record["widths"].items()},
        box=(_quantity(box["length"]), _quantity(box["width"])),
        area=_quantity(record["area"]),
        heights=tuple(
            PartHeight(str(h["part"]), _quantity(h), str(h["source"])) for h in record["heights"]
        ),
        frame=Frame2D(float(frame["angle_rad"]), _pair(frame["origin"])),
        symmetric=None if record["symmetric"] is None else bool(record["symmetric"]),
        findings=tuple(
            Finding(int(w["code"]), Level(w["level"]), str(w["message"]), str(w["where"]))
            for w in record["warnings"]
        ),
    )


def _quantity(q: Record) -> Quantity:
    return Quantity(
        value=_optional(q["value"]),
        u95=_optional(q["u95"]),
        reason=str(q.get("reason", "")),
        mostly=str(q.get("mostly", "")),
        x=_optional(q.get("x")),
    )


def _optional(value: Any) -> float | None:
    return None if value is None else float(value)


def _pair(values: Sequence[Any]) -> tuple[float, float]:
    x, y = values
    return float(x), float(y)


def _problem(m: Measurement) -> str:
    """What is wrong with the numbers, '' for nothing."""
    count = len(m.outline)
    if count < 3 or not np.isfinite(m.outline).all():
        return "no outline of at least three points"
    if len(m.outline_u95) != count or len(m.outline_part) != count:
        return f"{count} outline points but another number of uncertainties or parts"
    if not shapely.Polygon(m.outline).is_valid:
        return "an outline that crosses itself"
    if any(not 0 <= i < count for s in m.doubtful for i in (s.start, s.end)):
        return "a doubtful stretch beyond the outline's end"
    return ""
