"""A gauge on a neck that is askew: the face lies over its back where it is, not where the chord is
that the needles happen to end at."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from profiler.instrument.askew import face_middle
from profiler.instrument.gauge import Tips, back_from_tips
from profiler.instrument.record import Quantity, missing
from profiler.instrument.traced import Known, section_from_back

Array = NDArray[np.float64]
HALF, DEPTH, SIDE = 22.0, 23.0, 5.0


def wood(askew: float, power: float, bow: float) -> Array:
    """(N, 2) a back whose middle goes aside by `askew` on its way down to the lowest place."""
    t = np.sin(np.linspace(-np.pi / 2, np.pi / 2, 2001))
    z = -(DEPTH - SIDE) * (1 - np.abs(t) ** bow) ** (1 / bow)
    y = HALF * t + askew * (-z / (DEPTH - SIDE)) ** power
    return np.column_stack([y, z - SIDE])


def pressed(curve: Array, pitch: float, shift: float) -> Tips:
    """Round needles stopped by that back, the rest well past it."""
    r = 0.93 * pitch / 2
    at = (np.arange(90) - 44.5) * pitch + shift
    ends = np.full(len(at), 4.0)
    for k, u in enumerate(at):
        met = curve[np.abs(curve[:, 0] - u) < r]
        if len(met):
            ends[k] = float((met[:, 1] + r - np.sqrt(r**2 - (met[:, 0] - u) ** 2)).min())
    return Tips(at, ends, ends - 80.0, pitch, 0.03, 0.15, 0.0005)


@pytest.mark.parametrize("power", [1.0, 2.0])
@pytest.mark.parametrize("askew", [-1.5, 1.5])
@pytest.mark.parametrize("bow", [1.7, 2.4])
def test_the_face_is_found_over_an_askew_back(askew: float, power: float, bow: float) -> None:
    curve = wood(askew, power, bow)
    whole = shapely.LineString(np.vstack([[(-HALF, 0.0)], curve, [(HALF, 0.0)]]))
    nothing = missing("not measured")
    errors = []
    for shift in np.linspace(-0.4, 0.4, 5):
        tips = pressed(curve, 1.0, float(shift))
        section = section_from_back(
            back_from_tips(tips, "round", False, "g.jpg"),
            Known("n", 400.0, nothing, False, 0.0, Quantity(DEPTH, 0.1), nothing, True, "gauge",
                  "g.jpg", "0" * 64),
            (),
        )  # fmt: skip
        inner = section.points[np.abs(section.points[:, 0]) < HALF - 1]
        errors.append(np.sqrt((shapely.distance(whole, shapely.points(inner)) ** 2).mean()))
    assert np.mean(errors) < 0.13 and max(errors) < 0.2, errors


def test_an_even_back_is_not_pulled_aside() -> None:
    """Where the needles part lies within its half and half; flanks say it to a tenth."""
    curve = wood(0.0, 1.0, 2.0)[50:-50]
    middle, u = face_middle(curve, 0.0, 0.4, 1.0)
    assert abs(middle) < 0.1 and 0.03 < u < 0.1
