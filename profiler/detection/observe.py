"""From a photo and the panels that may be in it to labelled measuring points."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.detection.saddles import looks_like_check, refine
from profiler.scene.record import Observations
from profiler.target.panel import Cluster, Panel

Array = NDArray[np.float64]

#: a check of fewer pixels than this cannot be measured
_LEAST_CHECK_PX = 3.0


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
    rows: list[tuple[int, int, Array, Array, float]] = []
    for index, panel in enumerate(panels):
        for cluster in panel.clusters:
            if cluster.code in tags:
                seen = _measure_cluster(gray, tags[cluster.code], cluster)
                rows += [(index, cluster.code, *point) for point in seen]
    return Observations(
        panel=np.array([r[0] for r in rows], dtype=np.intp),
        code=np.array([r[1] for r in rows], dtype=np.intp),
        local=np.array([r[2] for r in rows], dtype=np.float64).reshape(-1, 2),
        pixels=np.array([r[3] for r in rows], dtype=np.float64).reshape(-1, 2),
        sigma=np.array([r[4] for r in rows], dtype=np.float64),
    )


def _measure_cluster(
    gray: NDArray[np.uint8], corners: Array, cluster: Cluster
) -> list[tuple[Array, Array, float]]:
    """(local mm, px, sigma px) of each saddle of a cluster that is seen whole."""
    local = cluster.saddles()
    model = np.asarray(cv2.findHomography(cluster.tag_corners(), corners)[0], dtype=np.float64)
    if model.shape != (3, 3):  # OpenCV gives None for corners that no plane has
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
    local, pixels, across, up = local[framed], pixels[framed], across[framed], up[framed]
    refined = refine(gray, pixels, check_px)
    good = looks_like_check(gray, refined, across, up)
    good &= np.hypot(*(refined - pixels).T) < 0.5 * check_px
    # 0.02 to 0.05 px is what clean saddles of this size reach; smaller checks are worse
    sigma = 0.03 + 0.25 / check_px
    return [(local[i], refined[i], sigma) for i in np.flatnonzero(good)]


def _map(homography: Array, points: Array) -> Array:
    mapped = cv2.perspectiveTransform(points.reshape(-1, 1, 2).astype(np.float64), homography)
    return np.asarray(mapped, dtype=np.float64).reshape(-1, 2)
