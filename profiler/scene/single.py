"""One photo's view of a scene that several were solved in."""

from __future__ import annotations

from dataclasses import replace

from profiler.scene.record import Scene


def of_photo(scene: Scene, index: int) -> Scene:
    """The scene with one of its photos alone: camera, observations, residuals.

    The covariance stays that of all: what is asked of the result is what is seen, not how well.
    """
    start = sum(len(o) for o in scene.observations[:index])
    mine = slice(start, start + len(scene.observations[index]))
    return replace(
        scene,
        cameras=(scene.cameras[index],),
        observations=(scene.observations[index],),
        residuals=scene.residuals[mine],
        used=scene.used[mine],
    )
