"""The light on the bare ground, from targets of which some lie in shadow."""

from __future__ import annotations

import numpy as np

from profiler.silhouette.ground import robust_surface, surface


def test_a_corner_in_shadow_does_not_bend_the_light_down() -> None:
    """A row of targets along one side lies in the instrument's soft shadow, those at its end too:
    without knowing that shadows only darken, the surface goes through them and hangs in the corner.
    """
    x, y = (v.ravel() for v in np.meshgrid(np.linspace(0.05, 0.95, 12), np.linspace(0.1, 0.9, 6)))
    lit = -0.5 + 0.3 * x + 0.2 * y - 0.1 * x * x
    # a large body hides most of the middle, and shades what lies before it
    hidden = (x < 0.5) & (y > 0.15) & (y < 0.85)
    shade = np.where((x < 0.45) & (y < 0.5), -0.65, 0.0)
    seen = (lit + shade + 0.01 * np.random.default_rng(1).standard_normal(len(x)))[~hidden]
    where = np.column_stack([x, y])[~hidden]
    found = robust_surface(where, seen, 6, shaded=True)
    corner = np.array([0.0]), np.array([0.0])
    assert abs(float(surface(found, *corner)[0]) + 0.5) < 0.15
    # what this is worth: the shadow is 0.65 deep, and the surface takes most of it for light
    assert float(surface(robust_surface(where, seen, 6), *corner)[0]) < -0.8
