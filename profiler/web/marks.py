"""What is wrong, marked at its place on the page's picture."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from profiler.errors import Places, ProfilerError
from profiler.findings import Finding
from profiler.geometry.curves import runs_of
from profiler.instrument.record import Measurement
from profiler.pipeline.overlay_view import View
from profiler.scene.record import Scene
from profiler.silhouette.edge import Edge
from profiler.units import PARTS
from profiler.web.wording import for_page

Array = NDArray[np.float64]

PX = 1
#: a stretch of fewer points is none
_LEAST_RUN = 2


@dataclass(frozen=True)
class Lines:
    """Rings round what is meant, or stretches of the edge."""

    points: list[list[list[float]]]
    closed: bool


def problem_marks(view: View, error: ProfilerError) -> list[dict[str, Any]]:
    """The mark of a refusal; none where it cannot be pointed at."""
    if not error.places:
        return []
    return [_told("stop", None, str(error), Lines(_rings(view, error.places), True))]


def finding_marks(
    view: View, scene: Scene, findings: Iterable[Finding], measurement: Measurement, edge: Edge
) -> list[dict[str, Any]]:
    """A mark for each finding that has a place: its own rings, a card, a sheet, a part's edge."""
    marks = []
    for finding in findings:
        lines = _lines_of(view, scene, finding, measurement, edge)
        if lines is not None:
            marks.append(_told(finding.level.value, finding.code, finding.message, lines))
    return marks


def _lines_of(
    view: View, scene: Scene, finding: Finding, measurement: Measurement, edge: Edge
) -> Lines | None:
    if finding.places:
        return Lines(_rings(view, finding.places), True)
    for sheet in (*scene.cards, *scene.sheets):
        if sheet.panel.name == finding.where:
            return Lines([_points(view.from_mat(sheet.corners))], True)
    if finding.where not in PARTS:
        return None
    z = {h.part: h.height.value or 0.0 for h in measurement.heights}.get(finding.where, 0.0)
    mine = np.array([part == finding.where for part in measurement.outline_part])
    plan = measurement.frame.to_mat(measurement.outline)
    places = view.from_mat(np.column_stack([plan, np.full(len(plan), z)]))
    runs = [_points(places[run]) for run in runs_of(mine) if len(run) >= _LEAST_RUN]
    return Lines(runs, False) if runs else None


def _rings(view: View, places: Places) -> list[list[list[float]]]:
    """Places of the photo as they lie in the picture."""
    lens = view.camera.lens
    return [
        _points(view.turned(view.pinhole.project(lens.unproject(np.array(ring, dtype=np.float64)))))
        for ring in places
    ]


def _points(points: Array) -> list[list[float]]:
    return [[round(float(x), PX), round(float(y), PX)] for x, y in points]


def _told(level: str, code: int | None, message: str, lines: Lines) -> dict[str, Any]:
    return {
        "level": level,
        "code": code,
        "message": for_page(message),
        "lines": lines.points,
        "closed": lines.closed,
    }
