"""Lens records: what a calibration found out about one phone's camera, as a file.

calib/README.md explains the format for the people who open one.
"""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from profiler.errors import InputError
from profiler.jobs.records import why_not_json
from profiler.optics.lens import LENS_TERMS, Lens
from profiler.scene.priors import FOCUS_U
from profiler.scene.record import LensPrior

Array = NDArray[np.float64]

FORMAT = "profiler lens"
VERSION = 1
#: two photos have the same shape if their sides agree to this part (a resize rounds to pixels)
SAME_SHAPE = 0.003
#: 35 mm equivalents that differ by more belong to two cameras of the same phone, mm
SAME_F35_MM = 1.0

#: A calibration's own uncertainties are optimistic: in a published example the spread between data
#: sets of one lens was 2 to 3 times the formal one (mrcal documentation, cross-validation).
FORMAL_FACTOR = 2.5
#: Stabilisation shifts the lens or the sensor by a few hundredths of a millimetre during a photo:
#: this part of the frame's diagonal (15 px in 12 Mpx).
STABILISATION_U = 0.003

KEYS = {
    "phone": "make and model as in EXIF; f35: 35 mm equivalent, tells its cameras apart",
    "photo": "size in px and the way of turning that the terms refer to",
    "terms": "f, cx, cy in px (pixel 0, 0 is the centre of the top left one); aspect is fy over f; "
    "k1, k2, k3 radial and p1, p2 tangential distortion as in OpenCV",
    "u": "standard uncertainty of each term, from the residuals; 0 means held",
    "correlation": "of the terms, in the order of 'terms', or null",
    "rms_px": "root mean square distance between seen and predicted points",
    "coverage": "cells: part of a grid over the frame that holds points; corners: of 4, reached",
    "made": "when and by what; sources: the photos with their SHA-256",
}


@dataclass(frozen=True)
class LensRecord:
    """A calibrated lens with its provenance.

    Attributes:
        make, model: as in EXIF, '' where unknown.
        f35: EXIF 35 mm equivalent, which tells the cameras of one phone apart; None if unknown.
        lens: for the photo size that was calibrated, sensor orientation.
        u: (9,) standard uncertainty of the terms, in the order of `LENS_TERMS`; 0 where held.
        correlation: (9, 9) or None.
        rms_px: root mean square distance between seen and predicted points.
        photos, points: how many were used.
        coverage: part of the frame's cells that hold points, 0 to 1.
        corners: how many of the frame's four corners were reached.
        verdict: in plain words.
        name: what the user calls it.
        target: what was photographed.
        date: of the newest photo, as 2026-11-25.
        program: name and version of the program that made it.
        sources: (file name, SHA-256) of each photo.
        notes: anything a reader should know, as a licence.
    """

    make: str
    model: str
    f35: float | None
    lens: Lens
    u: Array
    rms_px: float
    photos: int
    points: int
    coverage: float
    corners: int
    correlation: Array | None = None
    verdict: str = ""
    name: str = ""
    target: str = ""
    date: str = ""
    program: str = ""
    sources: tuple[tuple[str, str], ...] = field(default=())
    notes: str = ""

    @property
    def phone(self) -> str:
        """For messages."""
        return " ".join(p for p in (self.make, self.model) if p) or "an unnamed camera"

    def prior(self, width: int, height: int) -> LensPrior:
        """What the record lets one believe of a new photo's lens.

        The stated uncertainties are widened by `FORMAL_FACTOR`, and the focal length and principal
        point by what may have changed since: phones move the lens to focus (half a percent from
        infinity to 1 m; the record does not say where it was focused) and to stabilise
        (`STABILISATION_U`). A record is where a photo's own solution starts, not the truth.

        Args:
            width, height: of the new photo, sensor orientation, px.
        """
        lens = self.lens.scaled(width, height)
        scale = width / self.lens.width
        sigma = self.u * FORMAL_FACTOR
        diagonal = math.hypot(width, height)
        for term in ("f", "cx", "cy"):
            sigma[LENS_TERMS.index(term)] *= scale
        moves = {
            "f": FOCUS_U * lens.f,
            "cx": STABILISATION_U * diagonal,
            "cy": STABILISATION_U * diagonal,
        }
        for term, allowance in moves.items():
            at = LENS_TERMS.index(term)
            sigma[at] = math.hypot(sigma[at], allowance)
        return LensPrior(lens, sigma, "record")


def lens_text(record: LensRecord) -> str:
    """The record as JSON with its keys explained; the same record gives the same text."""
    lens = record.lens
    data = {
        "format": FORMAT,
        "version": VERSION,
        "about": "A phone's lens as 'profiler calibrate' found it. Format: calib/README.md.",
        "keys": KEYS,
        "name": record.name,
        "phone": {
            "make": record.make,
            "model": record.model,
            "f35": record.f35 and float(record.f35),
        },
        "photo": {
            "width": lens.width,
            "height": lens.height,
            "orientation": "as the sensor reads it, before EXIF orientation turns the picture",
        },
        "terms": {n: float(f"{v:.10g}") for n, v in zip(LENS_TERMS, lens.vector, strict=True)},
        "u": {n: float(f"{v:.4g}") for n, v in zip(LENS_TERMS, record.u, strict=True)},
        "correlation": None if record.correlation is None else np.round(record.correlation, 4),
        "rms_px": round(record.rms_px, 4),
        "photos": record.photos,
        "points": record.points,
        "coverage": {"cells": round(record.coverage, 3), "corners": record.corners},
        "verdict": record.verdict,
        "made": {
            "date": record.date,
            "program": record.program,
            "target": record.target,
            "sources": [{"file": f, "sha256": digest} for f, digest in record.sources],
        },
        "notes": record.notes,
    }
    return _rows_on_lines(json.dumps(data, indent=2, ensure_ascii=False, default=_plain)) + "\n"


def _plain(value: Any) -> Any:
    return value.tolist()


def _rows_on_lines(text: str) -> str:
    """Put each list of numbers on one line, so that a matrix reads as one."""
    return re.sub(r"\[\s+([-\d.e,\s]+?)\s+\]", lambda m: f"[{' '.join(m[1].split())}]", text)


def read_lens(path: Path) -> LensRecord:
    """Read a lens record.

    Raises:
        InputError: the file is missing, is something else, or holds impossible numbers.
    """
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(
            f"The lens record {path} cannot be read: {error.strerror or error}."
        ) from error
    except (ValueError, RecursionError) as error:
        raise InputError(
            f"{path} is not a lens record: {why_not_json(error)}."
            " Make one with 'profiler calibrate'."
        ) from error
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise InputError(
            f'{path} is not a lens record: it does not say "format": "{FORMAT}".'
            " Make one with 'profiler calibrate'."
        )
    if data.get("version") != VERSION:
        raise InputError(
            f"The lens record {path} has version {data.get('version')}; this program reads version"
            f" {VERSION}. Make it again with 'profiler calibrate', or use a newer program."
        )
    try:
        record = _record(data)
    except KeyError as error:
        raise InputError(
            f"The lens record {path} lacks {error}. Make it again with 'profiler calibrate'."
        ) from error
    except (TypeError, ValueError, AttributeError, OverflowError) as error:
        raise InputError(
            f"The lens record {path} holds something it cannot: {error}."
            " Make it again with 'profiler calibrate'."
        ) from error
    _check(record, path)
    return record


def _record(data: dict[str, Any]) -> LensRecord:
    phone, made = data.get("phone") or {}, data.get("made") or {}
    coverage = data.get("coverage") or {}
    lens = Lens(int(data["photo"]["width"]), int(data["photo"]["height"]), 1.0, 0.0, 0.0)
    lens = lens.with_vector(np.array([float(data["terms"][name]) for name in LENS_TERMS]))
    correlation = data.get("correlation")
    f35 = phone.get("f35")
    return LensRecord(
        make=str(phone.get("make") or ""),
        model=str(phone.get("model") or ""),
        f35=None if f35 is None else float(f35),
        lens=lens,
        u=np.array([float(data["u"][name]) for name in LENS_TERMS]),
        rms_px=float(data.get("rms_px", math.nan)),
        photos=int(data.get("photos", 0)),
        points=int(data.get("points", 0)),
        coverage=float(coverage.get("cells", math.nan)),
        corners=int(coverage.get("corners", 0)),
        correlation=None if correlation is None else np.array(correlation, dtype=np.float64),
        verdict=str(data.get("verdict", "")),
        name=str(data.get("name", "")),
        target=str(made.get("target", "")),
        date=str(made.get("date", "")),
        program=str(made.get("program", "")),
        sources=tuple((str(s["file"]), str(s["sha256"])) for s in made.get("sources", [])),
        notes=str(data.get("notes", "")),
    )


def _check(record: LensRecord, path: Path) -> None:
    lens = record.lens
    long_side = max(lens.width, lens.height)
    wrong = ""
    if min(lens.width, lens.height) < 16:
        wrong = f"a photo of {lens.width} x {lens.height} px"
    elif not np.isfinite(lens.vector).all():
        wrong = "a term that is not a number"
    elif not 0.2 * long_side < lens.f < 20 * long_side:
        wrong = f"a focal length of {lens.f:g} px for {lens.width} x {lens.height} px"
    elif not 0.5 < lens.aspect < 2:
        wrong = f"an aspect of {lens.aspect:g}"
    elif not (0 <= lens.cx < lens.width and 0 <= lens.cy < lens.height):
        wrong = f"a principal point outside the photo, at {lens.cx:g}, {lens.cy:g}"
    elif not (np.isfinite(record.u).all() and (record.u >= 0).all()):
        wrong = "an uncertainty that is negative or not a number"
    if wrong:
        raise InputError(
            f"The lens record {path} holds {wrong}: that cannot be."
            " Make it again with 'profiler calibrate'."
        )


def mismatch(
    record: LensRecord, make: str, model: str, f35: float | None, width: int, height: int
) -> str:
    """Why a record does not fit a photo, as the end of a sentence; '' if it fits.

    What one side does not say is taken to fit. The same shape in another size fits.
    """
    for mine, theirs in ((record.make, make), (record.model, model)):
        if mine and theirs and _folded(mine) != _folded(theirs):
            return f"it is of {record.phone}, the photo of {make} {model}".rstrip()
    if record.f35 and f35 and abs(record.f35 - f35) > SAME_F35_MM:
        return (
            f"it is of the phone's {record.f35:g} mm camera, the photo of the {f35:g} mm one"
            " (35 mm equivalents)"
        )
    lens = record.lens
    if abs(width * lens.height / (height * lens.width) - 1) > SAME_SHAPE:
        return (
            f"it is for {lens.width} x {lens.height} px, and the photo's {width} x {height} px"
            " have another shape"
        )
    return ""


def _folded(text: str) -> str:
    return " ".join(text.split()).casefold()
