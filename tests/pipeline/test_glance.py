"""A glance at a small picture: each thing that may be wrong has one thing to do, and a place.

The sample is altered as the thing itself would alter it; a shadow scales linear light.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from profiler.jobs.beside import find_mat
from profiler.pipeline.check import Check, Weight, glance
from profiler.pipeline.check_points import most_urgent
from profiler.target.mat import MatDesign

SAMPLE = Path(__file__).parents[2] / "profiler" / "web" / "sample"
Picture = NDArray[np.uint8]


@pytest.fixture(scope="module")
def design() -> MatDesign:
    found = find_mat(SAMPLE / "photo-1.jpg", None, (None, None)).design
    assert found is not None
    return found


def sample() -> Picture:
    return np.asarray(cv2.imread(str(SAMPLE / "photo-1.jpg")), dtype=np.uint8)


def as_it_is(photo: Picture) -> Picture:
    return photo


def dark(photo: Picture) -> Picture:
    return np.asarray(photo * 0.25, dtype=np.uint8)


def blown(photo: Picture) -> Picture:
    return np.asarray(np.clip(photo * 2.4, 0, 255), dtype=np.uint8)


def blurred(photo: Picture) -> Picture:
    return np.asarray(cv2.GaussianBlur(photo, (0, 0), photo.shape[1] / 700), dtype=np.uint8)


def head_outside(photo: Picture) -> Picture:
    return np.ascontiguousarray(photo[:, : int(0.72 * photo.shape[1])])


def too_near(photo: Picture) -> Picture:
    """As from half the height: half of what was seen, at twice the size."""
    h, w = photo.shape[:2]
    return np.ascontiguousarray(photo[h // 4 : 3 * h // 4, w // 4 : 3 * w // 4])


def cloth_on_the_mat(photo: Picture) -> Picture:
    h, w = photo.shape[:2]
    box = (int(0.50 * w), int(0.62 * h)), (int(0.58 * w), int(0.72 * h))
    cv2.rectangle(photo, *box, (60, 70, 90), -1)
    return photo


def no_cards(photo: Picture) -> Picture:
    """Wood's colour where they lie."""
    h, w = photo.shape[:2]
    for x0, y0, x1, y1 in CARDS:
        photo[int(y0 * h) : int(y1 * h), int(x0 * w) : int(x1 * w)] = (110, 150, 180)
    return photo


#: the cards of the sample, shares of its width and height
CARDS = (
    (0.275, 0.37, 0.37, 0.42),
    (0.26, 0.41, 0.30, 0.54),
    (0.545, 0.48, 0.607, 0.51),
    (0.70, 0.49, 0.756, 0.53),
)


def shadowed(left: float, soft_px: float) -> Callable[[Picture], Picture]:
    """A shadow that lies to the right of the instrument and a little below."""

    def alter(photo: Picture) -> Picture:
        h, w = photo.shape[:2]
        body = instrument(photo)
        push = np.array([[1, 0, 0.05 * w], [0, 1, 0.006 * w]], dtype=np.float32)
        shade = cv2.warpAffine(body.astype(np.float32), push, (w, h))
        shade = cv2.GaussianBlur(shade, (0, 0), soft_px)
        factor = np.where(body > 0, 1.0, 1.0 - (1.0 - left) * shade)
        linear = (photo / 255.0) ** 2.2 * factor[..., None]
        return np.asarray(255 * linear ** (1 / 2.2), dtype=np.uint8)

    return alter


def instrument(photo: Picture) -> NDArray[np.uint8]:
    """Where it lies, to a few px."""
    h, w = photo.shape[:2]
    body = np.zeros((h, w), np.uint8)
    cv2.fillPoly(body, [np.rint(np.array(OUTLINE) * (w, h)).astype(np.int32)], 1)
    return body


#: the sample's outline, shares of its width and height
OUTLINE = (
    (0.27, 0.37), (0.31, 0.35), (0.36, 0.375), (0.40, 0.396), (0.45, 0.392), (0.485, 0.42),
    (0.492, 0.46), (0.68, 0.483), (0.70, 0.473), (0.755, 0.478), (0.757, 0.52), (0.745, 0.546),
    (0.70, 0.543), (0.675, 0.523), (0.49, 0.508), (0.478, 0.55), (0.445, 0.573), (0.39, 0.56),
    (0.32, 0.59), (0.28, 0.575), (0.255, 0.53), (0.25, 0.45),
)  # fmt: skip


@pytest.mark.parametrize(
    ("alter", "do", "ok"),
    [
        (as_it_is, None, True),
        (dark, "More light", None),
        (blown, "Less light", None),
        (blurred, "Hold the phone still", False),
        (head_outside, "Come higher: the headstock is outside the photo", False),
        (too_near, "Come higher: ", False),
        (cloth_on_the_mat, "Take away what lies beside the instrument", False),
        (no_cards, "Lay height cards", True),
        (shadowed(0.35, 1.5), "Soften the light from the", True),
        (shadowed(0.35, 60.0), None, True),
    ],
)
def test_one_thing_to_do(
    design: MatDesign, alter: Callable[[Picture], Picture], do: str | None, ok: bool | None
) -> None:
    found = glance(alter(sample()), design, 1.26)
    first = most_urgent(found.points)
    assert (first.do if first else None) == do or (do and first and first.do.startswith(do)), found
    assert ok is None or found.ok == ok
    assert all(p.do for p in found.points if p.weight is not Weight.GOOD)


def place(check: Check, what: str) -> NDArray[np.float64]:
    """The middle of a point's rings, shares of the picture."""
    point = next(p for p in check.points if p.what == what and p.places)
    middle = np.vstack([np.array(ring) for ring in point.places]).mean(axis=0)
    return np.asarray(middle / (check.width, check.height), dtype=np.float64)


def test_it_is_marked_where_it_is(design: MatDesign) -> None:
    head = place(glance(head_outside(sample()), design, 1.26), "frame")
    assert head[0] > 0.96 and 0.45 < head[1] < 0.6
    cloth = place(glance(cloth_on_the_mat(sample()), design, 1.26), "frame")
    assert abs(cloth[0] - 0.54) < 0.02 and abs(cloth[1] - 0.67) < 0.02
    hard = glance(shadowed(0.35, 1.5)(sample()), design, 1.26)
    assert "left" in most_urgent(hard.points).do  # type: ignore[union-attr]


def test_covered_squares_are_told(design: MatDesign) -> None:
    """Tint as on the mat over two of its squares, so that it is no thing that lies there."""
    photo = sample()
    h, w = photo.shape[:2]
    for x, y in ((0.552, 0.25), (0.625, 0.252)):
        x0, x1 = int((x - 0.022) * w), int((x + 0.022) * w)
        y0, y1 = int((y - 0.028) * h), int((y + 0.028) * h)
        photo[y0:y1, x0:x1] = photo[y0 - 6 : y0 - 3, x0:x1].mean(axis=(0, 1))
    found = glance(photo, design, 1.26)
    covered = [p for p in found.points if p.do.startswith("Uncover")]
    assert len(covered) == 1 and len(covered[0].places) == 2, found.points


def test_without_a_record_the_mat_is_recognised(design: MatDesign) -> None:
    assert not glance(np.full((900, 1200, 3), 140, np.uint8), None, None).ok
