"""Named widths against an outline drawn for the purpose, whose widths are known."""

import pytest

from profiler.instrument.stations import Station, find_stations
from tests.drawn import HEAD, Tuner, drawn_instrument


@pytest.mark.parametrize("slip", [0, 2, 4])
def test_the_headstock_is_as_wide_as_its_sides_and_not_as_a_tuner_s_stem(slip: int) -> None:
    """Where stem and side part is told to a few points: those are no side of the headstock."""
    drawn = drawn_instrument([Tuner(550, 1), Tuner(550, -1)], slip)
    station = find_stations(*drawn, join=300.0, nut=500.0)["headstock"]
    assert isinstance(station, Station)
    assert station.width == pytest.approx(HEAD, abs=0.1)
