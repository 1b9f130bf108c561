"""Heights that follow the edge: what the photos together add to the height that was believed.

A card, a typed number or custom gives each edge a straight line. Seen from two places, the edge
tells its own height along the whole of it; that is kept as a rise over the line at knots, with the
covariance that it has before anything is seen (a Gaussian process; Rasmussen and Williams 2006,
eq. 2.31, from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from profiler.outline.heights import EdgeHeight, PartEdges
from profiler.outline.side_button import SIDE_BUTTON

Array = NDArray[np.float64]

#: knots are this far apart, mm; how far an edge strays from its straight line and over which
#: length it does, mm: common practice, no source
_KNOTS = {
    "body": 50.0,
    "neck": 80.0,
    "headstock": 50.0,
    "tuners": 20.0,
    "button": 100.0,
    SIDE_BUTTON: 100.0,
}
_STRAYS = {
    "body": (1.2, 90.0),
    "neck": (0.3, 120.0),
    "headstock": (0.5, 60.0),
    "tuners": (1.5, 25.0),
    "button": (0.0, 50.0),
    SIDE_BUTTON: (0.0, 50.0),
}
#: by how much the sides of tuner buttons and peg heads are more upright or rounder than usual, mm
UPRIGHT, _UPRIGHT_U_MM = "upright", 1.5
#: a height that rests on custom counts as seen once its doubt is this small, mm
_SEEN_MM = 2.0
SEEN = "seen from several places"


@dataclass(frozen=True)
class SeenHeight(EdgeHeight):
    """A believed line and what the photos add to it.

    Attributes:
        knots: (K,) x, mm.
        rise: (K,) mm above the line at each.
        doubt: (K,) mm, standard uncertainty of the height at each.
    """

    knots: Array
    rise: Array
    doubt: Array

    def at(self, x: Array) -> Array:
        value: Array = super().at(x) + np.interp(x, self.knots, self.rise)
        return value

    def u_at(self, x: Array) -> Array:
        value: Array = np.interp(x, self.knots, self.doubt)
        return value


@dataclass(frozen=True)
class _Piece:
    """The knots of one edge among all the knots; or, as `UPRIGHT`, one for how upright the sides
    of what is round are."""

    part: str
    side: str
    knots: Array
    first: int

    @property
    def own(self) -> slice:
        return slice(self.first, self.first + len(self.knots))


@dataclass(frozen=True)
class Rises:
    """All the knots of all edges, and what is believed of them.

    Attributes:
        pieces: by edge.
        believed: (Q, Q) mm², covariance of the rises before anything is seen.
    """

    pieces: tuple[_Piece, ...]
    believed: Array

    @property
    def count(self) -> int:
        return len(self.believed)

    def on(
        self, heights: Mapping[str, PartEdges], rise: Array, doubt: Array
    ) -> dict[str, PartEdges]:
        """Heights with rises (Q,) and their doubts (Q,) mm put on the believed lines."""
        raised: dict[str, dict[str, EdgeHeight]] = {}
        for piece in self.pieces:
            if piece.side == UPRIGHT:
                continue
            line = getattr(heights[piece.part], piece.side)
            seen = float(np.median(doubt[piece.own])) < _SEEN_MM
            raised.setdefault(piece.part, {})[piece.side] = SeenHeight(
                line.x0,
                line.z0,
                line.slope,
                0.0,
                0.0,
                _source(line, seen),
                line.known or seen,
                piece.knots,
                rise[piece.own],
                doubt[piece.own],
            )
        out = dict(heights)
        for part, sides in raised.items():
            upper = sides["upper"]
            out[part] = replace(heights[part], upper=upper, lower=sides.get("lower", upper))
        for piece in self.pieces:
            if piece.side == UPRIGHT:
                out[piece.part] = replace(out[piece.part], upright=float(rise[piece.first]))
        return out


def _source(line: EdgeHeight, seen: bool) -> str:
    if not seen:
        return line.source
    return f"{line.source} and {SEEN}" if line.known else SEEN


def rises_for(
    heights: Mapping[str, PartEdges], extents: Mapping[str, tuple[float, float]]
) -> Rises:
    """Knots for every part that is there.

    Args:
        heights: believed.
        extents: part to the x, mm, from which to which it is seen.
    """
    pieces: list[_Piece] = []
    edges: list[EdgeHeight] = []
    count = 0
    for part, (low, high) in extents.items():
        sides = heights[part]
        number = max(round((high - low) / _KNOTS[part]), 0) + 1
        knots = np.linspace(low, high, number) if number > 1 else np.array([(low + high) / 2])
        for side in ("upper",) if sides.lower is sides.upper else ("upper", "lower"):
            pieces.append(_Piece(part, side, knots, count))
            edges.append(getattr(sides, side))
            count += len(knots)
    believed = np.zeros((count, count))
    for a, (piece, edge) in enumerate(zip(pieces, edges, strict=True)):
        believed[piece.own, piece.own] = _own(piece, edge)
        for other, base in list(zip(pieces, edges, strict=True))[:a]:
            if base is not edge and _follows(edge, base):
                tied = _line(piece.knots, other.knots, base) + _stray(
                    piece.knots, other.knots, other.part
                )
                believed[piece.own, other.own] = tied
                believed[other.own, piece.own] = tied.T
    if "tuners" in extents:
        pieces.append(_Piece("tuners", UPRIGHT, np.array([np.mean(extents["tuners"])]), count))
        believed = np.pad(believed, (0, 1))
        believed[count, count] = _UPRIGHT_U_MM**2
    return Rises(tuple(pieces), _definite(believed))


def _follows(edge: EdgeHeight, base: EdgeHeight) -> bool:
    """Whether an edge's height was taken from another's, less something assumed."""
    return not edge.known and edge.x0 == base.x0 and edge.slope == base.slope and edge.u >= base.u


def _own(piece: _Piece, edge: EdgeHeight) -> Array:
    covariance: Array = (
        _line(piece.knots, piece.knots, edge)
        + _stray(piece.knots, piece.knots, piece.part)
        + 1e-4 * np.eye(len(piece.knots))
    )
    return covariance


def _line(a: Array, b: Array, edge: EdgeHeight) -> Array:
    lever: Array = edge.u**2 + edge.u_slope**2 * np.outer(a - edge.x0, b - edge.x0)
    return lever


def _stray(a: Array, b: Array, part: str) -> Array:
    size, length = _STRAYS[part]
    near: Array = size**2 * np.exp(-0.5 * ((a[:, None] - b[None, :]) / length) ** 2)
    return near


def _definite(matrix: Array) -> Array:
    """The nearest matrix that a covariance can be: negative eigenvalues lifted."""
    values, vectors = np.linalg.eigh(matrix)
    lifted: Array = (vectors * np.maximum(values, 1e-6)) @ vectors.T
    return lifted


def extents_of(
    frame_x: Sequence[Array], labels: Sequence[NDArray[np.str_]]
) -> dict[str, tuple[float, float]]:
    """Part to the x, mm, from which to which any sight shows it."""
    extents: dict[str, tuple[float, float]] = {}
    for part in _KNOTS:
        x = np.concatenate(
            [values[names == part] for values, names in zip(frame_x, labels, strict=True)]
        )
        if len(x):
            extents[part] = (float(x.min()), float(x.max()))
    return extents
