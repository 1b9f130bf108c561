"""A cross-profile: what a saw cut square to the centreline would show.

Section frame: mm, y to the left as in the instrument's frame, z up from the *face*: the top of
the fingerboard on a neck, the front of a headstock. The back of a neck therefore has z < 0.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from profiler.findings import Finding
from profiler.instrument.record import Quantity, missing

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Section:
    """The profile of one place along the instrument.

    Attributes:
        name: as typed, or 'neck at 421 mm'.
        x: mm, the station along the centreline in the instrument's frame.
        points: (N, 2) mm, y and z in the section frame, from the right edge of the face (y < 0)
            round the back to its left edge; the face closes it.
        width: at the face.
        depth: from the face to the lowest point of the back, positive.
        radius: of the back at its lowest point.
        u95: (N,) mm, across the profile at each point.
        face_height: of the face above the bench, the instrument lying on its back.
        source: 'gauge', 'tracing', 'typed' or 'between' two others.
        detail: the photo's name, the shape's, or the names of the two others.
        photo_sha256: of the photo's file, '' where there is none.
        findings: remarks, worst first.

    Where `depth` is missing, nobody knows how far below the face the curve lies: z = 0 is then
    level with the higher of its ends, and no piece that meets the face can be cut to it.
    """

    name: str
    x: float
    points: Array
    width: Quantity
    depth: Quantity
    radius: Quantity
    u95: Array
    face_height: Quantity = field(default_factory=lambda: missing("it was not measured"))
    source: str = "typed"
    detail: str = ""
    photo_sha256: str = ""
    findings: tuple[Finding, ...] = field(default_factory=tuple)
