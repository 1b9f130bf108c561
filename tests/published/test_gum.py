"""The worked examples of the guides to uncertainty, as tests of `instrument.propagation`.

Results: JCGM 100:2008, H.1 and H.2; JCGM 101:2008, 9.2.3 and 9.4.2. The inputs of H.1 and H.2 are
from memory; they reproduce the published results, which is how they were checked.
"""

from __future__ import annotations

import numpy as np
import pytest

from profiler.instrument.propagation import by_draws, combined, linear

DRAWS = 400_000


def test_end_gauge() -> None:
    """H.1: uc 32 nm (31.7 unrounded); with the second-order terms 34 nm."""
    # nm: the standard, the comparison, difference of expansion, difference of temperature
    parts = {"standard": 25.0**2, "comparison": 9.7**2, "expansion": 2.9**2, "warmth": 16.6**2}
    u, mostly = combined(parts)
    assert u == pytest.approx(31.7, abs=0.1)
    assert mostly == "standard"
    assert combined({**parts, "second order": 11.7**2 + 1.7**2})[0] == pytest.approx(34, abs=0.5)


def test_impedance() -> None:
    """H.2: R 127.732 (0.071), X 219.847 (0.295), Z 254.260 (0.236) ohm, inputs tied."""
    v, i, phi = 4.9990, 19.6610e-3, 1.04446
    u = np.array([0.0032, 0.0095e-3, 0.00075])
    tied = np.array([[1, -0.36, 0.86], [-0.36, 1, -0.65], [0.86, -0.65, 1]])
    z, cos, sin = v / i, np.cos(phi), np.sin(phi)
    slopes = np.array(
        [
            [cos / i, -z * cos / i, -z * sin],
            [sin / i, -z * sin / i, z * cos],
            [1 / i, -z / i, 0.0],
        ]
    )
    covariance = linear(slopes, tied * np.outer(u, u))
    assert (z * cos, z * sin, z) == pytest.approx((127.732, 219.847, 254.260), abs=0.01)
    assert np.sqrt(np.diag(covariance)) == pytest.approx([0.071, 0.295, 0.236], abs=0.002)


def test_four_rectangular_inputs() -> None:
    """101, 9.2.3: u 2.00, 95 % +-3.88, where the Gaussian framework says +-3.92."""
    draws = np.random.default_rng(1).uniform(-np.sqrt(3), np.sqrt(3), (DRAWS, 4))
    spread = by_draws(lambda d: d.sum(axis=1), draws)
    assert spread.u == pytest.approx(2.00, abs=0.01)
    assert spread.half_width == pytest.approx(3.88, abs=0.02)
    assert combined(dict.fromkeys("abcd", 1.0)) == (2.0, "")


def test_comparison_loss_where_the_linear_law_fails() -> None:
    """101, 9.4.2: linear 0 +- 0; by draws 50e-6 +- 50e-6, shortest interval [0, 150e-6]."""
    u = 0.005
    assert linear(np.zeros((1, 2)), u**2 * np.eye(2)).item() == 0.0
    draws = u * np.random.default_rng(2).standard_normal((DRAWS, 2))
    spread = by_draws(lambda d: (d**2).sum(axis=1), draws)
    assert spread.mean == pytest.approx(50e-6, rel=0.01)
    assert spread.u == pytest.approx(50e-6, rel=0.01)
    assert spread.low == pytest.approx(0.0, abs=1e-6)
    assert spread.high == pytest.approx(150e-6, rel=0.02)
