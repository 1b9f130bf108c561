"""Made-up jobs by the hundred: a drawn outline of random proportions, a record, a small photo.

Nothing is measured and no person or maker exists.
"""

from __future__ import annotations

import io
import json
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image

from profiler.archive.files import digest
from profiler.archive.intake import Job, KeptFile, job_from_bytes
from profiler.instrument.record import Measurement, Quantity
from profiler.jobs.reading import JobNotes
from profiler.jobs.results import measurement_record, record_bytes
from tests.made_up import made_up_measurement, made_up_photo, made_up_scene

Array = NDArray[np.float64]


def outline(rng: np.random.Generator, step_mm: float = 3.0) -> Array:
    """(N, 2) mm: body with waist, neck and head of random sizes; tail at x = 0, anticlockwise."""
    body = rng.uniform(230, 520)
    lower, upper = rng.uniform(0.30, 0.42) * body, rng.uniform(0.22, 0.33) * body
    waist = rng.uniform(0.62, 0.95) * upper
    places = np.array([0.0, 0.06, 0.28, 0.58, 0.8, 0.95, 1.0]) * body
    halves = np.array([0.0, 0.6 * lower, lower, waist, upper, 0.6 * upper, 0.0]) / 1.0
    x = np.linspace(0, body, 140)
    half = np.interp(x, places, halves)
    half = np.convolve(np.pad(half, 6, mode="edge"), np.ones(13) / 13, "valid")
    half[[0, -1]] = 0.5
    outer = np.vstack([np.column_stack([x, -half]), np.column_stack([x[::-1], half[::-1]])])
    neck, nut = rng.uniform(150, 420), rng.uniform(15, 22)
    head, wide = rng.uniform(90, 180), rng.uniform(24, 42)
    stem = [(body - 20, -28), (body + neck, -nut), (body + neck, nut), (body - 20, 28)]
    end = body + neck + head
    top = [
        (body + neck - 2, -nut), (body + neck + 18, -wide), (end - 9, -wide * 0.8), (end, 0),
        (end - 9, wide * 0.9), (body + neck + 18, wide), (body + neck - 2, nut),
    ]  # fmt: skip
    whole = shapely.union_all([shapely.Polygon(p).buffer(0.3) for p in (outer, stem, top)])
    ring = whole.exterior.simplify(0.02).segmentize(step_mm)
    points = np.asarray(ring.coords)[:-1]
    if not shapely.LinearRing(points).is_ccw:
        points = points[::-1]
    return np.asarray(points - [points[:, 0].min(), 0.0])


def measured(points: Array, u95: float = 0.5) -> Measurement:
    """A measurement of such an outline."""
    like = made_up_measurement()
    length, width = np.ptp(points, axis=0)
    return replace(
        like,
        outline=points,
        outline_u95=np.full(len(points), u95),
        outline_part=("body",) * len(points),
        doubtful=(),
        length=Quantity(float(length), 0.4),
        width=Quantity(float(width), 0.3),
        box=(Quantity(float(length), 0.4), Quantity(float(width), 0.3)),
        area=Quantity(float(shapely.Polygon(points).area), 300.0),
    )


_SCENE: list[Any] = []


def raw(measurement: Measurement, photo: bytes, name: str = "", customer: str = "") -> bytes:
    """measurement.json for it."""
    if not _SCENE:
        _SCENE.extend([made_up_scene(), made_up_photo()])
    scene, like = _SCENE
    seen = replace(like, sha256=digest(photo))
    record = measurement_record(measurement, scene, [seen], JobNotes(name, customer), ["mat.json"])
    return record_bytes(record)


def photo_bytes(seed: int, size: int = 24) -> bytes:
    """A tiny JPEG that no other seed gives."""
    rng = np.random.default_rng(seed)
    picture = Image.fromarray(rng.integers(0, 255, (size, size, 3), dtype=np.uint8))
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=95)
    return out.getvalue()


def job(seed: int, name: str = "", customer: str = "", photo: bytes | None = None) -> Job:
    """A job with one photo and a mat record; the same seed gives the same bytes."""
    data = photo_bytes(seed) if photo is None else photo
    text = raw(measured(outline(np.random.default_rng(seed))), data, name, customer)
    mat = json.dumps({"format": "profiler mat", "seed": 1}).encode()
    files = (
        KeptFile("photo", "top-1.jpg", digest(data), data),
        KeptFile("mat", "mat.json", digest(mat), mat),
    )
    return job_from_bytes(text, Path("measurement.json"), files)


def folder(path: Path, seed: int, name: str = "", customer: str = "") -> Path:
    """A job folder as `profiler measure` leaves it, the photo and the mat's record beside it."""
    made = job(seed, name, customer)
    path.mkdir(parents=True)
    (path / "measurement.json").write_bytes(made.raw)
    for file in made.files:
        (path.parent / file.name).write_bytes(file.data or b"")
    return path


@lru_cache(maxsize=8)
def _pattern(shape: int) -> Job:
    return job(shape, "name-here", "customer-here", b"photo-here")


def quick_job(seed: int) -> Job:
    """Like `job` with a name for each seed, in a millisecond; six outlines in turn."""
    pattern = _pattern(seed % 6)
    photo = photo_like(seed)
    text = pattern.raw.decode()
    for old, new in (
        ("name-here", f"No. {seed}"),
        ("customer-here", f"Customer {seed}"),
        (digest(b"photo-here"), digest(photo)),
    ):
        text = text.replace(old, new)
    record = {**pattern.record, "job": {"name": f"No. {seed}", "customer": f"Customer {seed}"}}
    files = (KeptFile("photo", "top-1.jpg", digest(photo), photo), *pattern.files[1:])
    notes = JobNotes(f"No. {seed}", f"Customer {seed}")
    return Job(text.encode(), record, pattern.measurement, notes, files)


def photo_like(seed: int) -> bytes:
    """Bytes that no other seed gives; no picture, but as large as a small one."""
    return f"photo {seed} ".encode() * 3000
