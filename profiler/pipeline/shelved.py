"""Printing again from the archive, without the photos."""

from __future__ import annotations

from profiler.instrument.record import Measurement
from profiler.jobs.reading import Record
from profiler.pipeline.summary import Provenance, summary_pdf
from profiler.pipeline.wording import Wording


def summary_again(measurement: Measurement, record: Record, wording: Wording) -> bytes:
    """The summary page from what the measurement says of its photos and camera."""
    photos = [p for p in record.get("photos", []) if isinstance(p, dict)]
    names = tuple(str(p.get("name", "")) for p in photos)
    digest = str(photos[0].get("sha256", ""))[:12] if photos else ""
    return summary_pdf(measurement, Provenance(names, digest, _camera(record)), wording)


def _camera(record: Record) -> str:
    """One sentence, of what is there."""
    camera = record.get("camera")
    if not isinstance(camera, dict):
        return "Printed again from the archive."
    poses = camera.get("poses")
    height = poses[0].get("height_above_mat") if isinstance(poses, list) and poses else None
    said = []
    if isinstance(height, int | float):
        said.append(f"camera {height:.0f} mm above the mat")
    points, rms = camera.get("points"), camera.get("rms_px")
    if isinstance(points, int) and isinstance(rms, int | float):
        set_aside = camera.get("set_aside")
        used = points - set_aside if isinstance(set_aside, int) else points
        said.append(f"{used} printed points agree to {rms:.2f} px")
    return f"Printed again from the archive: {'; '.join(said)}."
