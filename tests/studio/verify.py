"""Checks a photo against its own recipe by another path: `cv2.projectPoints` and `cornerSubPix`."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.paper import Paper
from profiler.target.card import card_panels
from profiler.target.mat import MatDesign

Array = NDArray[np.float64]


def saddle_errors(photo: Path) -> dict[str, Array]:
    """How far the saddles found in the photo are from where truth puts them.

    Returns:
        (N, 2) px for 'mat' and 'cards': found minus expected, of the saddles that can be seen.
    """
    folder = photo.parent
    truth = json.loads((folder / "truth.json").read_text())
    recipe = truth["recipe"]
    record = json.loads((folder / "mat.json").read_text())
    paper = Paper(**{k: record["paper"][k] for k in ("name", "width_mm", "height_mm")})
    design = MatDesign(
        paper, record["landscape"], record["columns"], record["rows"], record["tint"]
    )
    flags = cv2.IMREAD_GRAYSCALE | cv2.IMREAD_IGNORE_ORIENTATION
    grey = cv2.imread(str(photo), flags)
    lens = recipe["phone"]["lens"]
    k = grey.shape[1] / lens["width"]
    K = np.array(
        [
            [lens["f"] * k, 0, (lens["cx"] + 0.5) * k - 0.5],
            [0, lens["f"] * lens["aspect"] * k, (lens["cy"] + 0.5) * k - 0.5],
            [0, 0, 1],
        ]
    )
    dist = np.array([lens[n] for n in ("k1", "k2", "p1", "p2", "k3")])
    camera = recipe["cameras"][int(photo.stem.rsplit("-", 1)[1]) - 1]
    turn, _ = cv2.Rodrigues(np.array(camera["camera_from_mat_rotation"]))
    shift = np.array(camera["camera_from_mat_translation"])

    def errors(points: Array) -> Array:
        px, _ = cv2.projectPoints(points, turn, shift, K, dist)
        px = px.reshape(-1, 2)
        h, w = grey.shape
        inside = ((px > 30) & (px < (w - 30, h - 30))).all(axis=1)
        px = px[inside]
        scale = K[0, 0] / np.linalg.norm(points[inside] - _centre(camera), axis=1)
        found = []
        for p, s in zip(px, scale, strict=True):
            half = max(2, int(0.42 * 3.6 * s))
            start = p.astype(np.float32).reshape(1, 1, 2)
            got = cv2.cornerSubPix(
                grey, start.copy(), (half, half), (-1, -1), (3, 100, 1e-4)
            ).reshape(2)
            if _is_saddle(grey, p, 0.5 * 4.0 * s):
                found.append(got - p)
        return np.array(found).reshape(-1, 2)

    mat = []
    for panel, frame in zip(design.sheets, recipe["sheets"], strict=True):
        local = np.vstack([c.saddles() for c in panel.clusters])
        o, ex, ey = (np.array(frame[n]) for n in ("origin", "x_step", "y_step"))
        flat = o[:2] + local[:, :1] * ex + local[:, 1:] * ey
        mat.append(np.column_stack([flat, np.full(len(flat), o[2])]))
    cards = []
    scale = np.array(recipe["scale"])
    for key, matrix in recipe["card_frames"].items():
        local = np.vstack([c.saddles() for c in card_panels()[int(key) - 1].clusters]) * scale
        m = np.array(matrix)
        cards.append(local @ m[:3, :2].T + m[:3, 3])
    return {"mat": errors(np.vstack(mat)), "cards": errors(np.vstack(cards))}


def _centre(camera: dict[str, list[float]]) -> Array:
    return np.array(camera["centre"])


def _is_saddle(grey: NDArray[np.uint8], p: Array, reach: float) -> bool:
    """Whether black and white squares meet here, seen in all four quarters."""
    at = [
        float(grey[round(p[1] + b * reach), round(p[0] + a * reach)])
        for a, b in ((1, 1), (1, -1), (-1, -1), (-1, 1))
    ]
    # any turn of the pattern: opposite quarters alike, neighbours not
    a, b, c, d = at
    return min(abs(a - b), abs(b - c), abs(c - d), abs(d - a)) > 50
