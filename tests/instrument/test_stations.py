"""Named widths against an outline drawn for the purpose, whose widths are known."""

import numpy as np
import shapely

from profiler.instrument.stations import Station, find_stations

HEAD, STEM, BUTTON = 60.0, 6.0, 16.0


def with_tuners(slip: int) -> tuple[np.ndarray, np.ndarray]:
    """Outline and labels of a body with neck, head and one tuner a side.

    Args:
        slip: points of each tuner's stem that are told as headstock.
    """
    head = shapely.box(500, -HEAD / 2, 600, HEAD / 2)
    shape = shapely.union_all(
        [shapely.box(0, -100, 300, 100), shapely.box(290, -20, 510, 20), head]
    )
    for side in (-1, 1):
        stem = shapely.box(550 - STEM / 2, 0, 550 + STEM / 2, 45)
        button = shapely.box(550 - BUTTON / 2, 40, 550 + BUTTON / 2, 55)
        shape = shape.union(shapely.affinity.scale(stem.union(button), 1, side, origin=(0, 0)))
    ring = shapely.LinearRing(shape.exterior)
    at = np.arange(0, ring.length, 1.0)
    outline = shapely.get_coordinates(ring.interpolate(at))
    x, y = outline.T
    labels = np.where(x < 300, "body", np.where(x < 500, "neck", "headstock")).astype("<U9")
    beside = np.abs(x - 550) < BUTTON / 2 + 1
    labels[beside & (np.abs(y) > HEAD / 2 + slip + 0.5)] = "tuners"
    return outline, labels


def test_the_headstock_is_as_wide_as_its_sides_and_not_as_a_tuner_s_stem() -> None:
    """Where stem and side part is told to a few points: those are no side of the headstock."""
    for slip in (0, 2, 4):
        station = find_stations(*with_tuners(slip), join=300.0, nut=500.0)["headstock"]
        assert isinstance(station, Station)
        assert abs(station.width - HEAD) < 0.1, slip
