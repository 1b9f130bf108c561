"""Where things are in the page's picture: edge, centreline, stations, cards and sheets."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from profiler.instrument.record import Measurement
from profiler.pipeline.overlay_view import View, instrument_on
from profiler.plates.figures import spoken
from profiler.scene.record import PlacedPanel, Scene
from profiler.silhouette.edge import Edge
from profiler.web.picture import camera_map

Array = NDArray[np.float64]

PX, MM = 2, 3


def seen_record(
    view: View, scene: Scene, measurement: Measurement | None, edge: Edge | None
) -> dict[str, Any]:
    """What the page draws over the photo.

    Args:
        view: of the whole first photo.
        scene: solved.
        measurement, edge: None where the outline could not be measured.
    """
    found: dict[str, Any] = {
        "size": list(view.size),
        "camera": camera_map(view),
        "frame": None,
        "edge": None,
        "centreline": None,
        "stations": [],
        "px_per_mm": None,
        "cards": [_panel(view, card) for card in scene.cards],
        "sheets": [_panel(view, sheet) for sheet in scene.sheets],
    }
    if measurement is None or edge is None:
        return found
    on = instrument_on(view, measurement, edge.pixels)
    found["frame"] = {
        "angle_rad": measurement.frame.angle,
        "origin": [float(v) for v in measurement.frame.origin],
    }
    found["edge"] = _edge(view, measurement, edge, on.outline, on.doubtful)
    found["centreline"] = _points(on.centreline)
    found["px_per_mm"] = round(on.px_per_mm, 4)
    for name, (ends, _) in on.stations.items():
        found["stations"].append(
            {"key": f"width:{name}", "label": spoken(name), "ends": _points(ends)}
        )
    return found


def _edge(
    view: View,
    measurement: Measurement,
    edge: Edge,
    places: Array,
    doubtful: NDArray[np.bool_],
) -> dict[str, Any]:
    heights = {h.part: h.height.value or 0.0 for h in measurement.heights}
    body = heights.get("body", 0.0)
    z = np.array([heights.get(part, body) for part in measurement.outline_part])
    lifted = np.column_stack([measurement.frame.to_mat(measurement.outline), z])
    # the outline's points have no index in the edge: they were framed, cleaned and joined
    _, nearest = cKDTree(view.from_mat(lifted)).query(places)
    drawn = np.zeros(len(places), dtype=bool) if edge.drawn is None else edge.drawn
    how = np.where(drawn, "hand", np.where(edge.measured, "seen", "carried"))
    return {
        "points": _points(places),
        "z": [round(float(v), 2) for v in z[nearest]],
        "u95": [round(float(v), MM) for v in measurement.outline_u95[nearest]],
        "part": [measurement.outline_part[i] for i in nearest],
        "how": [str(v) for v in how],
        "doubtful": [bool(v) for v in doubtful],
    }


def _panel(view: View, placed: PlacedPanel) -> dict[str, Any]:
    return {
        "name": placed.panel.name,
        "corners": _points(view.from_mat(placed.corners)),
        "z": round(float(placed.corners[:, 2].mean()), 2),
    }


def _points(points: Array) -> list[list[float]]:
    return [[round(float(x), PX), round(float(y), PX)] for x, y in points]
