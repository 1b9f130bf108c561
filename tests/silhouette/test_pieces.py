"""What is tied to the main thing, and what of the mat's frayed edge is not."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.silhouette.pieces import main_thing


@pytest.mark.parametrize(("inwards", "tied"), [(4, False), (14, True)])
def test_a_strip_of_the_mats_own_edge_is_no_tuner(inwards: int, tied: bool) -> None:
    """A body 15 mm from the mat's edge: a narrow strip on the rim beside it is not its own, but a
    tuner that reaches over the edge is, and tells that the thing is not all on the mat."""
    joined = np.zeros((200, 300), dtype=np.uint8)
    joined[40:160, 15:200] = 1
    joined[90:110, 0:inwards] = 1
    rim = np.ones(joined.shape, dtype=bool)
    rim[8:-8, 8:-8] = False
    found = main_thing(joined, 1.0, 14.0, 12.0, rim)
    assert found is not None
    assert found[0][:, :4].any() == tied
    assert len(found[1]) == (0 if tied else 1)
    # were it not the mat's rim it would be near enough
    elsewhere = main_thing(joined, 1.0, 14.0, 12.0)
    assert elsewhere is not None
    assert elsewhere[0][:, :4].any()


def test_a_button_on_the_mats_rim_is_a_button() -> None:
    joined = np.zeros((200, 300), dtype=np.uint8)
    joined[40:160, 15:200] = 1
    joined[90:110, 1:8] = 1
    rim = np.ones(joined.shape, dtype=bool)
    rim[8:-8, 8:-8] = False
    found = main_thing(joined, 1.0, 14.0, 12.0, rim)
    assert found is not None
    assert found[0][95:105, 1:8].all()
