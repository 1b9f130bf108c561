"""A neck's profile drawn on paper or card, or a card cut to it, as a hand does it."""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from tests.studio.bodies.body import Body
from tests.studio.cuts import Cut
from tests.studio.meshes import Part, joined, loft, sheet

Array = NDArray[np.float64]

#: how a profile is drawn: from edge to edge of the face; closed by the face; beside a traced gauge,
#: where the line runs on along the face; or a card is cut to it, or has it cut out
OPEN, CLOSED, BESIDE, CUT, NOTCH = "open", "closed", "beside", "cut card", "notched card"
_STEP = 0.1


@dataclass(frozen=True)
class Drawing:
    """Attributes:
    way: of the above.
    line: width of the line, mm.
    off: the line's middle runs outside the wood by this, mm: a lead is as thick as it is.
    waver: of the hand, mm, standard; `over` which way it lasts, mm.
    overrun: line ends miss their corners by this, mm, standard.
    paper, pen: materials.
    thick: of the paper, mm.
    from_head: drawn as seen from the head.
    """

    way: str = OPEN
    line: float = 0.6
    off: float = 0.1
    waver: float = 0.12
    over: float = 6.0
    overrun: float = 0.4
    paper: str = "drawing_paper"
    pen: str = "pencil"
    thick: float = 0.1
    from_head: bool = False


def hand_drawn(drawing: Drawing, cut: Cut, seed: int) -> Array:
    """(N, 2) mm, section frame: the path of the pencil or the knife along the back, without the
    face, beginning at the right edge."""
    rng = np.random.default_rng(seed)
    line = shapely.LineString(cut.polyline())
    at = np.arange(0.0, line.length, _STEP)
    path = np.array([line.interpolate(v).coords[0] for v in at])
    tangent = np.gradient(path, axis=0)
    tangent = gaussian_filter1d(tangent, 5, axis=0, mode="nearest")
    tangent /= np.hypot(*tangent.T)[:, None]
    # the wood is to the left going from right to left below it: outside is to the other side
    outside = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    if (outside[len(at) // 2] @ np.array([0.0, -1.0])) < 0:
        outside = -outside
    soft = gaussian_filter1d(rng.normal(0.0, 1.0, len(at)), drawing.over / _STEP / 2)
    soft *= drawing.waver / max(float(soft.std()), 1e-9)
    path = path + (drawing.off + soft)[:, None] * outside
    cut_off = np.abs(rng.normal(0.0, drawing.overrun, 2)) / _STEP
    first, last = int(cut_off[0]), len(path) - int(cut_off[1])
    if drawing.way == OPEN:
        return path[first:last]
    return path


def traced_body(drawing: Drawing, cut: Cut, seed: int) -> Body:
    """The sheet in its own frame: x across the neck, y as its face looks up, z up from the mat."""
    side = 1.0 if drawing.from_head else -1.0
    back = hand_drawn(drawing, cut, seed) * np.array([side, 1.0])
    rng = np.random.default_rng([seed, 1])
    top = drawing.thick
    half, deep = cut.width / 2, cut.depth
    if drawing.way in (CUT, NOTCH):
        whole = shapely.Polygon(back).buffer(0)
        if drawing.way == NOTCH:
            board = shapely.box(-half - 22, -deep - 24, half + 22, 0.0)
            whole = board.difference(whole.union(shapely.box(-half, -1, half, 1)))
        whole = max(getattr(whole, "geoms", [whole]), key=lambda g: g.area)
        outer = np.asarray(whole.exterior.coords)[:-1]
        return Body("tracing", (_plate(outer, top, drawing.paper),), (), {})
    ends = back[[0, -1]]
    lines = [back]
    over = rng.normal(0.0, drawing.overrun, 2)
    if drawing.way == CLOSED:  # the face, with a rule from corner to corner
        along = (ends[0] - ends[1]) / np.hypot(*(ends[0] - ends[1]))
        lines.append(np.array([ends[0] + along * over[0], ends[1] - along * over[1]]))
    if drawing.way == BESIDE:
        out = np.sign(ends[0, 0])
        lines[0] = np.vstack([[(ends[0, 0] + 15 * out, 0.0)], back, [(ends[1, 0] - 15 * out, 0.0)]])
    ink = shapely.union_all(
        [shapely.LineString(p).buffer(drawing.line / 2, quad_segs=4) for p in lines]
    ).simplify(0.01)
    paper = np.array([(-52.0, -deep - 22), (52.0, -deep - 22), (52.0, 26.0), (-52.0, 26.0)])
    rest = _plate(paper, top, drawing.paper)
    drawn = sheet(
        "line", np.asarray(ink.exterior.coords)[:-1], top + 0.01, drawing.pen,
        [np.asarray(r.coords)[:-1] for r in ink.interiors],
    )  # fmt: skip
    return Body("tracing", (rest, drawn), (), {})


def _plate(outer: Array, top: float, material: str) -> Part:
    """Paper or card that lies on the mat, its edges square."""
    ring = np.asarray(shapely.geometry.polygon.orient(shapely.Polygon(outer)).exterior.coords)[:-1]
    wall = np.stack([np.column_stack([ring, np.full(len(ring), z)]) for z in (0.0, top)])
    return joined("paper", [loft("paper", wall, material), sheet("paper", ring, top, material)])


def tracing_truth(drawing: Drawing, cut: Cut, seed: int) -> dict[str, object]:
    """What the accuracy table compares with; the program never reads it."""

    def short(points: Array) -> list[list[float]]:
        return [[round(float(v), 4) for v in p] for p in points]

    return {
        "section": short(cut.polyline()),
        "drawn": short(hand_drawn(drawing, cut, seed)[::3]),
        "width": round(cut.width, 4),
        "depth": round(cut.depth, 4),
        "tracing": asdict(drawing),
    }
