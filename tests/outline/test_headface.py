"""A headstock's face from the side: the bare places between strings, posts and tuners."""

from __future__ import annotations

import numpy as np
import pytest

from profiler.outline.headface import face_seen
from tests.outline.test_elevation import plan, seen_from

NUT, END, FACE_AT_NUT = 500.0, 600.0, 50.0
#: the head's half width in `plan`, and where strings lie above the nut, mm
HALF, STRINGS = 35.0, 60.0
POSTS = (520.0, 545.0, 570.0)


def silhouette(tilt: float, centre: np.ndarray, bare_from: float = 575.0) -> np.ndarray:
    """(N, 2) mm: fretboard, strings to the last post, posts, and beyond them the bare face."""
    x = np.arange(450.0, 599.0, 1.0)
    fall = np.tan(np.radians(tilt))
    face = FACE_AT_NUT - fall * (x - NUT)
    far = (face - centre[2]) < -fall * (x - centre[0])
    edge = np.where(far, HALF, -HALF) * np.where(centre[1] < 0, 1, -1)
    last = FACE_AT_NUT - fall * (POSTS[-1] - NUT) + 9.0
    string = STRINGS + (last - STRINGS) / (POSTS[-1] - NUT) * (x - NUT)
    post = np.min(np.abs(x[:, None] - np.array(POSTS)), axis=1) < 2.5
    on_face = (x > bare_from) | ((x > 530.0) & (x < 538.0))
    z = np.select([x < NUT, post, on_face], [STRINGS, face + 12.0, face], string)
    y = np.where((x > NUT) & on_face & ~post, edge, 0.0)
    return seen_from(centre, np.column_stack([x, y, z]))


@pytest.mark.parametrize("tilt", [0.0, 6.0, 14.0])
@pytest.mark.parametrize("side", [-1.0, 1.0])
@pytest.mark.parametrize("height", [30.0, 110.0])
def test_the_face_is_found_under_strings_and_posts(tilt: float, side: float, height: float) -> None:
    centre = np.array([320.0, side * 600.0, height])
    points = silhouette(tilt, centre)
    face = face_seen(points, np.full(len(points), 0.1), centre, plan())
    assert face is not None
    slope, level = np.polyfit(face.x, face.z, 1)
    assert -np.degrees(np.arctan(slope)) == pytest.approx(tilt, abs=0.15)
    assert level + slope * 580.0 == pytest.approx(
        FACE_AT_NUT - np.tan(np.radians(tilt)) * 80.0, abs=0.1
    )


def test_strings_alone_are_no_face() -> None:
    centre = np.array([320.0, -600.0, 110.0])
    points = silhouette(14.0, centre, bare_from=700.0)
    points = points[points[:, 0] < 585.0]
    # nor the short bare place between two of them
    assert face_seen(points, np.full(len(points), 0.1), centre, plan()) is None
    # where the fretboard is not seen, nothing tells strings from a face
    points = silhouette(14.0, centre)
    assert face_seen(points, np.full(len(points), 0.1), centre, plan()) is not None
    points = points[points[:, 0] > NUT + 20.0]
    assert face_seen(points, np.full(len(points), 0.1), centre, plan()) is None
