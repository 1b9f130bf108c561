"""What is said of a strap button that no photo shows."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from profiler.findings import Level
from profiler.geometry.frames import Frame2D
from profiler.instrument.propagation import less_certain
from profiler.instrument.record import Measurement, PartHeight, Quantity
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import Lens
from profiler.pipeline.unseen import (
    HIDDEN_BUTTON,
    button_is_seen,
    hidden_button,
    unseen,
    with_hidden_button,
)


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
    told = unseen(7.7, 1)
    assert "up to 8 mm short" in told.message and told.level is Level.CAUTION
    assert "there is none" in unseen(0.0, 1).message
    seen = unseen(None, 1).message
    assert "short" not in seen and "bulges" in seen
    aside = unseen(0.0, 1, "side-2.jpg")
    assert "seen at the tail in side-2.jpg" in aside.message and aside.level is Level.NOTE


def test_what_stands_out_at_the_rim_is_no_strap_button() -> None:
    """A saddle is as high as the rim; an end button stands well below it; what is only assumed
    tells neither."""

    def at(z: float, source: str) -> Measurement:
        made: Any = measurement(("body", "button"))
        made.heights = (*made.heights, PartHeight("button", Quantity(z, 1.0), source))
        return cast(Measurement, made)

    assert not button_is_seen(at(101.0, "seen from several places"))
    assert button_is_seen(at(60.0, "seen from several places"))
    assert button_is_seen(at(101.0, "assumed a little below the rim"))
    assert not button_is_seen(measurement())


def test_the_length_is_as_uncertain_as_what_may_be_hidden() -> None:
    """Sources add in squares (JCGM 100:2008, 5.1.2): 3 and 4 make 5."""
    length = Quantity(600.0, 3.0, mostly="the lens", budget=(("the lens", 3.0),))
    made: Any = Measurement(
        np.zeros((3, 2)), np.zeros(3), (), (), length, length, length, {}, (length, length),
        length, (), Frame2D(0.0, (0.0, 0.0)), True,
    )  # fmt: skip
    wider = with_hidden_button(made, 4.0)
    assert wider.length.u95 == pytest.approx(5.0) == wider.box[0].u95
    assert wider.length.mostly == HIDDEN_BUTTON and wider.length.budget[0] == (HIDDEN_BUTTON, 4.0)
    assert wider.width == wider.box[1] == length
    assert with_hidden_button(made, 0.5) is made


def test_what_was_known_before_stays_in_a_less_certain_number() -> None:
    """Whether or not its budget was worked out."""
    for before in (Quantity(100.0, 2.0), Quantity(100.0, 2.0, budget=(("the lens", 2.0),))):
        after = less_certain(before, "a source", 1.5)
        assert after.u95 == pytest.approx(2.5)
        assert [u95 for _, u95 in after.budget] == [2.0, 1.5]
