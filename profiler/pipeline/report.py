"""What a person reads of a job: the overlay to check by eye and the one-page summary."""

from __future__ import annotations

from collections.abc import Collection
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from profiler.jobs.results import JobNotes
from profiler.pipeline.job import JobResult
from profiler.pipeline.overlay import draw_overlay
from profiler.pipeline.summary import Provenance, summary_pdf
from profiler.pipeline.wording import Wording
from profiler.scene.record import Scene

OVERLAY_NAME = "overlay.jpg"
SIDE_OVERLAY_NAME = "overlay-side.jpg"
SUMMARY_NAME = "summary.pdf"


def side_overlay_name(k: int) -> str:
    """Of the k-th side view, from 0."""
    return SIDE_OVERLAY_NAME if k == 0 else SIDE_OVERLAY_NAME.replace(".jpg", f"-{k + 1}.jpg")


_SOURCES = {
    "record": "lens from its record, refined in the photo",
    "photo": "lens solved from the photo alone",
    "fixed": "lens held as given",
}


def gone_side_overlays(folder: Path, written: Collection[str]) -> list[Path]:
    """Pictures in a job's folder of photos from the side that it no longer has.

    Args:
        written: names of the files that the measuring wrote.
    """
    return [path for path in folder.glob("overlay-side*.jpg") if path.name not in written]


def report_files(job: JobResult, notes: JobNotes, units: str, inch_step: int) -> dict[str, bytes]:
    """The report as files of the job folder.

    Args:
        job: as it was run.
        notes: for the headings.
        units: 'mm' or 'in', which comes first.
        inch_step: inches are shown to the nearest 1/inch_step.
    """
    first = job.photos[0]
    wording = Wording(notes.name, notes.customer, units, inch_step)
    provenance = Provenance(
        tuple([p.name for p in job.photos] + [side.name for side in job.sides]),
        first.sha256[:12],
        camera_sentence(job.result.scene),
    )
    # the overlay is OpenCV's work and leaves Python's lock to the page
    with ThreadPoolExecutor(max_workers=1) as beside:
        overlay = beside.submit(
            draw_overlay,
            first.pixels,
            job.result.scene,
            job.measurement,
            job.result.edge_pixels,
            first.orientation,
            wording,
            first.name,
        )
        summary = summary_pdf(job.measurement, provenance, wording)
        files = {OVERLAY_NAME: overlay.result(), SUMMARY_NAME: summary}
    if job.sides:
        # a room that most jobs do not need
        from profiler.pipeline.overlay_side import draw_side_overlay

        for k, seen in enumerate(job.result.sides):
            files[side_overlay_name(k)] = draw_side_overlay(seen.photo.pixels, seen, wording)
    return files


def camera_sentence(scene: Scene) -> str:
    """How the camera was found, in one line."""
    source = _SOURCES.get(
        scene.lens_source, f"lens solved from the photo, begun at {scene.lens_source}"
    )
    height = scene.cameras[0].centre[2]
    return (
        f"Camera {height:.0f} mm above the mat; {source};"
        f" {int(scene.used.sum())} printed points agree to {scene.rms:.2f} px."
    )
