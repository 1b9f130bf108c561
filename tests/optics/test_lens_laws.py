"""Laws of the lens: there and back, derivatives against differences, and OpenCV's projection."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from profiler.optics.lens import LENS_TERMS, Lens

Array = NDArray[np.float64]


@st.composite
def lenses(draw: st.DrawFn) -> Lens:
    """Phones and old webcams: focal length 0.6 to 3 frame widths, distortion up to strong."""
    width, height = draw(st.sampled_from([(640, 480), (4032, 3024), (3000, 4000), (4000, 2252)]))
    f = max(width, height) * draw(st.floats(0.7, 3.0))

    def number(low: float, high: float) -> float:
        return draw(st.floats(low, high))

    return Lens(
        width,
        height,
        f,
        width * number(0.45, 0.55),
        height * number(0.45, 0.55),
        aspect=number(0.98, 1.02),
        k1=number(-0.25, 0.15),
        k2=number(-0.05, 0.1),
        p1=number(-0.002, 0.002),
        p2=number(-0.002, 0.002),
        k3=number(-0.02, 0.02),
    )


def rays_of(lens: Lens, count: int, seed: int) -> Array:
    """(N, 3): points 0.5 to 2 m off, within the frame of a lens without distortion."""
    rng = np.random.default_rng(seed)
    x = rng.uniform(-0.5, 0.5, count) * lens.width / lens.f
    y = rng.uniform(-0.5, 0.5, count) * lens.height / lens.f
    z = rng.uniform(500.0, 2000.0, count)
    return np.column_stack([x * z, y * z, z])


@settings(max_examples=60, deadline=None)
@given(lenses(), st.integers(0, 10_000))
def test_projecting_and_unprojecting_is_identity(lens: Lens, seed: int) -> None:
    rays = rays_of(lens, 40, seed)
    back = lens.unproject(lens.project(rays))
    assert back[:, :2] == pytest.approx(rays[:, :2] / rays[:, 2:], abs=1e-9)
    assert (back[:, 2] == 1.0).all()


@settings(max_examples=60, deadline=None)
@given(lenses(), st.integers(0, 10_000))
def test_it_projects_as_opencv_does(lens: Lens, seed: int) -> None:
    rays = rays_of(lens, 40, seed)
    theirs, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), lens.matrix, lens.distortion)
    assert lens.project(rays) == pytest.approx(theirs.reshape(-1, 2), abs=1e-8)


@settings(max_examples=40, deadline=None)
@given(lenses(), st.integers(0, 10_000))
def test_derivatives_are_those_of_small_differences(lens: Lens, seed: int) -> None:
    rays = rays_of(lens, 12, seed)
    pixels, by_point, by_terms = lens.jacobian(rays)
    assert pixels == pytest.approx(lens.project(rays), abs=1e-12)
    for axis in range(3):
        step = np.zeros(3)
        step[axis] = 1e-3
        slope = (lens.project(rays + step) - lens.project(rays - step)) / 2e-3
        assert by_point[:, :, axis] == pytest.approx(slope, rel=1e-6, abs=1e-6)
    for index, name in enumerate(LENS_TERMS):
        size = {"f": 1e-2, "cx": 1e-2, "cy": 1e-2}.get(name, 1e-6)
        up = replace(lens, **{name: getattr(lens, name) + size})
        down = replace(lens, **{name: getattr(lens, name) - size})
        slope = (up.project(rays) - down.project(rays)) / (2 * size)
        assert by_terms[:, :, index] == pytest.approx(slope, rel=1e-6, abs=1e-4)


@settings(max_examples=30, deadline=None)
@given(lenses(), st.sampled_from([0.5, 0.25, 2.0]), st.integers(0, 10_000))
def test_a_resized_photo_has_the_scaled_lens(lens: Lens, by: float, seed: int) -> None:
    # a photo's left edge lies at -0.5 px, whatever its size
    rays = rays_of(lens, 20, seed)
    resized = lens.scaled(round(lens.width * by), round(lens.height * by))
    expected = (lens.project(rays) + 0.5) * by - 0.5
    assert resized.project(rays) == pytest.approx(expected, abs=1e-8)


def test_terms_and_vector_agree() -> None:
    lens = Lens(640, 480, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0)
    assert dict(zip(LENS_TERMS, lens.vector, strict=True)) == {
        "f": 1.0, "cx": 2.0, "cy": 3.0, "aspect": 4.0,
        "k1": 5.0, "k2": 6.0, "p1": 7.0, "p2": 8.0, "k3": 9.0,
    }  # fmt: skip
    assert lens.with_vector(lens.vector) == lens
