"""Between two sections: laws of what is in between, and refusals."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from profiler.instrument.between import NothingBetween, neighbours, section_between
from profiler.instrument.record import Quantity, missing
from profiler.instrument.sections import Section
from profiler.instrument.shapes import shape_named, typed_section


def neck(word: str, x: float, width: float, depth: float, middle: float = 0.0) -> Section:
    return typed_section(
        f"{word} {x:.0f}", x, shape_named(word), Quantity(width, 0.5), Quantity(depth, 0.3), middle
    )


def apart(one: Section, other: Section) -> float:
    line = shapely.LineString(other.points)
    return float(shapely.distance(line, shapely.points(one.points)).max())


@settings(max_examples=30, deadline=None)
@given(st.floats(301, 499))
def test_the_same_shape_stays_that_shape(x: float) -> None:
    """A cone of ellipses: every cut between two is the ellipse of the sizes between."""
    one, other = neck("round", 300, 46, 24), neck("round", 500, 36, 19)
    share = (x - 300) / 200
    there = section_between(one, other, x, "there")
    expected = neck("round", x, 46 - 10 * share, 24 - 5 * share)
    assert there.width.value == pytest.approx(46 - 10 * share)
    assert there.depth.value == pytest.approx(24 - 5 * share)
    assert apart(there, expected) < 0.12
    assert there.source == "between"


def test_at_the_ends_it_is_the_ends_and_the_order_does_not_matter() -> None:
    one, other = neck("soft V", 300, 46, 24, 0.8), neck("D", 500, 36, 19, -0.2)
    near = section_between(one, other, 300.001, "near")
    assert apart(near, one) < 0.05
    middle = section_between(one, other, 400, "m")
    swapped = section_between(other, one, 400, "m")
    assert np.array_equal(middle.points, swapped.points)
    # between two different shapes nobody knows as much as the two ends say
    far = section_between(one, other, 499.999, "far")
    assert middle.u95.mean() > (near.u95.mean() + far.u95.mean()) / 2 + 0.005


def test_the_outlines_width_is_kept() -> None:
    one, other = neck("round", 300, 46, 24), neck("round", 500, 36, 19)
    there = section_between(one, other, 400, "m", Quantity(43.0, 0.9), 1.5)
    assert there.points[0, 0] == pytest.approx(1.5 - 21.5, abs=1e-6)
    assert there.points[-1, 0] == pytest.approx(1.5 + 21.5, abs=1e-6)


def test_nothing_is_put_beyond_or_beside_what_is_not_known() -> None:
    one, other = neck("round", 300, 46, 24), neck("round", 500, 36, 19)
    with pytest.raises(NothingBetween, match="each side"):
        neighbours([one, other], 520)
    with pytest.raises(NothingBetween, match="does not lie between"):
        section_between(one, other, 520, "m")
    unknown = Section(
        "g", 300, one.points, one.width, missing("a gauge"), one.radius, one.u95, source="gauge"
    )
    with pytest.raises(NothingBetween, match="each side"):
        neighbours([unknown, other], 400)
    with pytest.raises(NothingBetween, match="--depth"):
        section_between(unknown, other, 400, "m")
    # what was put between is no support for more
    put = section_between(one, other, 400, "m")
    assert neighbours([one, put, other], 350) == (one, other)
