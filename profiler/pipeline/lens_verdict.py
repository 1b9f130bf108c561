"""How good a calibration is, and what to photograph next: numbers in, plain words out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from profiler.jobs.lenses import FORMAL_FACTOR
from profiler.optics.lens import LENS_TERMS, Lens

Array = NDArray[np.float64]

#: cells of the frame that are counted, across and down
CELLS = (8, 6)
#: a corner is reached by a point in the outer fifth of both sides
CORNER_PART = 0.2
CORNERS = ("top left", "top right", "bottom left", "bottom right")

#: limits for 'good' and for 'usable'
FEWEST_PHOTOS = (5, 3)
#: greatest angle between two photos' directions of view onto the print, degrees
LEAST_SPREAD = (20.0, 10.0)
LEAST_CELLS = (0.6, 0.3)
#: u(f) over f, allowance for optimism included; focus alone moves f by 0.5 %
MOST_U_F = (0.003, 0.01)
#: a frame of this diagonal (12 Mpx) shows a mat at about 0.3 mm to the pixel
DIAGONAL_12_MPX = 5040.0
#: points of small frames are not found better than this part of a 12 Mpx frame's
SMALLEST_SCALE = 0.4
#: in a frame of that diagonal, px: how far the lens may bend a point elsewhere than we say
MOST_SHAPE_PX = (0.5, 2.0)
MOST_RMS_PX = (0.5, 1.2)
MOST_SET_ASIDE = (0.05, 0.2)


@dataclass(frozen=True)
class Coverage:
    """Where in the frame there were points.

    Attributes:
        cells: (rows, columns) points in each cell of the frame.
        reached: for each of `CORNERS`, whether points came near it.
    """

    cells: NDArray[np.int_]
    reached: tuple[bool, ...]

    @property
    def fraction(self) -> float:
        return float((self.cells > 0).mean())

    @property
    def empty_corners(self) -> list[str]:
        return [name for name, there in zip(CORNERS, self.reached, strict=True) if not there]


@dataclass(frozen=True)
class Judgement:
    """The verdict.

    Attributes:
        level: 'good', 'usable' or 'not good enough'.
        because: what keeps it from being better, each the end of a sentence.
        advice: what to photograph or do next, each a sentence.
    """

    level: str
    because: tuple[str, ...]
    advice: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """In one line."""
        if self.level == "good":
            return "good"
        joint = "because" if self.level == "not good enough" else "but"
        return f"{self.level}, {joint} {'; '.join(self.because)}"


def coverage_of(pixels: Array, width: int, height: int) -> Coverage:
    """Count points over the frame.

    Args:
        pixels: (N, 2) px, of all photos together.
        width, height: px.
    """
    part = (pixels + 0.5) / (width, height)
    columns, rows = CELLS
    at = np.clip((part * CELLS).astype(int), 0, (columns - 1, rows - 1))
    cells = np.zeros((rows, columns), dtype=np.int_)
    np.add.at(cells, (at[:, 1], at[:, 0]), 1)
    x, y = part.T
    left, right = x < CORNER_PART, x > 1 - CORNER_PART
    top, bottom = y < CORNER_PART, y > 1 - CORNER_PART
    reached = tuple(
        bool((a & b).any()) for a, b in ((left, top), (right, top), (left, bottom), (right, bottom))
    )
    return Coverage(cells, reached)


def shape_uncertainty(
    lens: Lens, covariance: Array, cells: NDArray[np.int_]
) -> tuple[float, float]:
    """How far the bending of the picture may be wrong, rms over the cells with points and over all.

    What each photo finds for itself is taken out first: three turns, the focal length and the
    optical centre (as mrcal takes its implied rotation out before it compares lenses).

    Args:
        lens: the solved lens.
        covariance: (9, 9) of its terms, in the order of `LENS_TERMS`.
        cells: (rows, columns) points in each cell of the frame.

    Returns:
        px where points were seen, and px over the whole frame.
    """
    rows, columns = cells.shape
    # the middle of each cell
    xs, ys = np.meshgrid(
        (np.arange(columns) + 0.5) * lens.width / columns - 0.5,
        (np.arange(rows) + 0.5) * lens.height / rows - 0.5,
    )
    covered = (cells > 0).ravel()
    rays = lens.unproject(np.column_stack([xs.ravel(), ys.ravel()]))
    _, by_point, by_terms = lens.jacobian(rays)
    x, y = rays[:, 0], rays[:, 1]
    one, nil = np.ones_like(x), np.zeros_like(x)
    # a turn w moves the ray r by w x r
    turns = np.stack(
        [
            np.column_stack([nil, -one, y]),
            np.column_stack([one, nil, -x]),
            np.column_stack([-y, x, nil]),
        ],
        axis=2,
    )
    own = by_terms[:, :, [LENS_TERMS.index(t) for t in ("f", "cx", "cy")]]
    taken = np.concatenate([by_point @ turns, own], axis=2).reshape(-1, 6)
    left = by_terms.reshape(-1, by_terms.shape[2])
    weight = np.repeat(covered, 2)[:, None]
    # fitted where there are points, as a new photo of the print would be
    left = left - taken @ np.linalg.lstsq(taken * weight, left * weight, rcond=None)[0]
    variance = np.einsum("ij,jk,ik->i", left, covariance, left).reshape(-1, 2).sum(axis=1)
    variance = np.maximum(variance, 0.0)
    return float(np.sqrt(variance[covered].mean())), float(np.sqrt(variance.mean()))


def spread_of(normals: Array) -> float:
    """Greatest angle between two photos' views of the print, degrees.

    Args:
        normals: (P, 3) unit normals of the print in each camera's frame.
    """
    cosines = np.clip(normals @ normals.T, -1.0, 1.0)
    return math.degrees(float(np.arccos(cosines.min())))


def judge(
    lens: Lens,
    covariance: Array,
    rms: float,
    coverage: Coverage,
    normals: Array,
    set_aside: float,
    bad_photos: Sequence[str] = (),
) -> Judgement:
    """The verdict in plain words.

    Args:
        lens: the solved lens.
        covariance: (9, 9) of its terms, as the residuals show it.
        rms: px.
        coverage: where the points lay.
        normals: (P, 3) unit normals of the print in each camera's frame.
        set_aside: part of the points that was set aside, 0 to 1.
        bad_photos: photos whose residual stands out.
    """
    photos = len(normals)
    scale = max(math.hypot(lens.width, lens.height) / DIAGONAL_12_MPX, SMALLEST_SCALE)
    u_f = FORMAL_FACTOR * math.sqrt(covariance[0, 0]) / lens.f
    here, everywhere = (
        FORMAL_FACTOR * u for u in shape_uncertainty(lens, covariance, coverage.cells)
    )
    spread = spread_of(normals)
    because: list[str] = []
    advice: list[str] = []
    worst = 0

    def find(grade: int, reason: str, next_step: str) -> None:
        nonlocal worst
        if grade == 0:
            return
        worst = max(worst, grade)
        because.append(reason)
        if next_step not in advice:
            advice.append(next_step)

    few = f"there are only {photos} photos"
    find(_least(photos, FEWEST_PHOTOS), few, "Take 8 to 12 photos.")
    # Alike photos repeat each other's errors. Where f is well known all the same, they are only
    # less good than they could be.
    find(
        min(_least(spread, LEAST_SPREAD), 1 if _most(u_f, MOST_U_F) == 0 else 2),
        f"the photos are too alike (the phone looked at the print within {spread:.0f}°)",
        "Tilt more: photograph the print from four sides, leaning 30 to 45° each time, and turn"
        " the phone upright for some.",
    )
    empty = coverage.empty_corners
    corners = _corners(empty)
    aim = f"Bring the print into {corners} of the frame." if empty else ""
    aim = aim or "Let the print wander over the whole frame from photo to photo."
    find(
        _least(coverage.fraction, LEAST_CELLS),
        f"points cover only {coverage.fraction:.0%} of the frame",
        aim,
    )
    find(
        _most(u_f, MOST_U_F),
        f"the focal length is known only to {u_f:.1%}",
        "Tilt more: photograph the print from four sides, leaning 30 to 45° each time, and turn"
        " the phone upright for some.",
    )
    find(
        _most(here / scale, MOST_SHAPE_PX),
        f"the lens's bending is known only to {here:.2f} px",
        "Take more photos, with more of the frame filled.",
    )
    unsure = min(_most(everywhere / scale, MOST_SHAPE_PX), 1)
    if empty and (unsure or len(empty) > 1):
        there = f" (there the bending is known only to {everywhere:.1f} px)" if unsure else ""
        find(1, f"no points come near {corners}{there}", aim)
    else:
        find(
            unsure,
            f"towards the frame's edges the bending is known only to {everywhere:.1f} px",
            aim,
        )
    find(
        _most(rms / max(scale, 1.0), MOST_RMS_PX),
        f"points lie {rms:.2f} px from where they should",
        "Lay the print on a flat, hard ground, check its sizes, and hold the phone still.",
    )
    find(
        _most(set_aside, MOST_SET_ASIDE),
        f"{set_aside:.0%} of the points had to be set aside",
        "Lay the print flat, keep it uncovered, and avoid glare on it.",
    )
    if bad_photos:
        find(
            1,
            f"{_listed(list(bad_photos))} fits worse than the others",
            "Leave that photo out or take it again.",
        )
    level = ("good", "usable", "not good enough")[worst]
    return Judgement(level, tuple(because), tuple(advice))


def _least(value: float, limits: tuple[float, float]) -> int:
    good, usable = limits
    return 0 if value >= good else 1 if value >= usable else 2


def _most(value: float, limits: tuple[float, float]) -> int:
    good, usable = limits
    # the comparison with 'not' lets a NaN count as bad
    return 2 if not value <= usable else 1 if value > good else 0


def _corners(names: Sequence[str]) -> str:
    if len(names) == len(CORNERS):
        return "the four corners"
    return f"the {_listed(names)} corner{'s' if len(names) > 1 else ''}"


def _listed(names: Sequence[str]) -> str:
    if len(names) < 2:
        return "".join(names)
    return ", ".join(names[:-1]) + " and " + names[-1]
