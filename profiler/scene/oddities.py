"""Which sheets are not as the others: printed at another scale, or not lying flat.

Both are told from where the camera of the solved scene puts a sheet's points on the bench. One
printer, one paper and one lens give all sheets the same faults; so a sheet is compared with the
others, never with what it should be.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from profiler.optics.camera import Pose
from profiler.scene.record import OddSheet, PlacedPanel, Scene

Array = NDArray[np.float64]

#: sheets of one print run differ by less than this in scale; common practice, no source
_SAME_SCALE = 2e-3
#: how many times its own doubt and the others' spread a sheet or target has to stand out by
_STANDS_OUT = 5.0
#: a sheet says something about its scale along an axis if its points reach this far, mm
_LEAST_REACH_MM, _LEAST_POINTS = 60.0, 10
#: what rises less does no harm worth a word, mm
_LEAST_RISE_MM = 0.8
#: it is noticed from here on: the nearest target lies well inside the edge that curls, and the
#: sheet's place gives way to it, so of 2 mm at the edge a quarter is left there
_NOTICED_MM, _NOTICED = 0.4, 4.0
#: Huber's constant (1964), in sigmas, and rounds of reweighting
_HUBER, _ROUNDS = 2.0, 12
#: the median absolute deviation of a normal distribution, turned into its sigma
_MAD = 1.4826


@dataclass(frozen=True)
class _Seen:
    """One sheet's points over all photos: designed mm, mm on the bench and their sigma, the
    targets they belong to, and the way from the point below the camera, over its height."""

    local: Array
    place: Array
    sigma: Array
    code: NDArray[np.intp]
    arm: Array


def misprinted(scene: Scene) -> tuple[OddSheet, ...]:
    """The sheet whose print scale stands out most from the others'; both where there are two.

    Empty where none does, or where only one sheet can tell its scale.
    """
    scales = {k: fit for k, seen in _by_sheet(scene).items() if (fit := _own_scale(seen))}
    if len(scales) < 2:
        return ()
    names = list(scales)
    values = np.array([scales[k][0] for k in names])
    doubts = np.array([scales[k][1] for k in names])
    apart = values / np.nanmedian(values, axis=0) - 1
    allowed = np.empty_like(apart)
    for row in range(len(names)):
        others = np.delete(apart, row, axis=0)
        spread = _MAD * np.nanmedian(np.abs(others - np.nanmedian(others, axis=0)), axis=0)
        allowed[row] = np.maximum(_SAME_SCALE, _STANDS_OUT * np.hypot(spread, doubts[row]))
    if len(names) == 2:
        # from their median both are half the difference away
        apart, allowed = 2 * apart, np.tile(allowed.max(axis=0), (2, 1))
    excess = np.nan_to_num(np.abs(apart) / allowed).max(axis=1)
    if excess.max() <= 1:
        return ()
    chosen = range(2) if len(names) == 2 else [int(np.argmax(excess))]
    told = []
    for row in chosen:
        others = np.nanmedian(np.delete(values, row, axis=0), axis=0)
        ratio = np.nan_to_num(values[row] / others, nan=1.0)
        name = scene.sheets[names[row]].panel.name
        told.append(OddSheet(name, "scale", scale=(float(ratio[0]), float(ratio[1]))))
    return tuple(told)


def placed_alone(scene: Scene, index: int) -> PlacedPanel:
    """A sheet with the place and the scale that its own points tell, whatever the others say.

    The sheet as it is where its points are too few.
    """
    sheet = scene.sheets[index]
    seen = _by_sheet(scene).get(index)
    fit = _affine(seen) if seen is not None else None
    if fit is None or not np.isfinite(fit.doubts).all():
        return sheet
    across, up = fit.terms[1], fit.terms[2]
    # the turn that both axes share
    angle = float(np.arctan2(across[1] - up[0], across[0] + up[1]))
    c, s = np.cos(angle), np.sin(angle)
    scale = np.hypot(*fit.terms[1:].T)
    corner = fit.terms[0] - np.array([[c, -s], [s, c]]) @ (scale * fit.middle)
    pose = Pose(
        np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]),
        np.array([*corner, sheet.mat_from_panel.translation[2]]),
    )
    own = replace(sheet.scale, x=float(scale[0]), y=float(scale[1]), read=False)
    return replace(sheet, mat_from_panel=pose, scale=own)


def raised(scene: Scene, noticed: bool = False) -> Mapping[int, tuple[str, float]]:
    """Targets that lie above the bench: code to (sheet's name, mm).

    Args:
        scene: solved.
        noticed: those too that rise so little that they do no harm.
    """
    least, stands_out = (_NOTICED_MM, _NOTICED) if noticed else (_LEAST_RISE_MM, _STANDS_OUT)
    rises: dict[int, tuple[str, float, float]] = {}
    for k, seen in _by_sheet(scene).items():
        away = seen.place - scene.sheets[k].to_mat(seen.local)[:, :2]
        for code in np.unique(seen.code):
            mine = seen.code == code
            lever = (seen.arm[mine] ** 2 / seen.sigma[mine, None] ** 2).sum()
            if lever <= 0:
                continue
            # what lies z above the bench is seen z times the arm further out
            pull = (away[mine] * seen.arm[mine] / seen.sigma[mine, None] ** 2).sum()
            rises[int(code)] = (
                scene.sheets[k].panel.name, float(pull / lever), float(lever**-0.5)
            )  # fmt: skip
    if not rises:
        return {}
    all_of_them = np.array([rise for _, rise, _ in rises.values()])
    middle = float(np.median(all_of_them))
    spread = _MAD * float(np.median(np.abs(all_of_them - middle)))
    return {
        code: (name, rise)
        for code, (name, rise, u) in rises.items()
        if rise - middle > max(least, stands_out * float(np.hypot(spread, u)))
    }


def _by_sheet(scene: Scene) -> dict[int, _Seen]:
    """Index among the scene's sheets to its points, those set aside among them."""
    rows: dict[int, list[tuple[Array, Array, Array, NDArray[np.intp], Array]]] = {}
    # what the residuals show of the noise; half of all points, whatever the others do
    length = np.hypot(*scene.residuals.T)
    stated = np.concatenate([o.sigma for o in scene.observations])
    noise = max(float(np.median(length / np.maximum(stated, 1e-9))) / 1.18, 0.3)
    for camera, seen in zip(scene.cameras, scene.observations, strict=True):
        place = camera.at_height(seen.pixels, 0.0)[:, :2]
        arm = (place - camera.centre[:2]) / camera.centre[2]
        sigma = noise * seen.sigma * camera.centre[2] / camera.lens.f
        for k in range(len(scene.sheets)):
            mine = (seen.panel == k) & np.isfinite(place).all(axis=1)
            if mine.any():
                rows.setdefault(k, []).append(
                    (seen.local[mine], place[mine], sigma[mine], seen.code[mine], arm[mine])
                )
    return {
        k: _Seen(*(np.concatenate([part[i] for part in parts]) for i in range(5)))
        for k, parts in rows.items()
    }


@dataclass(frozen=True)
class _Affine:
    """place = terms[0] + (local - middle) @ terms[1:]; doubts (2,) of the lengths of both axes, nan
    where the points lie too close together along one."""

    terms: Array
    middle: Array
    doubts: Array


def _own_scale(seen: _Seen) -> tuple[Array, Array] | None:
    """(2,) print scale along x and y from this sheet alone and (2,) its standard uncertainty.

    Nan along an axis along which its points lie too close together; None if that are both.
    """
    fit = _affine(seen)
    if fit is None:
        return None
    scales = np.hypot(*fit.terms[1:].T)
    return np.where(np.isfinite(fit.doubts), scales, np.nan), fit.doubts


def _affine(seen: _Seen) -> _Affine | None:
    """What lays the designed points on the seen ones, stray ones weighed less; None for too few."""
    if len(seen.local) < _LEAST_POINTS:
        return None
    reach = np.ptp(seen.local, axis=0) >= _LEAST_REACH_MM
    if not reach.any():
        return None
    middle = seen.local.mean(axis=0)
    design = np.column_stack([np.ones(len(seen.local)), seen.local - middle])
    weight = 1 / seen.sigma
    soft = np.ones(len(weight))
    for _ in range(_ROUNDS):
        w = (weight * soft)[:, None]
        terms = np.asarray(np.linalg.lstsq(design * w, seen.place * w, rcond=None)[0], float)
        left = np.hypot(*(seen.place - design @ terms).T)
        scale = max(float(np.median(left * weight)) / 1.18, 1.0)
        soft = np.sqrt(np.minimum(1.0, _HUBER * scale / np.maximum(left * weight, 1e-12)))
    w = (weight * soft)[:, None]
    inverse = np.linalg.pinv((design * w).T @ (design * w))
    doubts = scale * np.sqrt(np.maximum(np.diag(inverse)[1:], 0.0))
    return _Affine(terms, middle, np.where(reach, doubts, np.nan))
