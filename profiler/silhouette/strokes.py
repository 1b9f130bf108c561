"""What a hand may say of the seen edge; light, since much is loaded only when it is drawn.

All places are px of the photo, where the person looked.
"""

from __future__ import annotations

from dataclasses import dataclass

from profiler.errors import RequestError


@dataclass(frozen=True)
class Moved:
    """The edge taken hold of at one place and laid elsewhere; its neighbours follow smoothly.

    Attributes:
        at, to: (x, y) px.
        reach: mm along the edge to either side that follows.
    """

    at: tuple[float, float]
    to: tuple[float, float]
    reach: float = 8.0


@dataclass(frozen=True)
class Redrawn:
    """A stretch drawn anew, from one place of the edge to another.

    Attributes:
        path: (x, y) px each, at least two.
        snap: let it find the edge near the drawn line again, as the measuring does.
    """

    path: tuple[tuple[float, float], ...]
    snap: bool = True


@dataclass(frozen=True)
class CutOut:
    """A piece that is no part of the instrument, as a cable; the edge is carried across.

    Attributes:
        area: (x, y) px each, at least three, closed.
    """

    area: tuple[tuple[float, float], ...]


Stroke = Moved | Redrawn | CutOut


class CannotCorrect(RequestError):
    """A correction that makes no sense on this edge."""
