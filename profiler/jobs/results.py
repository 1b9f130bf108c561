"""`measurement.json`: what was measured, with where it came from. The schema lies beside this file.

The same measurement gives the same bytes: fixed order of keys, fixed rounding, no date, no paths.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from importlib import resources
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler import __version__
from profiler.findings import Finding
from profiler.instrument.record import Measurement, Quantity
from profiler.jobs.photo import Photo
from profiler.jobs.reading import (
    FORMAT,
    MEASUREMENT_NAME,
    VERSION,
    JobNotes,
    MeasurementFileError,
    measurement_from_record,
    notes_from_record,
    read_measurement,
    read_record,
)
from profiler.optics.camera import Camera
from profiler.optics.lens import LENS_TERMS
from profiler.scene.record import PlacedPanel, Scene

__all__ = [
    "FORMAT",
    "MEASUREMENT_NAME",
    "VERSION",
    "JobNotes",
    "MeasurementFileError",
    "measurement_from_record",
    "measurement_record",
    "notes_from_record",
    "read_measurement",
    "read_record",
    "record_bytes",
    "schema",
]

Record = dict[str, Any]

#: decimals of mm in numbers, of mm in the outline and of px
MM, OUTLINE_MM, PX = 4, 3, 4
ABOUT = (
    "Lengths in mm. Instrument frame: x from the tail along the centreline to the headstock, y to"
    " the left, z up from the bench. u95 is the 95 % expanded uncertainty. outline is the vertical"
    " projection of the whole instrument, anticlockwise, first point not repeated."
)


def measurement_record(
    measurement: Measurement,
    scene: Scene,
    photos: Sequence[Photo],
    notes: JobNotes | None = None,
    used: Sequence[str] = (),
) -> Record:
    """Everything that `measurement.json` holds.

    Args:
        measurement: of the instrument.
        scene: that it was measured in.
        photos: in the order of the scene's cameras.
        notes: of the user.
        used: names of the mat, cards and lens records that were used, without folders.
    """
    notes = notes or JobNotes()
    return {
        "format": FORMAT,
        "version": VERSION,
        "program": f"profiler {__version__}",
        "about": ABOUT,
        "units": "mm",
        "job": {"name": notes.name, "customer": notes.customer},
        "envelope": {
            "length": _quantity(measurement.length),
            "width": _quantity(measurement.width),
            "height": _quantity(measurement.height),
        },
        "widths": {name: _quantity(q, with_x=True) for name, q in measurement.widths.items()},
        "box": {
            "length": _quantity(measurement.box[0]),
            "width": _quantity(measurement.box[1]),
        },
        "area": _quantity(measurement.area),
        "budget": _budget(measurement),
        "symmetric": measurement.symmetric,
        "heights": [
            {"part": h.part, **_quantity(h.height, with_x=True), "source": h.source}
            for h in measurement.heights
        ],
        "warnings": [_warning(f) for f in measurement.findings],
        "photos": [_photo(p) for p in photos],
        "records_used": list(used),
        "camera": _camera(scene, photos),
        "frame": {
            "angle_rad": _rounded(measurement.frame.angle, 8),
            "origin": _numbers(measurement.frame.origin, MM),
        },
        "sheets": [_panel(p) for p in scene.sheets],
        "cards": [_panel(p) for p in scene.cards],
        "doubtful": [
            {"start": int(s.start), "end": int(s.end), "reason": s.reason}
            for s in measurement.doubtful
        ],
        "outline": [_numbers(point, OUTLINE_MM) for point in measurement.outline],
        "outline_u95": _numbers(measurement.outline_u95, OUTLINE_MM),
        "outline_part": list(map(str, measurement.outline_part)),
    }


def record_bytes(record: Record) -> bytes:
    """The record as JSON that a person can read: lists of numbers on one line each."""
    return (_text(record, "") + "\n").encode("utf-8", "replace")


def schema() -> Record:
    """The JSON Schema (draft 2020-12) of `measurement.json`."""
    text = resources.files("profiler.jobs").joinpath("measurement.schema.json").read_text("utf-8")
    loaded: Record = json.loads(text)
    return loaded


def _quantity(q: Quantity, with_x: bool = False) -> Record:
    out: Record = {}
    if with_x:
        out["x"] = _rounded(q.x, MM)
    out["value"] = _rounded(q.value, MM)
    out["u95"] = _rounded(q.u95, MM)
    out["mostly"] = q.mostly
    out["reason"] = q.reason
    return out


def _budget(measurement: Measurement) -> Record:
    """What the u95 of each number is made of; those squared add up to its u95 squared."""
    numbers = {"length": measurement.length, "width": measurement.width, **measurement.widths}
    return {
        name: [{"source": source, "u95": _rounded(u95, MM)} for source, u95 in q.budget]
        for name, q in numbers.items()
        if q.budget
    }


def _warning(finding: Finding) -> Record:
    return {
        "code": finding.code,
        "level": finding.level.value,
        "message": finding.message,
        "where": finding.where,
    }


def _photo(photo: Photo) -> Record:
    return {
        "name": photo.name,
        "sha256": photo.sha256,
        "width": photo.width,
        "height": photo.height,
        "reduced_by": photo.reduced_by,
        "orientation": photo.orientation,
        "phone": photo.phone,
        "cropped": photo.cropped,
    }


def _camera(scene: Scene, photos: Sequence[Photo]) -> Record:
    lens = scene.cameras[0].lens
    return {
        "solved_from": scene.lens_source,
        "rms_px": _rounded(scene.rms, PX),
        "points": len(scene.used),
        "set_aside": int((~scene.used).sum()),
        "lens": {
            "width": lens.width,
            "height": lens.height,
            **{
                name: float(f"{value:.10g}")
                for name, value in zip(LENS_TERMS, lens.vector, strict=True)
            },
        },
        "poses": [
            _pose(camera, photo) for camera, photo in zip(scene.cameras, photos, strict=True)
        ],
    }


def _pose(camera: Camera, photo: Photo) -> Record:
    rotation = camera.camera_from_mat.rotation
    turn = np.asarray(cv2.Rodrigues(rotation)[0], dtype=np.float64)
    straight_down = -rotation[2, 2]  # the axis looks along -z of the mat when there is no tilt
    return {
        "photo": photo.name,
        "position": _numbers(camera.centre, MM),
        "height_above_mat": _rounded(float(camera.centre[2]), MM),
        "tilt_deg": _rounded(float(np.degrees(np.arccos(np.clip(straight_down, -1, 1)))), 3),
        "camera_from_mat": {
            "rotation_vector": _numbers(turn.ravel(), 8),
            "translation": _numbers(camera.camera_from_mat.translation, MM),
        },
    }


def _panel(placed: PlacedPanel) -> Record:
    corner = placed.mat_from_panel
    heading = np.degrees(np.arctan2(corner.rotation[1, 0], corner.rotation[0, 0]))
    middle = placed.to_mat(np.array([[placed.panel.width / 2, placed.panel.height / 2]]))[0]
    return {
        "name": placed.panel.name,
        "centre": _numbers(middle, MM),
        "heading_deg": _rounded(float(heading), 4),
        "print_scale": _numbers((placed.scale.x, placed.scale.y), 6),
        "print_scale_read": placed.scale.read,
        "points": int(placed.points),
        "rms_px": _rounded(placed.rms, PX),
    }


def _rounded(value: float | None, digits: int) -> float | None:
    """None where there is no number; never -0.0."""
    if value is None or not np.isfinite(value):
        return None
    return round(float(value), digits) + 0.0


def _numbers(values: Sequence[float] | NDArray[np.float64], digits: int) -> list[float | None]:
    return [_rounded(float(v), digits) for v in values]


def _text(value: Any, indent: str) -> str:
    deeper = indent + "  "
    if isinstance(value, dict) and value:
        rows = (f"{deeper}{json.dumps(k)}: {_text(v, deeper)}" for k, v in value.items())
        return "{\n" + ",\n".join(rows) + f"\n{indent}}}"
    if isinstance(value, list) and any(isinstance(v, dict | list) for v in value):
        return "[\n" + ",\n".join(deeper + _text(v, deeper) for v in value) + f"\n{indent}]"
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
