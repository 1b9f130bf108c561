"""Pieces of a mask: the main thing with what is its own, and what lies apart from it."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

#: half the width of what may be a frayed edge of the mat: pegs and buttons are 6 mm wide and more
_FRAYED_MM = 2.5
#: what a cut severs is given back if it is as large as this, mm²
_SEVERED_MM2 = 12.0
#: of what encloses a hole so much is no thin line (a guess)
_MOSTLY_SOLID = 0.6
#: holes of no more cells than this do no harm
_LEAST_HOLE = 30
#: holes that are more than slits, mm, and that are told, mm²
_SLIT_MM, _LEAST_HOLE_MM2 = 3.0, 60.0


def main_thing(
    joined: NDArray[np.uint8],
    cell: float,
    own_mm: float,
    least_mm2: float,
    rim: NDArray[np.bool_] | None = None,
) -> tuple[NDArray[np.bool_], list[tuple[float, NDArray[np.bool_]]]] | None:
    """The largest piece with its holes filled and its own small pieces tied to it, and the rest.

    Args:
        joined: (H, W) 1 where something is.
        cell: mm.
        own_mm: a small piece so near is the thing's own: a tuner behind a bright shaft.
        least_mm2: smaller pieces are left out of account.
        rim: (H, W) where the ground ends: a narrow piece that lies there whole is a frayed edge of
            it, and no thing's own.

    Returns:
        (H, W), and mm² and (H, W) of each piece apart; None where nothing is.
    """
    count, labels, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    if count < 2:
        return None
    areas = stats[1:, cv2.CC_STAT_AREA].astype(np.float64) * cell**2
    main = int(np.argmax(areas)) + 1
    body = filled(labels == main)
    further = [k for k in range(1, count) if k != main and areas[k - 1] >= least_mm2]
    apart: list[tuple[float, NDArray[np.bool_]]] = []
    if not further:
        return body, apart
    near = cv2.dilate(body.astype(np.uint8), disc(own_mm / cell)) > 0
    for label in further:
        piece = labels == label
        if (piece & body).any():
            continue
        own = areas[label - 1] < 0.05 * areas[main - 1] and bool((piece & near).any())
        if own and not (rim is not None and _frayed(piece, rim, cell)):
            body |= tied(piece, body, cell)
        else:
            apart.append((float(areas[label - 1]), piece))
    return body, apart


def _frayed(piece: NDArray[np.bool_], rim: NDArray[np.bool_], cell: float) -> bool:
    """Whether a piece lies on the ground's rim and is narrower than any button."""
    if not rim[piece].all():
        return False
    into = cv2.distanceTransform(np.pad(piece, 1).astype(np.uint8), cv2.DIST_L2, 5)
    return float(into.max()) * cell < _FRAYED_MM


def tied(piece: NDArray[np.bool_], body: NDArray[np.bool_], cell: float) -> NDArray[np.bool_]:
    """A piece with a narrow bridge to the nearest place of the body."""
    away = cv2.distanceTransform((~body).astype(np.uint8), cv2.DIST_L2, 5)
    row, column = np.unravel_index(int(np.argmin(np.where(piece, away, 1e9))), piece.shape)
    reach = int(away[row, column]) + 2
    rows = slice(max(row - reach, 0), row + reach + 1)
    columns = slice(max(column - reach, 0), column + reach + 1)
    there = np.argwhere(body[rows, columns]) + np.array([rows.start, columns.start])
    nearest = there[np.argmin(((there - (row, column)) ** 2).sum(axis=1))]
    tied = piece.astype(np.uint8)
    cv2.line(
        tied,
        (int(column), int(row)),
        (int(nearest[1]), int(nearest[0])),
        1,
        thickness=max(2, round(3.0 / cell)),
    )
    return np.asarray(tied > 0)


def in_one_piece(
    now: NDArray[np.bool_], was: NDArray[np.bool_], cell: float, most_mm2: float = np.inf
) -> NDArray[np.bool_]:
    """A mask whose border was laid anew, what tied its pieces to the largest given back: a bright
    shaft that looks like ground, under a button that does not.

    Args:
        now, was: (H, W) after and before.
        cell: mm.
        most_mm2: what tied two pieces is given back if it is no larger.
    """
    _, labels, stats, _ = cv2.connectedComponentsWithStats(now.astype(np.uint8))
    areas = stats[:, cv2.CC_STAT_AREA] * cell**2
    areas[0] = 0.0
    main = int(np.argmax(areas))
    severed = np.setdiff1d(np.flatnonzero(areas >= _SEVERED_MM2), main)
    if not len(severed):
        return now
    _, gaps, stats, _ = cv2.connectedComponentsWithStats((was & ~now).astype(np.uint8))
    small = np.flatnonzero(stats[:, cv2.CC_STAT_AREA] * cell**2 <= most_mm2)

    def beside(piece: NDArray[np.bool_]) -> set[int]:
        touched = gaps[cv2.dilate(piece.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0]
        return set(np.unique(touched).tolist()) - {0}

    ties = beside(labels == main) & beside(np.isin(labels, severed)) & set(small.tolist())
    return np.asarray(now | np.isin(gaps, list(ties)))


def disc(radius: float) -> NDArray[np.uint8]:
    """A round kernel; radius in cells."""
    r = max(1, round(radius))
    return np.asarray(
        cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * r + 1, 2 * r + 1)), dtype=np.uint8
    )


def filled(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Strings and holes inside do not make holes in the outline."""
    contours, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    filled = np.zeros(mask.shape, dtype=np.uint8)
    cv2.drawContours(filled, contours, -1, 1, thickness=cv2.FILLED)
    return np.asarray(filled > 0)


def rings_inside(holes: NDArray[np.bool_], cell: float) -> list[NDArray[np.float64]]:
    """(K, 2) each, column and row: round the larger pieces of a mask (H, W) of holes."""
    open_holes = cv2.morphologyEx(holes.astype(np.uint8), cv2.MORPH_OPEN, disc(_SLIT_MM / 2 / cell))
    found, _ = cv2.findContours(open_holes, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    rings = [ring.reshape(-1, 2).astype(np.float64) for ring in found]
    return [
        ring
        for ring in rings
        if cv2.contourArea(ring.astype(np.float32)) * cell**2 > _LEAST_HOLE_MM2
    ]


def with_enclosed(
    mask: NDArray[np.bool_], solid: NDArray[np.bool_], most: float
) -> NDArray[np.bool_]:
    """A mask with what it encloses, where most of what encloses it is solid.

    A pale tailpiece over pale print passes for print, and the dark rim beside it is as thin as the
    mat's own lines: with these taken away, what the rim enclosed would lie open.

    Args:
        mask: (H, W).
        solid: (H, W) what of it is no thin line.
        most: cells that such a hole has at most: a waist or a cutaway that a line of the mat closes
            off is larger.
    """
    holes = (filled(mask) & ~mask).astype(np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(holes, connectivity=4)
    out = mask.copy()
    sizes = stats[:, cv2.CC_STAT_AREA]
    wanted = (sizes > _LEAST_HOLE) & (sizes < most)
    wanted[0] = False
    for k in np.flatnonzero(wanted).tolist():
        x, y, w, h = (int(v) for v in stats[k, :4])
        window = np.s_[max(y - 2, 0) : y + h + 2, max(x - 2, 0) : x + w + 2]
        hole = (labels[window] == k).astype(np.uint8)
        ring = (cv2.dilate(hole, np.ones((5, 5), np.uint8)) > 0) & (hole == 0) & mask[window]
        if ring.any() and solid[window][ring].mean() > _MOSTLY_SOLID:
            out[window] |= hole > 0
    return out
