"""Finding by shape: the nearest outlines, and those that fit into a given line.

All signatures are read and compared at once. What they cannot rule out is compared coarsely, and
the few that remain are laid over each other on the outlines themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection, select

from profiler.archive import tables as t
from profiler.archive.database import Archive
from profiler.archive.entries import InstrumentEntry
from profiler.archive.errors import NotInArchive
from profiler.archive.find import entries
from profiler.archive.lay import (
    Fit,
    Lay,
    Line,
    Overlay,
    lay_closely,
    lay_into,
    lay_over,
    starts,
)
from profiler.archive.shape import (
    SIGNATURE,
    Shape,
    gap_at_least,
    room_at_most,
    shape_of,
    standing,
    unpacked,
)

Array = NDArray[np.float64]
Ids = NDArray[np.int64]

#: outlines that are compared coarsely, and that are laid over each other
COARSELY = 300
CLOSELY = 18
#: outlines that are put coarsely into the line that they have to fit into
PUT_IN = 1500
#: grid of the line that others are put into, mm
GRID_MM = 2.0
#: how much more room than the coarse look says a better place may have
COARSE_SLACK_MM = 4.0
_AT_ONCE = 500


@dataclass(frozen=True)
class Near:
    """An archived outline and how it lies over the one that was asked about."""

    instrument: InstrumentEntry
    revision: int
    overlay: Overlay


@dataclass(frozen=True)
class Nearest:
    """What was found, nearest first.

    Attributes:
        found: one revision of each instrument.
        looked_at: how many outlines the archive holds.
        open_: how many others might come as near as the last one found: their signatures do not
            rule it out, and they were not laid over. 0: none was passed over by its signature;
            how well each can be laid is still a search, not a proof.
    """

    found: tuple[Near, ...]
    looked_at: int
    open_: int


@dataclass(frozen=True)
class Inside:
    """An archived outline (or the template round it) and how much room is left.

    Attributes:
        fit: with the least room.
        largest: mm, the widest gap between the two lines as they lie.
    """

    instrument: InstrumentEntry
    revision: int
    fit: Fit
    largest: float


@dataclass(frozen=True)
class Fitting:
    """What fits, snuggest (least wide gap) first.

    Attributes:
        looked_at: how many outlines the archive holds.
        possible: how many of them their sizes let in.
        laid: how many of those were laid in.
    """

    found: tuple[Inside, ...]
    looked_at: int
    possible: int
    laid: int


def outline_of(archive: Archive, revision: int) -> Array:
    """(N, 2) mm of a revision, by its own number in the table.

    Raises:
        NotInArchive: it is gone.
    """
    with archive.read() as connection:
        return _outlines(connection, [revision])[revision]


def nearest(
    archive: Archive,
    outline: Array,
    limit: int = 5,
    mirrored: bool = False,
    without: Sequence[int] = (),
) -> Nearest:
    """The archived outlines whose largest gap to this one is smallest.

    Args:
        outline: (N, 2) mm, any frame.
        limit: so many instruments at most.
        mirrored: also turn them over.
        without: revisions that are left out, by their number in the table.
    """
    shape = shape_of(outline)
    with archive.read() as connection:
        ids, signatures = _signatures(connection, without)
        bounds = gap_at_least(signatures, shape.signature)
        order = np.argsort(bounds, kind="stable")
        coarse = _coarse(connection, ids[order[:COARSELY]])
        gaps = _coarse_gaps(coarse, shape, mirrored)
        close = order[:COARSELY][np.argsort(gaps, kind="stable")][:CLOSELY]
        outlines = _outlines(connection, [int(ids[i]) for i in close])
    still = Line(outline)
    ranked = []
    for i in close:
        line = Line(outlines[int(ids[i])])
        ranked.append((_closest(line, still, mirrored), int(ids[i]), line))
    ranked.sort(key=lambda r: r[0].largest)
    found = [(lay_over(line, still, o), i) for o, i, line in ranked[: limit + 2]]
    found.sort(key=lambda f: f[0].largest)
    with archive.read() as connection:
        rows = _one_each(connection, found, limit)
    reach = rows[-1].overlay.largest if len(rows) == limit else np.inf
    open_ = int((bounds < reach).sum()) - sum(bounds[i] < reach for i in close)
    return Nearest(tuple(rows), len(ids), int(open_))


def fitting(
    archive: Archive, line: Array, clearance: float, limit: int = 10, laid: int = 12
) -> Fitting:
    """Archived instruments that lie inside a line with at least so much room all round.

    Args:
        line: (N, 2) mm, inside of a case, of a cradle, of anything.
        clearance: mm.
        limit: so many instruments at most, those that fill it best first.
        laid: so many are laid in exactly.
    """
    shape = shape_of(line)
    with archive.read() as connection:
        ids, signatures = _signatures(connection, ())
        most = room_at_most(signatures, shape.signature)
        fit_by_size = np.flatnonzero(most >= clearance)
        # the snuggest by their sizes, in the order of the table
        possible = np.sort(fit_by_size[np.argsort(most[fit_by_size], kind="stable")][:PUT_IN])
        rooms = _coarse_rooms(connection, ids[possible], line)
        # what seems to stick out goes last: a better place may still be found for it
        hopeful = rooms >= clearance - COARSE_SLACK_MM
        some = possible[np.lexsort((-rooms, ~hopeful))][:COARSELY]
        filled = _coarse_gaps(_coarse(connection, ids[some]), shape, False)
        filled[~hopeful[np.searchsorted(possible, some)]] += 1e6
        order = some[np.argsort(filled, kind="stable")][:laid]
        outlines = _outlines(connection, [int(ids[i]) for i in order])
    outer = Line(line)
    fits = []
    for i in order:
        moving = Line(outlines[int(ids[i])])
        fit = lay_into(moving, outer)
        if fit.room >= clearance:
            fits.append((fit, int(ids[i]), moving))
    laid_in = [(fit, i, _widest(moving, outer, fit.lay)) for fit, i, moving in fits]
    laid_in.sort(key=lambda f: f[2])
    with archive.read() as connection:
        rows = _insides(connection, laid_in, limit)
    return Fitting(tuple(rows), len(ids), len(fit_by_size), len(order))


def serving(
    archive: Archive,
    outline: Array,
    template_clearance: float,
    least: float,
    limit: int = 5,
    without: Sequence[int] = (),
) -> Fitting:
    """Instruments whose template, cut with a clearance, would also hold this outline.

    Args:
        outline: (N, 2) mm of the new instrument.
        template_clearance: mm that the templates were cut larger than their instruments.
        least: mm of room that has to be left.
        without: revisions left out, by their number in the table.
    """
    import shapely

    shape = shape_of(outline)
    with archive.read() as connection:
        ids, signatures = _signatures(connection, without)
        # a larger line round the old instrument gains its clearance in every one of these sizes
        rooms = room_at_most(shape.signature[None], signatures) + template_clearance
        possible = np.flatnonzero(rooms >= least)
        gaps = gap_at_least(signatures[possible], shape.signature)
        some = possible[np.argsort(gaps, kind="stable")][:COARSELY]
        coarse = _coarse(connection, ids[some])
        close = some[np.argsort(_coarse_gaps(coarse, shape, False), kind="stable")][: 2 * limit + 4]
        outlines = _outlines(connection, [int(ids[i]) for i in close])
    moving = Line(outline)
    fits = []
    for i in close:
        cut = shapely.Polygon(outlines[int(ids[i])]).buffer(template_clearance, quad_segs=16)
        outer = Line(np.asarray(shapely.Polygon(cut.exterior).exterior.coords)[:-1])
        fit = lay_into(moving, outer)
        if fit.room >= least:
            fits.append((fit, int(ids[i]), _widest(moving, outer, fit.lay)))
    fits.sort(key=lambda f: f[2])
    with archive.read() as connection:
        rows = _insides(connection, fits, limit)
    return Fitting(tuple(rows), len(ids), len(possible), len(close))


def _signatures(connection: Connection, without: Sequence[int]) -> tuple[Ids, Array]:
    rows = connection.execute(select(t.shape.c.revision_id, t.shape.c.signature)).all()
    skip = set(without)
    rows = [row for row in rows if row[0] not in skip] if skip else rows
    ids = np.array([row[0] for row in rows], dtype=np.int64)
    data = b"".join(bytes(row[1]) for row in rows)
    return ids, unpacked(data, SIGNATURE)


def _coarse(connection: Connection, ids: Ids) -> Array:
    """(N, COARSE, 2) in the order of `ids`."""
    found: dict[int, Array] = {}
    for at in range(0, len(ids), _AT_ONCE):
        some = [int(i) for i in ids[at : at + _AT_ONCE]]
        query = select(t.plan.c.revision_id, t.plan.c.coarse).where(t.plan.c.revision_id.in_(some))
        for row in connection.execute(query):
            found[row.revision_id] = unpacked(bytes(row.coarse), 2)
    if not len(ids):
        return np.empty((0, 1, 2))
    return np.array([found[int(i)] for i in ids])


def _outlines(connection: Connection, ids: Sequence[int]) -> dict[int, Array]:
    query = select(t.plan.c.revision_id, t.plan.c.outline).where(t.plan.c.revision_id.in_(ids))
    found = {row.revision_id: unpacked(bytes(row.outline), 2) for row in connection.execute(query)}
    for one in ids:
        if one not in found:
            raise NotInArchive("That measurement was taken out of the archive meanwhile.")
    return found


def _coarse_gaps(coarse: Array, shape: Shape, mirrored: bool) -> Array:
    """(N,) mm: a coarse largest gap, both outlines in the frame of their own inertia."""
    if not len(coarse):
        return np.empty(0)
    ways = [(1.0, 1.0), (-1.0, -1.0)] + ([(1.0, -1.0), (-1.0, 1.0)] if mirrored else [])
    # single precision is a hundredth of a millimetre here, and twice as fast
    some, mine = coarse.astype(np.float32), shape.coarse.astype(np.float32)
    best = np.full(len(coarse), np.inf)
    sizes = (some**2).sum(axis=2)[:, :, None] + (mine**2).sum(axis=1)
    for way in ways:
        squares = sizes - 2 * (some * np.array(way, np.float32)) @ mine.T
        gap = np.maximum(squares.min(axis=2).max(axis=1), squares.min(axis=1).max(axis=1))
        best = np.minimum(best, gap)
    gaps: Array = np.sqrt(np.maximum(best, 0.0), dtype=np.float64)
    return gaps


def _closest(line: Line, still: Line, mirrored: bool) -> Overlay:
    """From the way round that looks best before anything is moved."""
    flips = (False, True) if mirrored else (False,)
    begun = starts(line.points, still.points, flips)
    apart = [float(still.tree.query(lay.moved(line.points))[0].max()) for lay in begun]
    return lay_closely(line, still, begun[int(np.argmin(apart))])


def _coarse_rooms(connection: Connection, ids: Ids, line: Array) -> Array:
    """(N,) mm: least room of each coarse outline, box centred in the line's box, both ways."""
    import cv2

    upright = standing(line, line)
    corner = upright.min(axis=0) - 20 * GRID_MM
    size = np.ceil((np.ptp(upright, axis=0) + 40 * GRID_MM) / GRID_MM).astype(int)
    inside = np.zeros((size[1], size[0]), np.uint8)
    pixels = np.round((upright - corner) / GRID_MM * 16).astype(np.int32)
    cv2.fillPoly(inside, [pixels[:, None]], 1, shift=4)
    depth = cv2.distanceTransform(inside, cv2.DIST_L2, 5) * GRID_MM
    beyond = cv2.distanceTransform(1 - inside, cv2.DIST_L2, 5) * GRID_MM
    room = depth - beyond
    middle = (upright.max(axis=0) + upright.min(axis=0)) / 2
    best = np.full(len(ids), -np.inf)
    for at in range(0, len(ids), _AT_ONCE):
        coarse = _coarse(connection, ids[at : at + _AT_ONCE])
        for way in (1.0, -1.0):
            turned = coarse * way
            box = (turned.max(axis=1) + turned.min(axis=1)) / 2
            cells = np.round((turned - box[:, None] + middle - corner) / GRID_MM).astype(int)
            cells = np.clip(cells, 0, size - 1)
            least = room[cells[:, :, 1], cells[:, :, 0]].min(axis=1)
            best[at : at + _AT_ONCE] = np.maximum(best[at : at + _AT_ONCE], least)
    return best


def _widest(moving: Line, outer: Line, lay: Lay) -> float:
    """mm, the widest gap between the lines as they lie, seen from either."""
    there = outer.tree.query(lay.moved(moving.points))[0].max()
    back = moving.tree.query(lay.back(outer.points))[0].max()
    return float(max(there, back))


def _of(connection: Connection, revisions: Sequence[int]) -> dict[int, tuple[InstrumentEntry, int]]:
    """Revision in the table to its instrument and its number."""
    rows = connection.execute(
        select(t.revision.c.id, t.revision.c.instrument_id, t.revision.c.number).where(
            t.revision.c.id.in_(revisions)
        )
    ).all()
    found = {i.id: i for i in entries(connection, list({row.instrument_id for row in rows}))}
    return {r.id: (found[r.instrument_id], r.number) for r in rows if r.instrument_id in found}


def _one_each(
    connection: Connection, found: Sequence[tuple[Overlay, int]], limit: int
) -> list[Near]:
    of = _of(connection, [i for _, i in found])
    rows: dict[int, Near] = {}
    for overlay, i in found:
        if i in of:
            instrument, number = of[i]
            rows.setdefault(instrument.id, Near(instrument, number, overlay))
    return list(rows.values())[:limit]


def _insides(
    connection: Connection, found: Sequence[tuple[Fit, int, float]], limit: int
) -> list[Inside]:
    of = _of(connection, [i for _, i, _ in found])
    rows: dict[int, Inside] = {}
    for fit, i, widest in found:
        if i in of:
            instrument, number = of[i]
            rows.setdefault(instrument.id, Inside(instrument, number, fit, widest))
    return list(rows.values())[:limit]
