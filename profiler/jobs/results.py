"""`measurement.json`: what was measured, with where it came from. The schema lies beside this file.

The same measurement gives the same bytes: fixed order of keys, fixed rounding, no date, no paths.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from importlib import resources
from typing import Any

import cv2
import numpy as np

from profiler import __version__
from profiler.instrument.record import Measurement
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
from profiler.jobs.rendering import (
    MM,
    numbers,
    quantity_record,
    record_bytes,
    rounded,
    warning_record,
)
from profiler.jobs.sections import headstock_from_record, sections_from_record
from profiler.jobs.side import side_record
from profiler.optics.camera import Camera
from profiler.optics.lens import LENS_TERMS
from profiler.scene.record import PlacedPanel, Scene
from profiler.target.card import THICKNESS_MM

__all__ = [
    "FORMAT",
    "MEASUREMENT_NAME",
    "VERSION",
    "JobNotes",
    "MeasurementFileError",
    "headstock_from_record",
    "measurement_from_record",
    "measurement_record",
    "notes_from_record",
    "read_measurement",
    "read_record",
    "record_bytes",
    "schema",
    "sections_from_record",
]

Record = dict[str, Any]

#: decimals of mm in the outline and of px
OUTLINE_MM, PX = 3, 4
#: how truly a card lies on what it lies on, standard: mm, and slope
CARD_LIES_MM, CARD_LIES_SLOPE = 0.3, 0.006
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
    card_thickness: float = THICKNESS_MM,
) -> Record:
    """Everything that `measurement.json` holds.

    Args:
        measurement: of the instrument.
        scene: that it was measured in.
        photos: in the order of the scene's cameras.
        notes: of the user.
        used: names of the mat, cards and lens records that were used, without folders.
        card_thickness: mm, from what a card lies on up to its printed face.
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
            "length": quantity_record(measurement.length),
            "width": quantity_record(measurement.width),
            "height": quantity_record(measurement.height),
        },
        "widths": {name: quantity_record(q, with_x=True) for name, q in measurement.widths.items()},
        "box": {
            "length": quantity_record(measurement.box[0]),
            "width": quantity_record(measurement.box[1]),
        },
        "area": quantity_record(measurement.area),
        "budget": _budget(measurement),
        "symmetric": measurement.symmetric,
        "heights": [
            {"part": h.part, **quantity_record(h.height, with_x=True), "source": h.source}
            for h in measurement.heights
        ],
        **({"side_view": side_record(measurement.side)} if measurement.side else {}),
        "warnings": [warning_record(f) for f in measurement.findings],
        "photos": [_photo(p) for p in photos],
        "records_used": list(used),
        "camera": _camera(scene, photos),
        "frame": {
            "angle_rad": rounded(measurement.frame.angle, 8),
            "origin": numbers(measurement.frame.origin, MM),
        },
        "sheets": [_panel(p) for p in scene.sheets],
        "cards": _cards(scene, measurement, card_thickness),
        "doubtful": [
            {"start": int(s.start), "end": int(s.end), "reason": s.reason}
            for s in measurement.doubtful
        ],
        "outline": [numbers(point, OUTLINE_MM) for point in measurement.outline],
        "outline_u95": numbers(measurement.outline_u95, OUTLINE_MM),
        "outline_part": list(map(str, measurement.outline_part)),
    }


def schema() -> Record:
    """The JSON Schema (draft 2020-12) of `measurement.json`."""
    text = resources.files("profiler.jobs").joinpath("measurement.schema.json").read_text("utf-8")
    loaded: Record = json.loads(text)
    return loaded


def _budget(measurement: Measurement) -> Record:
    """What the u95 of each number is made of; those squared add up to its u95 squared."""
    numbers = {"length": measurement.length, "width": measurement.width, **measurement.widths}
    return {
        name: [{"source": source, "u95": rounded(u95, MM)} for source, u95 in q.budget]
        for name, q in numbers.items()
        if q.budget
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
        "rms_px": rounded(scene.rms, PX),
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
        "position": numbers(camera.centre, MM),
        "height_above_mat": rounded(float(camera.centre[2]), MM),
        "tilt_deg": rounded(float(np.degrees(np.arccos(np.clip(straight_down, -1, 1)))), 3),
        "camera_from_mat": {
            "rotation_vector": numbers(turn.ravel(), 8),
            "translation": numbers(camera.camera_from_mat.translation, MM),
        },
    }


def _panel(placed: PlacedPanel) -> Record:
    corner = placed.mat_from_panel
    heading = np.degrees(np.arctan2(corner.rotation[1, 0], corner.rotation[0, 0]))
    middle = placed.to_mat(np.array([[placed.panel.width / 2, placed.panel.height / 2]]))[0]
    return {
        "name": placed.panel.name,
        "centre": numbers(middle, MM),
        "heading_deg": rounded(float(heading), 4),
        "print_scale": numbers((placed.scale.x, placed.scale.y), 6),
        "print_scale_read": placed.scale.read,
        "points": int(placed.points),
        "rms_px": rounded(placed.rms, PX),
    }


def _cards(scene: Scene, measurement: Measurement, thickness: float) -> list[Record]:
    """Each card with the plane that it lies on, in the instrument's frame."""
    # rooms that take long to load and that nobody needs before: see pipeline/ahead.py
    from profiler.outline.heights import place_cards
    from profiler.outline.spread import SCENE_FACTOR

    rows = []
    placed = place_cards(scene, measurement.frame, thickness)
    for card, place in zip(scene.cards, placed, strict=True):
        height, slope = np.sqrt(np.maximum(np.diag(place.covariance), 0.0)) * SCENE_FACTOR
        plane = {
            "x": rounded(place.x, MM),
            "y": rounded(place.y, MM),
            "z": rounded(place.z, MM),
            "slope": rounded(place.slope_x, 6),
            "u95_z": rounded(2 * math.hypot(height, place.by_lens, CARD_LIES_MM), MM),
            "u95_slope": rounded(2 * float(np.hypot(slope, CARD_LIES_SLOPE)), 6),
        }
        rows.append({**_panel(card), "plane": plane})
    return rows
