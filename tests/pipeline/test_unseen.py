"""What is said of a strap button that no photo shows."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from profiler.geometry.frames import Frame2D
from profiler.instrument.record import Measurement, PartHeight, Quantity
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.pipeline.unseen import hidden_button, unseen


def measurement(parts: tuple[str, ...] = ("body",), rim: float = 100.0) -> Measurement:
    height = PartHeight("body", Quantity(rim, 0.5), "card 1")
    made: Any = SimpleNamespace(
        heights=(height,), outline_part=parts, frame=Frame2D(0.0, (10.0, 0.0))
    )
    return cast(Measurement, made)


def camera(x: float) -> Camera:
    turn = np.diag([1.0, -1.0, -1.0])
    return Camera(Lens(4000, 3000, 3000.0, 1999.5, 1499.5), Pose(turn, -turn @ [x, 0, 1100.0]))


def test_what_is_hidden_follows_the_line_of_sight() -> None:
    """110 mm inward of the tail and 1000 mm over the rim: 70 mm down, 7.7 mm out."""
    assert hidden_button(measurement(), [camera(120.0)]) == pytest.approx(0.11 * 70)
    assert hidden_button(measurement(), [camera(900.0)]) == 15.0
    assert hidden_button(measurement(), [camera(900.0), camera(10.0)]) == 0.0


def test_it_is_told_in_millimetres_and_only_where_it_may_be() -> None:
    assert "up to 8 mm short" in unseen(measurement(), [camera(120.0)]).message
    assert "there is none" in unseen(measurement(), [camera(0.0)]).message
    seen = unseen(measurement(("body", "button")), [camera(120.0)]).message
    assert "short" not in seen and "bulges" in seen
