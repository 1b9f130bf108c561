"""What is not ground.

A soft shadow scales the mat's colours and keeps their proportions; an instrument does not. Each
cell is asked whether any mixture of what may be printed there, in any shade, explains its colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import reduce

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.segmentation import watershed

from profiler.cores import on_cores
from profiler.optics.light import channels
from profiler.silhouette.alike import Look, hidden_by_its_like
from profiler.silhouette.closer import Closer
from profiler.silhouette.cut import border_anew
from profiler.silhouette.ground import TARGET, TINT, UNSURE, WHITE, Lighting, Plan, print_light
from profiler.silhouette.patches import SHARP_STEP, fenced_off, passes_into_ground
from profiler.silhouette.pieces import disc, filled, main_thing, rings_inside, with_enclosed
from profiler.silhouette.shown import (
    Shown,
    light_round,
    paper_unseen,
    shown_print,
    tint_unseen,
    unexpected,
)
from profiler.silhouette.slots import slots_of

_Plane = NDArray[np.float32]
_Planes = Sequence[_Plane]

#: log-ratio distance from the ground's proportions that light of another colour may cause
_HUE_SLACK = 0.17
#: further distance that the instrument's own colour, bounced into its shadow, may cause
_HUE_DRIFT = 0.4
#: a sharp step where the print changes says this much about what lies there
_SEAM_TELLS = 0.1
#: share of the drift that bounced light mostly causes
_MILD = 0.3
#: a small piece this near is the instrument's own: a button on a bright or hidden shaft, mm
_OWN_PIECE_MM = 14.0
#: what a thin rim over a seam encloses is the instrument's if it is no larger than this, the end of
#: a tailpiece (a guess)
_ENCLOSED_MM2 = 800.0
#: so far in from its edge the mat is its rim, mm
_RIM_MM = 8.0
#: smaller pieces are no things, mm²
_LEAST_PIECE_MM2 = 12.0
#: the deepest soft shadow: this part of the lit ground's light is left; and where the hue is
#: plainly the ground's and not a black thing's
_DEEPEST_SHADOW, _DEEPEST_OF_OWN_HUE = 0.10, 0.05
#: brighter than lit ground by this is no ground
_BRIGHTEST = 1.45
#: a target's cell may be so much darker or brighter than drawn, and off by so much besides,
#: where tint is 1
_TARGET_SHADE = (0.6, 1.5, 0.15)
#: what a doubtful cell says of the shade round it, beside a sure one: a grey fretboard is doubtful,
#: and must not pass for a shadow where lit ground is near; and with less than this nothing is known
_DOUBTFUL, _LEAST_TRUST = 0.02, 0.002
#: white paper may be so much darker than the tint beside it says, log light
_PAPER_SHADE = 0.4
#: light that a print shows is the ground's so far round it, mm, and where so much of it is near;
#: log shade and log hue may differ from it by this
_SHOWN_MM, _SHOWN_SHARE, _SHOWN_SHADE, _SHOWN_HUE = 4.0, 0.02, 0.3, 0.15
#: linear light below which 8-bit noise makes the hue meaningless
_NOISE_LIGHT = 0.004


@dataclass(frozen=True)
class Silhouette:
    """The instrument on the plan picture.

    Attributes:
        mask: (H, W) filled, one piece.
        others: area in mm² of each further piece that is not ground, largest first.
        at_rim: the same for the pieces that reach the mat's rim.
        touches_edge: where it reaches the end of the mat or of the photo: (N, 2) mm, mat frame.
        leaves_photo: whether that end is the photo's.
        pieces: (H, W) the further pieces, those that reach the mat's rim among them.
        ends: (H, W) the cells where it reaches the end.
        slots: (H, W) cells of the mask that may be narrow slots, from `slots_of`.
        holes: (K, 2) mm each, mat frame: round what of the mask looks like ground, cards apart.
    """

    mask: NDArray[np.bool_]
    others: tuple[float, ...]
    at_rim: tuple[float, ...]
    touches_edge: NDArray[np.float64]
    leaves_photo: bool
    pieces: NDArray[np.bool_]
    ends: NDArray[np.bool_]
    slots: NDArray[np.bool_]
    holes: tuple[NDArray[np.float64], ...] = ()


def departure(
    plan: Plan,
    lighting: Lighting,
    bare: NDArray[np.bool_] | None = None,
    closer: Closer | None = None,
    closely: bool = True,
    cards: Sequence[NDArray[np.float64]] = (),
    fenced: NDArray[np.bool_] | None = None,
) -> NDArray[np.bool_]:
    """(H, W): cells that no print in any shade explains.

    Near the instrument its colour bounces into its own shadow, so the ground's hue drifts there,
    but slowly; the grey inside of a tuner button is no further from the ground's hue, but sharply
    bounded. So patches of a drifted hue are ground where they pass into sure ground smoothly. The
    patches are parted by a watershed (Beucher and Lantuéjoul 1979) on the steps of light.
    `bare` marks targets that are known to be uncovered; `closer` looks closely at prints.
    Without `closely` the border on prints is left as rough as it comes. `cards` lie on the
    instrument, (4, 2) mm each, mat frame. What sharp steps fence off is not sure ground; `fenced`:
    (H, W) what departed so, where fences are not to be asked again.
    """
    # neither asks the other: each takes a core
    with ThreadPoolExecutor(max_workers=1) as beside:
        stepping = beside.submit(_steps, plan)
        showing = beside.submit(shown_print, plan, lighting)
        light, lit = channels(plan.light), channels(lighting.lit)
        shade, hue, distance, slack, impossible = _misfit(plan, lighting, light, lit)
        steps, shown = stepping.result(), showing.result()
    on_mat = (plan.printed > 0) & plan.seen
    target = (plan.printed & TARGET) > 0
    unsure = (plan.printed & UNSURE) > 0
    drift = _drift(shade)
    # what is nearly black is told by its hue only, and never surely
    dark = shade < np.log(_DEEPEST_SHADOW)
    sure = on_mat & ~impossible & ~dark & ~target & (distance < slack)
    # sure ground in crumbs, inside the instrument, is no place to start from
    broad = cv2.morphologyEx(
        (sure | target).astype(np.uint8), cv2.MORPH_OPEN, disc(2.5 / plan.cell)
    )
    ground = sure & (broad > 0)
    if fenced is None:
        ground &= ~fenced_off(sure, steps, shade, shown.there, plan)
    other = on_mat & ~target & (impossible | (distance > slack + drift))
    # deep in a shadow of bounced light no cell is sure, and the doubtful ones must do
    trust = np.where(ground, 1.0, np.where(on_mat & ~other & ~dark & ~target, _DOUBTFUL, 0.0))
    local = _shade_nearby(plan, shade, trust)
    covered = _covered_targets(plan, lighting, (light, lit), local, other, target)
    shown = unexpected(shown, covered, plan.cell)
    if shown.there.any():
        as_shown = on_mat & ~target & _in_shown_light(shown, shade, hue, plan.cell)
        ground |= as_shown
        other &= ~as_shown
        local = _shade_nearby(plan, shade, np.where(as_shown, 1.0, trust), shown)
        covered = _covered_targets(plan, lighting, (light, lit), local, other, target)
        covered &= ~shown.there
    if bare is not None:
        covered &= ~_standing_free(target & bare, other, plan.cell)
    markers = np.zeros(plan.printed.shape, dtype=np.int32)
    # grey metal has white paper's hue, but not its light
    paper = ((plan.printed & WHITE) > 0) & ~target
    ground &= ~(paper & (shade < local - _PAPER_SHADE))
    # nor is it ground where paper and tint should lie side by side and all is one dark grey
    ground &= ~paper_unseen(plan, lighting, shade, hue)
    # and a white thing on a white seam hides the tint on both sides of it
    on_seam = tint_unseen(plan, shade, hue, other, ground)
    ground &= ~on_seam
    other |= on_seam
    markers[ground | (target & ~covered & on_mat)] = 1
    markers[other | (covered & on_mat)] = 2
    # printed edges say nothing about what lies on the print
    seam = cv2.dilate((plan.printed != TINT).astype(np.uint8), np.ones((5, 5))) > 0
    telling = np.where(seam & (steps > 0.5 * SHARP_STEP), _SEAM_TELLS, 1.0)
    plain = np.where(target, SHARP_STEP, np.where(seam, np.minimum(steps, SHARP_STEP), steps))
    patches = (markers == 0) & on_mat & (plain < SHARP_STEP)
    _, numbered = cv2.connectedComponents(patches.astype(np.uint8), connectivity=4)
    markers[patches] = numbered[patches] + 2
    # only what is not settled yet and its neighbours need flooding
    unsettled = cv2.dilate((on_mat & (markers == 0)).astype(np.uint8), np.ones((3, 3))) > 0
    flooded = watershed(plain, np.where(unsettled, markers, 0), mask=unsettled & on_mat)
    labels = np.where(unsettled, flooded, markers).astype(np.int32)
    # a patch may reach the sure ground only across another that does
    tinted = distance < slack + _MILD * drift
    for _ in range(3):
        passes = passes_into_ground(labels, steps, telling, tinted)
        if not passes[3:].any():
            break
        labels[passes[labels]] = 1
    departed = np.asarray(on_mat & (labels != 1))
    look = Look(shade, hue, plan.light, steps, ~other, (plan.printed & WHITE) > 0)
    whole = target & ~covered if bare is None else target & bare & ~covered
    hidden = hidden_by_its_like(
        look, departed, covered & ~unsure, painted(plan, cards), whole, on_mat, plan.cell
    )
    if fenced is None and hidden.any():
        # of its grain, too, an instrument of the ground's colour has steps: they tell no wall. But
        # what they fence off of it is its own: a dark fretboard between frets and strings
        return departure(plan, lighting, bare, closer, closely, cards, fenced=departed)
    found = departed | hidden
    if fenced is not None:
        found |= fenced
    if not closely:
        return found
    return border_anew(plan, lighting, local, found, closer, hidden & ~departed, shown)


def _in_shown_light(
    shown: Shown,
    shade: NDArray[np.float32],
    hue: tuple[NDArray[np.float32], NDArray[np.float32]],
    cell: float,
) -> NDArray[np.bool_]:
    """(H, W): cells of the tint's look in the light that a print near them shows."""
    light, near = light_round(shown, cell, _SHOWN_MM)
    blue, green, red = channels(light)
    level = np.asarray((blue + green + red) / 3, dtype=np.float32)
    off_blue, off_red = hue[0] - (blue - level), hue[1] - (red - level)
    off = _squared(off_blue, -off_blue - off_red, off_red)
    alike = (np.abs(shade - level) < _SHOWN_SHADE) & (off < _SHOWN_HUE**2)
    return np.asarray((near > _SHOWN_SHARE) & alike)


def painted(plan: Plan, areas: Sequence[NDArray[np.float64]]) -> NDArray[np.bool_]:
    """(H, W): the cells in areas, (K, 2) mm each, mat frame."""
    painted = np.zeros(plan.printed.shape, dtype=np.uint8)
    for area in areas:
        cv2.fillPoly(painted, [np.rint(plan.to_cells(area) * 16).astype(np.int32)], 1, shift=4)
    return np.asarray(painted > 0)


def _drift(shade: NDArray[np.float32]) -> NDArray[np.float32]:
    """(H, W) how far bounced light may turn the hue: it only shows where light is blocked."""
    return np.asarray(_HUE_DRIFT * np.clip(-shade / 1.1, 0.0, 1.0), dtype=np.float32)


def _steps(plan: Plan) -> NDArray[np.float32]:
    """(H, W): change of log light from cell to cell."""
    soft = cv2.GaussianBlur(plan.light, (0, 0), 0.7)
    logs = [np.log(np.maximum(plane, 2e-3)) for plane in channels(np.asarray(soft))]
    down = _squared(*(np.gradient(plane, axis=0) for plane in logs))
    across = _squared(*(np.gradient(plane, axis=1) for plane in logs))
    return np.asarray(np.sqrt(down + across), dtype=np.float32)


def _squared(
    b: NDArray[np.float32], g: NDArray[np.float32], r: NDArray[np.float32]
) -> NDArray[np.float32]:
    """(H, W): squared length of colours."""
    return np.asarray(b**2 + g**2 + r**2)


def _standing_free(
    uncovered: NDArray[np.bool_], wrong: NDArray[np.bool_], cell: float
) -> NDArray[np.bool_]:
    """The uncovered targets that nothing comes near; at the others a corner may be covered."""
    _, labels = cv2.connectedComponents(
        cv2.dilate(uncovered.astype(np.uint8), disc(1.5 / cell)), connectivity=8
    )
    near = cv2.morphologyEx(wrong.astype(np.uint8), cv2.MORPH_OPEN, disc(1.5 / cell)) > 0
    touched = np.unique(labels[cv2.dilate(near.astype(np.uint8), disc(2.0 / cell)) > 0])
    return uncovered & ~np.isin(labels, touched[touched > 0])


def _shade_nearby(
    plan: Plan,
    shade: NDArray[np.float32],
    trust: NDArray[np.float64],
    shown: Shown | None = None,
) -> NDArray[np.float32]:
    """(H, W) log shade of the bare tint round each cell, weighted by trust, and of shown print."""
    tint = (trust * (plan.printed == TINT)).astype(np.float32)
    if shown is not None:
        tint = np.where(shown.there, np.float32(1), tint)
        shade = np.where(shown.there, shown.light.mean(axis=2), shade)

    def spread(layer: _Plane) -> _Plane:
        return np.asarray(cv2.GaussianBlur(layer, (0, 0), 7.0 / plan.cell), dtype=np.float32)

    weight, shaded = on_cores(spread, (tint, shade * tint))
    local = shaded / np.maximum(weight, 1e-6)
    return np.where(weight > _LEAST_TRUST, local, 0.0).astype(np.float32)


def _covered_targets(
    plan: Plan,
    lighting: Lighting,
    planes: tuple[_Planes, _Planes],
    local: NDArray[np.float32],
    wrong: NDArray[np.bool_],
    target: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """(H, W): cells of targets that do not look like the target.

    White on a white check may be paper or a white button, black on black may be a black
    instrument; but no thing is both, so each cell also listens to its neighbourhood. `planes` are
    of the plan's light and of the ground's.
    """
    shading = np.exp(local)
    drift = np.exp(_drift(local))
    low, high, either = _TARGET_SHADE

    def differs(colour: tuple[_Plane, _Plane, float, float]) -> NDArray[np.bool_]:
        light, lit, white, black = colour
        ratio = light / np.maximum(lit * shading, 1e-5)
        expected = print_light(plan, white, black)
        differing: NDArray[np.bool_] = ratio < low / drift * expected - either
        differing |= ratio > high * drift * expected + either
        return differing

    colours = zip(*planes, lighting.white, lighting.black, strict=True)
    off = reduce(np.logical_or, on_cores(differs, colours), wrong)
    vote = np.where(off, 1.0, np.where(target, -0.5, -1.0)).astype(np.float32)
    vote[plan.printed == 0] = 0.0
    heard = cv2.GaussianBlur(vote, (0, 0), 1.5 / plan.cell)
    return np.asarray(target & (heard > 0) & plan.seen)


def _misfit(
    plan: Plan, lighting: Lighting, seen: _Planes, lit: _Planes
) -> tuple[
    NDArray[np.float32],
    tuple[NDArray[np.float32], NDArray[np.float32]],
    NDArray[np.float32],
    NDArray[np.float32],
    NDArray[np.bool_],
]:
    """What each cell shows, (H, W) each; `seen` and `lit` are planes of its light and the ground's.

    Returns:
        log shade; hue of blue and of red; hue's distance from what may be printed; what of it noise
        allows; wrong brightness.
    """
    ratio = [
        np.asarray(np.log(np.maximum(a, 1e-5) / np.maximum(b, 1e-5)), dtype=np.float32)
        for a, b in zip(seen, lit, strict=True)
    ]
    shade = np.asarray((ratio[0] + ratio[1] + ratio[2]) / 3, dtype=np.float32)
    hue = [plane - shade for plane in ratio]
    # at low light the proportions drown in noise
    dark = reduce(np.minimum, (*seen, *lit))
    slack = _HUE_SLACK + _NOISE_LIGHT / np.maximum(dark, 5e-4)
    white = np.log(np.maximum(lighting.white, 1e-3))
    white_shade = float(white.mean())
    white_hue = (white - white_shade).astype(np.float32)

    distance = np.sqrt(_squared(*hue))
    # most cells may be tint only; the others are reckoned apart
    paper = (plan.printed & WHITE) > 0
    b, g, r = (plane[paper] for plane in hue)
    from_white = np.sqrt(_squared(*(h - w for h, w in zip((b, g, r), white_hue, strict=True))))
    towards_white = b * white_hue[0] + g * white_hue[1] + r * white_hue[2]
    along = np.clip(towards_white / max(float(white_hue @ white_hue), 1e-9), 0.0, 1.0)
    from_mixture = np.sqrt(
        _squared(*(h - along * w for h, w in zip((b, g, r), white_hue, strict=True)))
    )
    tinted = (plan.printed[paper] & TINT) > 0
    distance[paper] = np.where(tinted, from_mixture, from_white)
    brightest = np.log(_BRIGHTEST) + np.where(paper, max(white_shade, 0.0), 0.0)
    # black ink and black wood have no hue of their own, and white paper in such a shadow has none
    too_dark = shade < np.log(_DEEPEST_SHADOW)
    asked = too_dark & (shade > np.log(_DEEPEST_OF_OWN_HUE)) & (distance < slack) & ~paper
    grey = np.log(np.maximum([plane[asked] for plane in lit], 1e-5))
    towards_grey = grey.mean(axis=0) - grey
    from_grey = np.sqrt(((np.stack([h[asked] for h in hue]) - towards_grey) ** 2).sum(axis=0))
    too_dark[asked] = distance[asked] >= 0.5 * from_grey
    return (
        shade,
        (hue[0], hue[2]),
        np.asarray(distance, dtype=np.float32),
        np.asarray(slack, dtype=np.float32),
        np.asarray((shade > brightest) | too_dark),
    )


def find_silhouette(
    plan: Plan,
    lighting: Lighting,
    cards: Sequence[NDArray[np.float64]] = (),
    bare: NDArray[np.bool_] | None = None,
    cut_out: Sequence[NDArray[np.float64]] = (),
    closer: Closer | None = None,
    departed: NDArray[np.bool_] | None = None,
) -> Silhouette | None:
    """The largest thing that is not ground, with its holes filled.

    Args:
        plan: the photo laid flat.
        lighting: of the ground.
        cards: (4, 2) mm each, mat frame: where height cards hide what they lie on.
        bare: (H, W) targets that are known to be uncovered, from `uncovered_targets`.
        cut_out: (K, 2) mm each, mat frame: places where nothing counts as the instrument.
        closer: a closer look at the photo, where there is one.
        departed: (H, W) from `departure`, where it is known already.

    Returns:
        None where nothing stands out.
    """
    if departed is None:
        departed = departure(plan, lighting, bare, closer, cards=cards)
    wrong = departed.astype(np.uint8)
    # thin lines and figures of the printed scale, and the edges of the paper
    seam = (plan.printed != TINT) & ((plan.printed & TARGET) == 0)
    seam = cv2.dilate(seam.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    thin = disc(1.6 / plan.cell)
    no_lines = np.where(seam, cv2.morphologyEx(wrong, cv2.MORPH_OPEN, thin), wrong)
    enclosed = with_enclosed(departed, no_lines > 0, _ENCLOSED_MM2 / plan.cell**2)
    if (enclosed != departed).any():
        wrong = enclosed.astype(np.uint8)
        no_lines = np.where(seam, cv2.morphologyEx(wrong, cv2.MORPH_OPEN, thin), wrong)
    # a square of even side has no middle: the second anchor undoes the first one's shift
    square = np.ones((2, 2), np.uint8)
    kept = cv2.dilate(cv2.erode(no_lines, square, anchor=(0, 0)), square, anchor=(1, 1))
    wrong = np.asarray(kept, dtype=np.uint8)
    covered = painted(plan, cards)
    wrong[covered] = 1
    wrong[painted(plan, cut_out)] = 0
    joined = np.asarray(cv2.morphologyEx(wrong, cv2.MORPH_CLOSE, disc(1.2 / plan.cell)), np.uint8)
    # at the mat's own rim the light is least known, and nobody lays a second thing half off it
    on_mat, edge = (plan.printed > 0).astype(np.uint8), disc(_RIM_MM / plan.cell)
    off = cv2.erode(on_mat, edge) == 0
    # and the mat ends where the plan does
    rim = cv2.erode(on_mat, edge, borderType=cv2.BORDER_CONSTANT, borderValue=(0,)) == 0
    found = main_thing(joined, plan.cell, _OWN_PIECE_MM, _LEAST_PIECE_MM2, rim)
    if found is None:
        return None
    body, apart_from_it = found
    others: list[tuple[float, bool]] = []
    pieces = np.zeros(body.shape, dtype=bool)
    for size, piece in apart_from_it:
        others.append((size, bool((piece & off).any() or rim[piece].all())))
        pieces |= piece
    body = filled(
        cv2.morphologyEx(body.astype(np.uint8), cv2.MORPH_CLOSE, disc(1.0 / plan.cell)) > 0
    )
    end = ~((plan.printed > 0) & plan.seen)
    end = cv2.dilate(end.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    border = np.zeros_like(end)
    border[:3], border[-3:], border[:, :3], border[:, -3:] = True, True, True, True
    ends = np.asarray(body & (end | border))
    touching = np.argwhere(ends)[:, ::-1].astype(np.float64)
    leaves_photo = bool(
        (body & (cv2.dilate((~plan.seen).astype(np.uint8), np.ones((7, 7), np.uint8)) > 0)).any()
    )
    apart = tuple(sorted((area for area, at_rim in others if not at_rim), reverse=True))
    half_off = tuple(sorted((area for area, at_rim in others if at_rim), reverse=True))
    return Silhouette(
        body,
        apart,
        half_off,
        plan.to_mat(touching),
        leaves_photo,
        pieces,
        ends,
        slots_of(body, wrong > 0, plan.cell),
        tuple(plan.to_mat(ring) for ring in rings_inside(body & ~(departed | covered), plan.cell)),
    )
