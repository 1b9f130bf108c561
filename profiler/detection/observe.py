"""From a photo and the panels that may be in it to labelled measuring points."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.cores import on_cores
from profiler.detection.crossing import fit_crossings
from profiler.detection.observations import Observations
from profiler.detection.saddles import looks_like_check, refine
from profiler.target.panel import Cluster, Panel

Array = NDArray[np.float64]

#: distances from a tag, in its own size, within which its checks are found from those nearer to it
_RINGS = (1.0, 1.4, 1.8, 2.3)
#: so many checks tell the plane better than the tag's corners
_ENOUGH_FOR_A_PLANE = 8
#: a plane on which the squares' sides differ by more than this part from what the tag tells is none
_SAME_SIDE = 0.2
#: a check of fewer pixels than this cannot be measured
_LEAST_CHECK_PX = 3.0
#: what printer and paper leave of a saddle's place where the picture is perfect, px
_PAPER_PX = 0.02


def observe(
    gray: NDArray[np.uint8], tags: Mapping[int, Array], panels: Sequence[Panel]
) -> Observations:
    """Measure the saddle points of every panel whose tags were found.

    Args:
        gray: (H, W).
        tags: code to (4, 2) px, from `find_tags`.
        panels: the sheets and cards that may be in the photo.

    Returns:
        the observations; `panel` indexes `panels`.
    """
    asked = [
        (index, cluster)
        for index, panel in enumerate(panels)
        for cluster in panel.clusters
        if cluster.code in tags
    ]
    seen = on_cores(lambda one: _measure_cluster(gray, tags[one[1].code], one[1]), asked)
    rows = [
        (index, cluster.code, *point)
        for (index, cluster), points in zip(asked, seen, strict=True)
        for point in points
    ]
    local, pixels, across, up = (
        np.array([r[k] for r in rows], dtype=np.float64).reshape(-1, 2) for k in (2, 3, 4, 5)
    )
    fitted = fit_crossings(gray, pixels, across, up)
    # where the fit failed: 0.02 to 0.05 px is what clean saddles of this size reach by gradients
    check_px = np.hypot(across[:, 0], across[:, 1])
    rough = 0.03 + 0.25 / np.maximum(check_px, 1.0)
    return Observations(
        panel=np.array([r[0] for r in rows], dtype=np.intp),
        code=np.array([r[1] for r in rows], dtype=np.intp),
        local=local,
        pixels=fitted.pixels,
        sigma=np.where(fitted.sound, np.hypot(fitted.sigma, _PAPER_PX), rough),
    )


def checks_seen(gray: NDArray[np.uint8], corners: Array, cluster: Cluster) -> int:
    """How many of a cluster's checks are seen whole, its tag's corners being at (4, 2) px."""
    return len(_measure_cluster(gray, corners, cluster))


def _measure_cluster(
    gray: NDArray[np.uint8], corners: Array, cluster: Cluster
) -> list[tuple[Array, Array, Array, Array]]:
    """Each saddle of a cluster that is seen whole: local mm, px, and a square's sides in px."""
    local = cluster.saddles()
    model = _map_from(cluster.tag_corners(), corners)
    if model is None:
        return []
    pixels = _map(model, local)
    sides = _sides(model, local, cluster.check_mm)
    check_px = float(np.median(np.hypot(*sides[0].T)))
    if not np.isfinite(check_px) or check_px < _LEAST_CHECK_PX:
        return []
    h, w = gray.shape
    margin = 2 * check_px
    framed = np.all((pixels > margin) & (pixels < (w - margin, h - margin)), axis=1)
    if not framed.any():
        return []
    local = local[framed]
    sides = (sides[0][framed], sides[1][framed])
    found, good = _grown(gray, cluster, corners, local, sides, check_px)
    # which pixels belong to a check is asked of what was measured, not of the tag's rough corners
    plane = _plane_of(local[good], found[good], sides[0][good], cluster.check_mm)
    if plane is not None:
        local = local[good]
        sides = _sides(plane, local, cluster.check_mm)
        guesses = _map(plane, local)
        found = refine(gray, guesses, check_px)
        good = _trusted(gray, found, guesses, sides, check_px)
    return [(local[i], found[i], sides[0][i], sides[1][i]) for i in np.flatnonzero(good)]


def _sides(model: Array, local: Array, check_mm: float) -> tuple[Array, Array]:
    """(N, 2) px each: from a check's centre to its right and to its upper edge."""
    pixels = _map(model, local)
    across = _map(model, local + np.array([check_mm, 0.0])) - pixels
    up = _map(model, local + np.array([0.0, check_mm])) - pixels
    return across, up


def _plane_of(local: Array, found: Array, across: Array, check_mm: float) -> Array | None:
    """The plane as the checks alone tell it; None where they are too few or too much in a row.

    Those in a row tell any plane: it then has squares of another size than the tag's corners told.
    """
    if len(local) == 3:  # over so little the plane is seen as good as from afar
        square = np.linalg.lstsq(np.column_stack([local, np.ones(3)]), found, rcond=None)[0]
        plane: Array | None = np.vstack([square.T, (0.0, 0.0, 1.0)])
    else:
        plane = _map_from(local, found) if len(local) > 3 else None
    if plane is None:
        return None
    changed = np.hypot(*(_sides(plane, local, check_mm)[0] - across).T)
    return plane if (changed < _SAME_SIDE * np.hypot(*across.T)).all() else None


def _grown(
    gray: NDArray[np.uint8],
    cluster: Cluster,
    corners: Array,
    local: Array,
    sides: tuple[Array, Array],
    check_px: float,
) -> tuple[Array, NDArray[np.bool_]]:
    """Saddles found (N, 2) px, and which are trusted, from the tag outwards.

    The tag's own corners, a px out, reach only its neighbourhood; far out the next saddle of a
    chequer would be taken. So each ring is found from the rings inside it.
    """
    away = np.hypot(*(local - (cluster.x, cluster.y)).T)
    found = np.zeros_like(local)
    good = np.zeros(len(local), dtype=bool)
    for ring in (*_RINGS, np.inf):
        near = away <= ring * cluster.tag_mm
        if good[near].all():
            continue  # nothing new
        known_mm, known_px = cluster.tag_corners(), corners
        # checks on one side of the tag lead astray on its other side
        around_tag = _around(local[good], np.array([cluster.x, cluster.y]))
        if good.sum() >= _ENOUGH_FOR_A_PLANE and around_tag:
            known_mm, known_px = local[good], found[good]
        elif good.any():
            known_mm = np.vstack([known_mm, local[good]])
            known_px = np.vstack([known_px, found[good]])
        model = _map_from(known_mm, known_px)
        if model is None:
            continue
        guesses = _map(model, local[near])
        found[near] = refine(gray, guesses, check_px)
        around = (sides[0][near], sides[1][near])
        good[near] = _trusted(gray, found[near], guesses, around, check_px)
    return found, good


def _around(local: Array, middle: Array) -> bool:
    """Whether some checks (N, 2) mm lie on all sides of a place (2,)."""
    if not len(local):
        return False
    return bool((local.min(axis=0) < middle).all() and (local.max(axis=0) > middle).all())


def _trusted(
    gray: NDArray[np.uint8],
    refined: Array,
    guesses: Array,
    sides: tuple[Array, Array],
    check_px: float,
) -> NDArray[np.bool_]:
    near: NDArray[np.bool_] = np.hypot(*(refined - guesses).T) < 0.5 * check_px
    return near & looks_like_check(gray, refined, *sides)


def _map_from(plane: Array, pixels: Array) -> Array | None:
    """(3, 3) from the panel's plane to pixels, or None where no plane explains the points."""
    found = np.asarray(cv2.findHomography(plane, pixels)[0], dtype=np.float64)
    return found if found.shape == (3, 3) else None


def _map(homography: Array, points: Array) -> Array:
    mapped = cv2.perspectiveTransform(points.reshape(-1, 1, 2).astype(np.float64), homography)
    return np.asarray(mapped, dtype=np.float64).reshape(-1, 2)
