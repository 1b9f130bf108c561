"""What EXIF lets one believe of a lens."""

from __future__ import annotations

import math

import pytest

from profiler.optics.lens import LENS_TERMS
from profiler.scene.priors import lens_prior_from_exif
from profiler.scene.record import LensPrior


def u(prior: LensPrior, term: str) -> float:
    return float(prior.sigma[LENS_TERMS.index(term)])


def test_35_mm_equivalent_scales_with_the_diagonal() -> None:
    # convention: f = f35 x diagonal / 43.267, the diagonal of 36 x 24 mm (CIPA DCG-001)
    prior = lens_prior_from_exif(4032, 3024, 26.0)
    assert prior.lens.f == pytest.approx(26.0 * 5040.0 / math.hypot(36, 24), rel=1e-4)
    assert (prior.lens.cx, prior.lens.cy) == (2015.5, 1511.5)
    assert "26 mm" in prior.source


def test_the_belief_holds_a_rounded_number_and_its_conventions() -> None:
    prior = lens_prior_from_exif(4032, 3024, 26.0)
    relative = u(prior, "f") / prior.lens.f
    # rounding alone is 0.5 / sqrt(3) / 26 = 1.1 %
    assert 0.011 < relative < 0.05
    wide = lens_prior_from_exif(4032, 3024, None)
    assert u(wide, "f") / wide.lens.f == pytest.approx(0.25)


def test_a_cropped_shape_is_believed_less() -> None:
    whole, cropped = (lens_prior_from_exif(4032, h, 26.0) for h in (3024, 2268))
    assert u(cropped, "f") / cropped.lens.f > 1.5 * u(whole, "f") / whole.lens.f
    # read as the full sensor's equivalent, f would be that of the 4:3 frame: still believable
    assert abs(whole.lens.f - cropped.lens.f) < 2 * u(cropped, "f")


@pytest.mark.parametrize("f35", [0.0, None, 3.0, 5000.0])
def test_senseless_equivalents_count_as_missing(f35: float | None) -> None:
    assert "no EXIF" in lens_prior_from_exif(4032, 3024, f35).source


def test_upright_and_level_photos_get_the_same_lens() -> None:
    level, upright = lens_prior_from_exif(4032, 3024, 26.0), lens_prior_from_exif(3024, 4032, 26.0)
    assert level.lens.f == upright.lens.f
    assert level.sigma == pytest.approx(upright.sigma)


def test_sensor_resolution_wins() -> None:
    # 4.25 mm lens, 1.4 um pixels
    prior = lens_prior_from_exif(4032, 3024, 26.0, focal_mm=4.25, pixels_per_mm=1000 / 1.4)
    assert prior.lens.f == pytest.approx(4.25 / 0.0014)


def test_a_very_short_lens_is_an_ultra_wide_one() -> None:
    short, main = (lens_prior_from_exif(4032, 3024, None, focal_mm=mm) for mm in (1.55, 6.8))
    assert short.lens.f < 0.6 * main.lens.f
    assert "ultra-wide" in short.source
    # 13 mm, as such lenses are sold, lies inside
    assert abs(13.0 * 5040 / 43.267 - short.lens.f) < u(short, "f")
    assert "no EXIF" in main.source
    # a noted equivalent goes before the guess
    assert "26 mm equivalent" in lens_prior_from_exif(4032, 3024, 26.0, focal_mm=1.55).source


def test_only_the_aspect_is_held() -> None:
    prior = lens_prior_from_exif(4032, 3024, 26.0)
    held = [name for name, s in zip(LENS_TERMS, prior.sigma, strict=True) if s == 0]
    assert held == ["aspect"]


def test_a_known_phone_like_lens_lies_inside() -> None:
    # OpenCV's published chessboard camera: strong barrel, centre 23 px off in 640 x 480
    published = {"f": 535.9, "cx": 342.3, "cy": 235.6, "k1": -0.266, "k2": -0.039, "k3": 0.238}
    prior = lens_prior_from_exif(640, 480, None)
    for name, value in published.items():
        assert abs(value - getattr(prior.lens, name)) < 3.5 * u(prior, name), name
