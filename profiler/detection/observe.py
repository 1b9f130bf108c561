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
    # px from a check's centre to its right and upper edge
    across = _map(model, local + np.array([cluster.check_mm, 0.0])) - pixels
    up = _map(model, local + np.array([0.0, cluster.check_mm])) - pixels
    check_px = float(np.median(np.hypot(across[:, 0], across[:, 1])))
    if not np.isfinite(check_px) or check_px < _LEAST_CHECK_PX:
        return []
    h, w = gray.shape
    margin = 2 * check_px
    framed = np.all((pixels > margin) & (pixels < (w - margin, h - margin)), axis=1)
    if not framed.any():
        return []
    local, across, up = local[framed], across[framed], up[framed]
    refined, good = _grown(gray, cluster, corners, local, (across, up), check_px)
    return [(local[i], refined[i], across[i], up[i]) for i in np.flatnonzero(good)]


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
    across, up = sides
    away = np.hypot(*(local - (cluster.x, cluster.y)).T)
    found = np.zeros_like(local)
    good = np.zeros(len(local), dtype=bool)
    for ring in (*_RINGS, np.inf):
        known_mm, known_px = cluster.tag_corners(), corners
        if good.sum() >= _ENOUGH_FOR_A_PLANE:
            known_mm, known_px = local[good], found[good]
        elif good.any():
            known_mm = np.vstack([known_mm, local[good]])
            known_px = np.vstack([known_px, found[good]])
        model = _map_from(known_mm, known_px)
        near = away <= ring * cluster.tag_mm
        if model is None or not near.any():
            continue
        guesses = _map(model, local[near])
        refined = refine(gray, guesses, check_px)
        found[near] = refined
        good[near] = _trusted(gray, refined, guesses, across[near], up[near], check_px)
    return found, good


def _trusted(
    gray: NDArray[np.uint8],
    refined: Array,
    guesses: Array,
    across: Array,
    up: Array,
    check_px: float,
) -> NDArray[np.bool_]:
    near: NDArray[np.bool_] = np.hypot(*(refined - guesses).T) < 0.5 * check_px
    return near & looks_like_check(gray, refined, across, up)


def _map_from(plane: Array, pixels: Array) -> Array | None:
    """(3, 3) from the panel's plane to pixels, or None where no plane explains the points."""
    found = np.asarray(cv2.findHomography(plane, pixels)[0], dtype=np.float64)
    return found if found.shape == (3, 3) else None


def _map(homography: Array, points: Array) -> Array:
    mapped = cv2.perspectiveTransform(points.reshape(-1, 1, 2).astype(np.float64), homography)
    return np.asarray(mapped, dtype=np.float64).reshape(-1, 2)
