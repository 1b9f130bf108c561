"""A section from a photo: the same call as `profiler section --gauge`, in the measuring process."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from profiler.instrument.sections import Section
from profiler.jobs.reading import measurement_from_record, read_record
from profiler.jobs.sections import face_planes
from profiler.pipeline.section import Typed, place_on, station
from profiler.pipeline.traced import TracedWishes, section_from_photo

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class GaugeOrder:
    """What is to be read; plain values, for another process.

    Attributes:
        job: its folder.
        photo: in it, beside the records of mat and cards.
        at: mm, or a station's name; from the nut with `from_nut`.
        name: of the section, '' for the usual.
        width, face_height: typed, None for what the job knows.
        depth, needle_height, tips, pitch, flush, is_gauge, from_head, accept_crop: as in
            `TracedWishes`.
    """

    job: Path
    photo: Path
    at: str | float
    from_nut: bool = False
    name: str = ""
    width: Typed | None = None
    face_height: Typed | None = None
    depth: Typed | None = None
    needle_height: Typed | None = None
    tips: str = "round"
    pitch: float | None = None
    flush: bool = False
    is_gauge: bool = True
    from_head: bool = False
    accept_crop: bool = False


def from_photo(progress: Progress, order: GaugeOrder) -> Section:
    """Read the curve in the photo.

    Raises:
        ProfilerError: anything that the user can put right.
    """
    record = read_record(order.job)
    measurement = measurement_from_record(record)
    place = place_on(
        measurement,
        face_planes(record),
        station(measurement, order.at, order.from_nut),
        order.name,
        order.width,
        order.face_height,
    )
    wishes = TracedWishes(
        order.photo,
        order.is_gauge,
        width_typed=order.width is not None,
        depth=order.depth,
        from_head=order.from_head,
        needle_height=order.needle_height,
        tips=order.tips,
        pitch=order.pitch,
        flush=order.flush,
        accept_crop=order.accept_crop,
    )
    return section_from_photo(place, wishes, progress)
