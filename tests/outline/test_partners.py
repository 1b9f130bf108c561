"""A tuner that was not seen stands where it makes a pair of the one that has no partner."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
import shapely

from profiler.outline.partners import Partner, unseen_partner
from tests.drawn import Tuner, drawn_instrument

PAIRS = (Tuner(540, 1), Tuner(570, 1), Tuner(540, -1), Tuner(570, -1))
#: as pegs stand: those on the right a little further on
PEGS = (Tuner(540, 1), Tuner(568, 1), Tuner(552, -1), Tuner(580, -1))


def seen(tuners: Sequence[Tuner]) -> Partner | None:
    outline, labels = drawn_instrument(tuners)
    return unseen_partner(outline, labels, np.ones(len(outline), bool))


def with_partner(tuners: Sequence[Tuner], partner: Partner) -> shapely.Polygon:
    outline = drawn_instrument(tuners)[0]
    rest = (partner.first - partner.last) % len(outline) + 1
    return shapely.Polygon(
        np.vstack([np.roll(outline, -partner.last, axis=0)[:rest], partner.outline])
    )


@pytest.mark.parametrize("everyone", [PAIRS, (*PAIRS, Tuner(600, 1), Tuner(600, -1))])
def test_any_one_that_is_missing_is_put_where_it_stands(everyone: Sequence[Tuner]) -> None:
    whole = shapely.Polygon(drawn_instrument(everyone)[0])
    for lost in everyone:
        left = [tuner for tuner in everyone if tuner is not lost]
        partner = seen(left)
        assert partner is not None and partner.on_left == (lost.side > 0)
        again = with_partner(left, partner)
        assert again.is_valid and again.exterior.is_ccw
        # of 330 mm² that a tuner covers, and with points a mm apart
        assert again.symmetric_difference(whole).area < 40.0, lost


def test_three_pegs_on_a_side_tell_where_the_sixth_is() -> None:
    pegs = (*PEGS, Tuner(596, 1), Tuner(608, -1))
    for lost in (pegs[0], pegs[3], pegs[4]):
        partner = seen([tuner for tuner in pegs if tuner is not lost])
        assert partner is not None and partner.on_left == (lost.side > 0)
        assert abs(partner.outline[:, 0].mean() - lost.x) < 1.0


@pytest.mark.parametrize(
    "tuners",
    [
        list(PAIRS),
        list(PEGS),
        # in line, and four against two: made so
        [Tuner(x, 1) for x in (520, 540, 560, 580)],
        [*PAIRS, Tuner(600, 1), Tuner(625, 1)],
        # nothing tells which of two the single one stands across from
        [Tuner(540, 1), Tuner(570, 1), Tuner(555, -1)],
        # of three pegs none says by what step those of one side stand further on
        list(PEGS[1:]),
        [Tuner(540, 1)],
    ],
)
def test_nothing_is_missing_where_the_rest_make_no_pairs(tuners: list[Tuner]) -> None:
    assert seen(tuners) is None


def test_its_shape_is_that_of_the_tuner_that_was_seen_best() -> None:
    """A seam bites into both of a pair."""
    bitten = Tuner(570, 1, button=8.0)
    outline, labels = drawn_instrument([Tuner(540, 1), bitten, Tuner(540, -1)])
    clear = np.abs(outline[:, 0] - 570) > 12
    partner = unseen_partner(outline, labels, clear)
    assert partner is not None
    assert np.ptp(partner.outline[:, 0]) == pytest.approx(16.0, abs=1.0)
    assert partner.outline[:, 0].mean() == pytest.approx(570.0, abs=1.0)
