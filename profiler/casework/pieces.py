"""A piece of the cut list: its finished size, what is cut into it, and where it stands.

Piece frame: mm, u along the length from the named end, v up from the lower edge, w into the wood
from the face that is marked (of a board: its inside face).
Case frame: mm, x from the tail board's inside face to the head, y from the front board's inside
face (latches, handle) to the back board (hinges), z up from the boards' lower edge; as glued up,
before the lid is sawn off. Front is on the right of an instrument that lies on its back.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely

from profiler.casework.trace import Size

#: u0, v0, w0, u1, v1, w1
Box = tuple[float, float, float, float, float, float]
Triple = tuple[float, float, float]


@dataclass(frozen=True)
class Cut:
    """Wood taken away.

    Attributes:
        kind: 'socket' between fingers, 'groove' for a wall, 'channel' for a cradle piece,
            'rabbet', 'saw' for the parting of the lid, 'hole' or 'pocket' for round ones.
        box: in the piece's frame, mm; for round ones the box round the cylinder along w.
        label: for drawings.
        made: 'before' or 'after' the box is glued up.
    """

    kind: str
    box: Box
    label: str = ""
    made: str = "before"

    @property
    def is_round(self) -> bool:
        return self.kind in ("hole", "pocket")


@dataclass(frozen=True)
class Place:
    """Where one piece of its kind stands.

    Attributes:
        origin: the piece frame's origin in the case frame, mm.
        axes: which way u, v and w run, as '+x' or '-y'.
        part: 'base', 'lid', or 'both' for what the saw parts.
    """

    origin: Triple
    axes: tuple[str, str, str]
    part: str

    def to_case(self, point: Triple) -> Triple:
        """A point of the piece's frame in the case frame, mm."""
        out = list(self.origin)
        for value, axis in zip(point, self.axes, strict=True):
            out["xyz".index(axis[1])] += value if axis[0] == "+" else -value
        return out[0], out[1], out[2]

    def box_to_case(self, box: Box) -> Box:
        """The box in the case frame, corners in order."""
        a, b = self.to_case(box[:3]), self.to_case(box[3:])
        low = tuple(min(p, q) for p, q in zip(a, b, strict=True))
        high = tuple(max(p, q) for p, q in zip(a, b, strict=True))
        return (*low, *high)  # type: ignore[return-value]


@dataclass(frozen=True)
class Piece:
    """A line of the cut list.

    Attributes:
        mark: a letter to write on the wood.
        name: in words.
        use: the stock, of `Stock.use`, or 'cover wood' or 'slips'.
        length, width, thickness: finished, each with its rule.
        grain: 'length', or 'any'.
        ends: names of the ends at u = 0 and u = length.
        cuts: what is taken away.
        places: one for each that is needed; empty for what does not stay in the case.
        count: how many.
        note: what the saw has to know.
        extra: further sizes, with their rules.
        profile: finished shape, u and v, anticlockwise or not; empty for the whole rectangle.
    """

    mark: str
    name: str
    use: str
    length: Size
    width: Size
    thickness: Size
    grain: str = "length"
    ends: tuple[str, str] = ("", "")
    cuts: tuple[Cut, ...] = ()
    places: tuple[Place, ...] = ()
    count: int = 1
    note: str = ""
    extra: tuple[Size, ...] = field(default_factory=tuple)
    profile: tuple[tuple[float, float], ...] = ()

    @property
    def box(self) -> Box:
        return 0.0, 0.0, 0.0, self.length.mm, self.width.mm, self.thickness.mm


def solid_moments(piece: Piece, sawn: bool = True) -> tuple[float, Triple]:
    """Volume, mm³, and centre, piece frame, of what is left after all cuts; round ones ignored.

    Args:
        piece: whose cuts may overlap.
        sawn: whether the saw cut of the lid counts.
    """
    if piece.profile:
        shape = shapely.Polygon(piece.profile)
        middle = shape.centroid
        t = piece.thickness.mm
        return float(shape.area) * t, (float(middle.x), float(middle.y), t / 2)
    cuts = [c.box for c in piece.cuts if not c.is_round and (sawn or c.kind != "saw")]
    edges = []
    for axis in range(3):
        low, high = piece.box[axis], piece.box[axis + 3]
        marks = {low, high}
        for cut in cuts:
            marks |= {min(max(cut[axis], low), high), min(max(cut[axis + 3], low), high)}
        edges.append(np.array(sorted(marks)))
    middles = [(e[1:] + e[:-1]) / 2 for e in edges]
    # (A, B, C) cells between all edges; a cell is either whole or gone
    left = np.ones([len(m) for m in middles], dtype=bool)
    for cut in cuts:
        inside = [(m > cut[a]) & (m < cut[a + 3]) for a, m in enumerate(middles)]
        left &= ~(inside[0][:, None, None] & inside[1][None, :, None] & inside[2][None, None, :])
    steps = [np.diff(e) for e in edges]
    cells = steps[0][:, None, None] * steps[1][None, :, None] * steps[2][None, None, :] * left
    volume = float(cells.sum())
    if volume <= 0:
        return 0.0, (0.0, 0.0, 0.0)
    u = float((cells * middles[0][:, None, None]).sum() / volume)
    v = float((cells * middles[1][None, :, None]).sum() / volume)
    w = float((cells * middles[2][None, None, :]).sum() / volume)
    return volume, (u, v, w)
