"""Where ground and instrument part, decided together for all cells of a print or a winding border.

On a target a single cell says little: white may be paper or a button, black a check or a black
headstock. But a print that is known can be divided out: where ground is seen, nothing is left of
its pattern, and where it is not, the pattern stands out inverted. So each cell is asked how badly
the print explains it, and the border is laid where both the photo and the photo divided by the
print show a step. The best border is a minimum cut (Greig, Porteous and Seheult 1989; Boykov and
Jolly 2001 for the contrast in it). Where a border winds, as round tuners, the same is asked on bare
tint, in the light that the ground beside it shows: pockets of shadow are no instrument.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

from profiler.cores import on_cores
from profiler.silhouette.closer import Box, Closer, gathered, magnified, smoothly_magnified
from profiler.silhouette.ground import TARGET, TINT, WHITE, Lighting, Plan, print_light
from profiler.silhouette.inked import PRINT_RESIDUE
from profiler.silhouette.pieces import in_one_piece
from profiler.silhouette.shown import Shown
from profiler.silhouette.winding import winding

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]

#: the border may move so far out and so far in from where it was, mm: a strip of bare paper
#: in the shadow of a neck may have been taken for the neck
_OUTWARD_MM, _INWARD_MM = 4.0, 7.5
#: the ground's own light is that of bare tint about so near, no nearer than so far from what
#: was found, mm
_NEARBY_MM, _CLEAR_MM = 4.0, 1.0
#: log light: bare tint there differs from that farther round by no more than the slack, or is
#: darker by no more than this where no two of its colours differ by more than this
_DARKER, _OWN_HUE = -1.4, 0.12
#: so much coarser cells do for it; the mean of ones is rounded down to just below one
_COARSER, _ALL_OF_IT = 3, 0.999
#: where the border winds, a pocket may have been filled this deep, mm
_POCKET_MM = 14.0
#: a tuner button on a strip of paper, say, is looked for this far from what was found, mm
_OUT_OF_REACH_MM = 22.0
#: log light: shade and hue may differ by this from what is expected
_SHADE_SLACK, _HUE_SLACK = 0.3, 0.15
#: in the instrument's own shadow its colour bounces: hue may drift by this where it is darkest
_HUE_DRIFT = 0.25
#: black ink has no hue
_BLACK_SLACK = 0.5
#: share of tint's light below which proportions mean nothing: for one cell, and between two
_INK_DARK, _BARE_DARK = 0.01, 0.06
#: share of black in a cell or beside it that makes it dark
_SOME_BLACK = 0.3
#: a print's pattern is looked for so near a cell, mm; it has to vary by this, log light; the share
#: of it that has to be seen, and what is plainly too little
_PATTERN_MM, _PATTERN_SPREAD, _PATTERN_SEEN = 1.3, 0.25, (0.5, 0.2)
#: log light beyond the slack that speaks as loudly as a cell can
_SHADE_LOUD, _HUE_LOUD = 0.35, 0.2
#: linear light below which steps are noise
NOISE_LIGHT = 0.004
#: what it costs to call a cell instrument, of what it costs to call an impossible cell ground
_INSTRUMENT = 0.22
#: what a border costs per cell of this size where nothing is seen: cells count by area, borders
#: by length
_BORDER, _BORDER_MM = 2.5, 0.66
#: the step (log light) that halves that
_STEP = 0.06
#: a shaft between button and head hides no more than this, mm²; what is larger was a shadow between
#: two things
_SHAFT_MM2 = 150.0
#: cells: prints nearer than this are settled together
_MARGIN = 7
#: a cell is sure among so many of its like, across
_LIKE_CELLS = 7
#: flows are counted in whole numbers
_UNITS = 1000
#: cells side by side: across, and one above the other
Index = tuple[slice, slice]
BESIDE: tuple[tuple[Index, Index], ...] = (
    (np.s_[:, :-1], np.s_[:, 1:]),
    (np.s_[:-1, :], np.s_[1:, :]),
)


def border_anew(
    plan: Plan,
    lighting: Lighting,
    local: Image,
    wrong: Mask,
    closer: Closer | None = None,
    like: Mask | None = None,
    shown: Shown | None = None,
) -> Mask:
    """The same mask with its border laid anew on targets, on the paper's rims and where it winds.

    Args:
        plan: the photo laid flat.
        lighting: of the ground.
        local: (H, W) log shade of the bare tint round each cell.
        wrong: (H, W) what was found not to be ground.
        closer: a closer look at the photo, where there is one.
        like: (H, W) instrument that looks like tint: there its look is no reason to lay it anew.
        shown: where the print itself is seen.
    """
    printed = (plan.printed != TINT) & (plan.printed > 0)
    firm = cv2.morphologyEx(wrong.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    out = cv2.distanceTransform(1 - firm, cv2.DIST_L2, 5) * plan.cell
    into = cv2.distanceTransform(firm, cv2.DIST_L2, 5) * plan.cell
    near = (out < _OUTWARD_MM) & (into < _INWARD_MM)
    far = printed & plan.seen & (out > 0) & (out < _OUT_OF_REACH_MM)
    # none of the three asks the others, and one takes as long as the other two
    with ThreadPoolExecutor(max_workers=1) as beside:
        winding_at = beside.submit(winding, firm > 0, plan.cell)
        nearby = beside.submit(_ground_nearby, plan, lighting, local, out, shown)
        near |= _overlooked(plan, lighting, local, far)
        winds = winding_at.result() & (out < _OUTWARD_MM) & (into < _POCKET_MM)
        shade, known = nearby.result()
    widen = np.ones((5, 5), np.uint8)
    open_cells = (cv2.dilate((printed & near).astype(np.uint8), widen) > 0) & near & plan.seen
    if like is not None and like.any():
        away = cv2.distanceTransform((~like).astype(np.uint8), cv2.DIST_L2, 5) * plan.cell
        winds &= away > _POCKET_MM
    open_cells |= winds & plan.seen
    open_cells &= plan.printed > 0
    settled = wrong.copy()
    # cells look at their neighbours, and print within reach of each other is settled together
    _, groups, stats, _ = cv2.connectedComponentsWithStats(
        cv2.dilate(open_cells.astype(np.uint8), np.ones((_MARGIN, _MARGIN), np.uint8))
    )
    h, w = wrong.shape

    def anew(number: int) -> tuple[Box, Mask, Mask]:
        """Where a group lies, its cells, and what they are."""
        x, y, columns, rows, _ = stats[number].tolist()
        box = np.s_[max(y - 1, 0) : min(y + rows + 1, h), max(x - 1, 0) : min(x + columns + 1, w)]
        mine = open_cells[box] & (groups[box] == number)
        window = _Window(
            plan=_part(plan, box),
            lighting=replace(lighting, lit=lighting.lit[box]),
            shade=local[box],
            nearby=shade[box],
            known=known[box],
            wrong=wrong[box],
            open_cells=mine,
            shown=None if shown is None else shown.there[box],
        )
        laid = _laid(window) if closer is None else gathered(_laid(_closer(window, closer(box))))
        return box, mine, laid

    # the largest first: begun last, it would keep one core waiting
    order = np.argsort(-stats[1:, cv2.CC_STAT_AREA], kind="stable") + 1
    for box, mine, laid in on_cores(anew, order.tolist()):
        settled[box] = np.where(mine, laid, settled[box])
    return in_one_piece(settled, wrong, plan.cell, _SHAFT_MM2)


def _ground_nearby(
    plan: Plan, lighting: Lighting, local: Image, out: Image, shown: Shown | None
) -> tuple[Image, Image]:
    """(H, W, 3) log light of the bare tint near each cell, and (H, W) how well it is known.

    The instrument's colour bounces into its own shadow; how much is seen on the ground beside it.
    """
    asked = (out > 0) & (out < _NEARBY_MM * 4)
    rows, columns = np.flatnonzero(asked.any(axis=1)), np.flatnonzero(asked.any(axis=0))
    nearby = np.repeat(local[..., None], 3, axis=2)
    known = np.zeros(local.shape, dtype=np.float32)
    if not len(rows):
        return nearby, known
    box = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    shape = out[box].shape
    # what changes over some mm needs no fine cells
    size = (max(shape[1] // _COARSER, 1), max(shape[0] // _COARSER, 1))

    def coarse(layer: Image) -> Image:
        return np.asarray(cv2.resize(layer, size, interpolation=cv2.INTER_AREA), dtype=np.float32)

    bare = (plan.printed[box] == TINT) & (out[box] > _CLEAR_MM) & plan.seen[box]
    clear = coarse(bare.astype(np.float32)) > _ALL_OF_IT
    shaded = coarse(lighting.lit[box]) * np.exp(coarse(local[box]))[..., None]
    ratio = np.log(np.maximum(coarse(plan.light[box]), 1e-5) / np.maximum(shaded, 1e-5))
    alike = np.abs(ratio).max(axis=2) < _SHADE_SLACK
    # a thing near the bench throws a small dark shadow: its own light, but the tint's own hue
    alike |= (np.ptp(ratio, axis=2) < _OWN_HUE) & (ratio.min(axis=2) > _DARKER)
    clear &= alike
    if shown is not None:
        there = coarse(shown.there[box].astype(np.float32)) > _ALL_OF_IT
        ratio[there] = (coarse(shown.light[box]) - coarse(local[box])[..., None])[there]
        clear |= there
    reach = (0, 0), _NEARBY_MM / plan.cell / _COARSER
    weight = cv2.GaussianBlur(clear.astype(np.float32), *reach)
    mean = cv2.GaussianBlur(np.where(clear[..., None], ratio, 0).astype(np.float32), *reach)
    trust = weight / (weight + np.float32(0.03))
    more = mean * (trust / np.maximum(weight, np.float32(1e-4)))[..., None]
    nearby[box] += cv2.resize(more, shape[::-1])
    known[box] = cv2.resize(trust, shape[::-1])
    return nearby, known


def _overlooked(plan: Plan, lighting: Lighting, local: Image, asked: Mask) -> Mask:
    """(H, W) round patches of print, of those asked, that something seems to lie on."""
    if not asked.any():
        return asked
    rows, columns = np.flatnonzero(asked.any(axis=1)), np.flatnonzero(asked.any(axis=0))
    box = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    part = _part(plan, box)
    share = _share(part, lighting)
    low, high = _expected(part, lighting, share)
    mine = asked[box]
    lit = lighting.lit[box][mine] * np.exp(local[box][mine])[:, None]
    ratio = np.log(part.light[mine] / np.maximum(lit, 1e-5) + _INK_DARK)
    low, high = np.log(low[mine] + _INK_DARK), np.log(high[mine] + _INK_DARK)
    beyond = ratio - np.clip(ratio, low, high)
    off = np.abs(beyond.mean(axis=1)) > _SHADE_SLACK + 0.5 * _SHADE_LOUD
    patches = np.zeros(asked.shape, dtype=np.uint8)
    patches[box][mine] = off
    firm = cv2.morphologyEx(patches, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    size = 2 * round(_OUTWARD_MM / plan.cell) + 1
    return np.asarray(cv2.dilate(firm, np.ones((size, size), np.uint8)) > 0)


@dataclass(frozen=True)
class _Window:
    """What the border's place depends on, all (H, W) of one part of the plan."""

    plan: Plan
    lighting: Lighting
    shade: Image
    nearby: Image
    known: Image
    wrong: Mask
    open_cells: Mask
    shown: Mask | None


def _part(plan: Plan, box: Box) -> Plan:
    start = np.array([box[1].start, box[0].start])
    return replace(
        plan,
        light=plan.light[box],
        printed=plan.printed[box],
        white=plan.white[box],
        black=plan.black[box],
        seen=plan.seen[box],
        origin=plan.origin + start * plan.cell,
    )


def _closer(window: _Window, plan: Plan) -> _Window:
    """The same window on a closer look at it."""
    lighting = replace(window.lighting, lit=smoothly_magnified(window.lighting.lit))
    return _Window(
        plan,
        lighting,
        smoothly_magnified(window.shade),
        smoothly_magnified(window.nearby),
        smoothly_magnified(window.known),
        magnified(window.wrong),
        magnified(window.open_cells),
        None if window.shown is None else magnified(window.shown),
    )


def _laid(window: _Window) -> Mask:
    """(H, W) the window's mask with its border laid anew in its open cells."""
    plan, lighting = window.plan, window.lighting
    share = _share(plan, lighting)
    low, high = _expected(plan, lighting, share)
    lit = np.maximum(lighting.lit * np.exp(window.nearby), 1e-5)
    seen = plan.light / lit
    drift = _HUE_DRIFT * np.clip(-window.shade / 1.1, 0.0, 1.0) * (1 - window.known)
    seen_log, low, high = (np.log(light + _INK_DARK) for light in (seen, low, high))
    ground_cost = _unexplained(seen_log, low, high, plan.black, drift)
    own = np.log(share + _BARE_DARK)
    shown = np.log(seen + _BARE_DARK)
    ground_cost = np.maximum(ground_cost, _pattern_missing(shown, own, plan, window.wrong))
    raw = np.log(cv2.GaussianBlur(plan.light, (0, 0), plan.blur) + NOISE_LIGHT)
    bare = shown - own
    border_cost = _BORDER * _BORDER_MM / plan.cell
    borders = border_costs(raw, bare, own, border_cost)
    instrument_cost = np.full(window.open_cells.shape, np.float32(_INSTRUMENT))
    # among its like a cell is what it looks like: the cut is about the others
    inside = _among_its_like(ground_cost == 1)
    outside = _among_its_like((ground_cost == 0) & (plan.printed == TINT) & ~window.wrong)
    if window.shown is not None:
        outside |= window.shown
        inside &= ~window.shown
    asked = window.open_cells & ~inside & ~outside
    settled = (window.wrong | (inside & window.open_cells)) & ~(outside & window.open_cells)
    return cheapest_border(asked, settled, ground_cost, instrument_cost, borders)


def _among_its_like(cells: Mask) -> Mask:
    """(H, W) the cells with none but such cells near them."""
    near = np.ones((_LIKE_CELLS, _LIKE_CELLS), np.uint8)
    return np.asarray(cv2.erode(cells.astype(np.uint8), near) > 0)


def _unexplained(ratio: Image, low: Image, high: Image, black: Image, drift: Image) -> Image:
    """(H, W) 0 to 1: how badly print in any shade explains each cell."""
    beyond = ratio - np.clip(ratio, low, high)
    blue, green, red = (beyond[..., channel] for channel in range(3))
    shade = (blue + green + red) / 3
    hue = np.sqrt((blue - shade) ** 2 + (green - shade) ** 2 + (red - shade) ** 2)
    near_black = cv2.dilate(black, np.ones((3, 3), np.uint8))
    off = np.maximum(
        (np.abs(shade) - _SHADE_SLACK) / _SHADE_LOUD,
        (hue - _HUE_SLACK - drift - _BLACK_SLACK * near_black) / _HUE_LOUD,
    )
    return np.asarray(np.clip(off, 0.0, 1.0), dtype=np.float32)


def _pattern_missing(shown: Image, own: Image, plan: Plan, wrong: Mask) -> Image:
    """(H, W) 0 to 1: how plainly the print's pattern is not seen round a black cell.

    A black thing on a print looks like the print's black, but the white beside it is hidden too.
    How much of a pattern is seen is the slope of the photo on it (log light (H, W, 3) each), by
    least squares near each cell.
    """
    told = np.zeros(wrong.shape, dtype=np.float32)
    black = plan.black > _SOME_BLACK
    if not black.any():
        return told
    x, y = _mean(own), _mean(shown)
    most, least = _PATTERN_SEEN
    # a dark edge beside a print is no pattern of it: each side is asked by itself
    for side in (wrong, ~wrong):
        weight = side.astype(np.float32)
        count, mean_x, mean_y, mean_xx, mean_xy = (
            cv2.GaussianBlur(layer * weight, (0, 0), _PATTERN_MM / plan.cell)
            for layer in (np.ones_like(x), x, y, x * x, x * y)
        )
        some = 1 / np.maximum(count, 1e-3)
        mean_x, mean_y, mean_xx, mean_xy = (
            mean * some for mean in (mean_x, mean_y, mean_xx, mean_xy)
        )
        spread = mean_xx - mean_x * mean_x
        slope = (mean_xy - mean_x * mean_y) / np.maximum(spread, 1e-6)
        missing = np.clip((most - slope) / (most - least), 0.0, 1.0)
        asked = side & (spread > _PATTERN_SPREAD**2) & black
        asked &= mean_y < mean_x - _SHADE_SLACK
        told = np.where(asked, missing, told)
    return told.astype(np.float32)


def _share(plan: Plan, lighting: Lighting) -> Image:
    """(H, W, 3) light of the print beside bare tint."""
    inks = zip(lighting.white, lighting.black, strict=True)
    share = np.dstack([print_light(plan, *pair) for pair in inks])
    share[plan.printed == WHITE] = lighting.white
    return share


def _expected(plan: Plan, lighting: Lighting, share: Image) -> tuple[Image, Image]:
    """(h, w, 3) least and most light of the print beside bare tint, near each cell."""
    printed = plan.printed
    bare = (printed & TARGET) == 0
    # where a sheet ends is known to a fraction of a mm only: tint or paper
    either = bare & ((printed & WHITE) > 0)
    white = lighting.white.astype(np.float32)
    least, most = share.copy(), share.copy()
    least[either] = np.minimum(share[either], np.minimum(np.float32(1), white))
    most[either] = np.maximum(share[either], np.maximum(np.float32(1), white))
    paper = printed == WHITE
    least[paper] = most[paper] = white
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    # a phone's sharpening digs a ditch along the rim of black
    ditch = cv2.dilate(plan.black, np.ones((3, 3), np.uint8)) > _SOME_BLACK
    darkest = np.asarray(cv2.erode(least, cross), dtype=np.float32)
    darkest[ditch] = 0.0
    return darkest, np.asarray(cv2.dilate(most, cross), dtype=np.float32)


def _mean(layer: Image) -> Image:
    """(H, W) of (H, W, 3): plane by plane it takes a tenth of the time."""
    blue, green, red = (layer[..., channel] for channel in range(3))
    return np.asarray((blue + green + red) / 3, dtype=np.float32)


def _largest(difference: Image) -> Image:
    """(H, W) of (H, W, 3): plane by plane is several times faster than along the last axis."""
    blue, green, red = (np.abs(difference[..., channel]) for channel in range(3))
    return np.asarray(np.maximum(np.maximum(blue, green), red), dtype=np.float32)


def border_costs(raw: Image, bare: Image, own: Image, border_cost: float) -> list[Image]:
    """What a border costs between cells side by side, across and one above the other.

    Args:
        raw, bare, own: (H, W, 3) log light: of the photo, of the photo divided by the print, and
            of the print.
        border_cost: where nothing is seen.
    """
    costs = []
    for here, there in BESIDE:
        left = _largest(bare[here] - bare[there]) - PRINT_RESIDUE * _largest(own[here] - own[there])
        step = np.minimum(_largest(raw[here] - raw[there]), np.maximum(left, 0.0))
        costs.append(np.asarray(border_cost / (1 + (step / _STEP) ** 2), dtype=np.float32))
    return costs


def cheapest_border(
    open_cells: Mask, instrument: Mask, keep: Image, take: Image, borders: Sequence[Image]
) -> Mask:
    """(H, W) the instrument, with its open cells settled by a minimum cut.

    Args:
        open_cells: (H, W) cells that are asked for.
        instrument: (H, W) what the others are.
        keep, take: (H, W) what it costs to call an open cell ground, instrument.
        borders: (H, W - 1) and (H - 1, W) what a border costs between cells side by side.
    """
    number = np.full(open_cells.shape, -1, dtype=np.intp)
    count = int(open_cells.sum())
    number[open_cells] = np.arange(count)
    source, sink = count, count + 1
    # what is cut from the source is ground, from the sink instrument
    to_source = (take[open_cells] * _UNITS).astype(np.float64)
    to_sink = np.zeros(count)
    rows, columns, flows = [], [], []
    for (here, there), cost in zip(BESIDE, borders, strict=True):
        border = np.maximum(cost * _UNITS, 1.0)
        for one, other in ((here, there), (there, here)):
            cell, neighbour = number[one], number[other]
            both = (cell >= 0) & (neighbour >= 0)
            rows.append(cell[both])
            columns.append(neighbour[both])
            flows.append(border[both])
            # a neighbour that is settled draws its way
            rim = (cell >= 0) & (neighbour < 0)
            pull, settled = border[rim], instrument[other][rim]
            to_sink[cell[rim]] += np.where(settled, pull, 0.0)
            to_source[cell[rim]] += np.where(settled, 0.0, pull)
    to_sink += keep[open_cells] * _UNITS
    # what flows straight through a cell says nothing about the border
    spare = to_source.astype(np.int32) - to_sink.astype(np.int32)
    drawn, pushed = np.flatnonzero(spare > 0), np.flatnonzero(spare < 0)
    rows += [np.full(len(drawn), source), pushed]
    columns += [drawn, np.full(len(pushed), sink)]
    flows += [spare[drawn], -spare[pushed]]
    graph = coo_matrix(
        (
            np.concatenate(flows).astype(np.int32),
            (np.concatenate(rows).astype(np.int32), np.concatenate(columns).astype(np.int32)),
        ),
        shape=(count + 2, count + 2),
    ).tocsr()
    flow = maximum_flow(graph, source, sink)
    left = graph - flow.flow
    left.data[left.data < 0] = 0
    left.eliminate_zeros()
    reached = breadth_first_order(left, source, return_predecessors=False)
    is_ground = np.zeros(count + 2, dtype=bool)
    is_ground[reached] = True
    found = instrument.copy()
    found[open_cells] = ~is_ground[:count]
    return found
