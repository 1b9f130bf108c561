"""One joint least-squares solution for lens, camera poses, sheet places, cards and print scale.

Gauss-Newton with Levenberg's damping (Levenberg 1944, Marquardt 1963) on analytic derivatives.
Every prior belief enters as an equation with its own uncertainty, so that what a photo cannot
show (the print scale; the focal length seen square-on) stays as uncertain as it was, and the
covariance says so. Robust weights are Huber's (1964) while outliers are sought; then the points
beyond four sigma are set aside by name and the rest is solved plainly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from profiler.detection.observations import Observations
from profiler.optics.camera import Camera, Pose
from profiler.optics.lens import LENS_TERMS, Lens
from profiler.scene.record import (
    NO_PAPER_DOUBT,
    LensPrior,
    PaperDoubt,
    PlacedPanel,
    PrintScale,
    Scene,
)
from profiler.target.panel import Panel

Array = NDArray[np.float64]

#: how far a taped sheet may lie from its drawn place, standard uncertainty: mm, mm, rad
SHEET_PRIOR = np.array([6.0, 6.0, 0.03])
#: how far a card may lean: rad; a headstock leans by up to 0.3
CARD_LEAN_PRIOR = 0.2
#: card and mat from one printer without a reading of the cards: their scales agree to this
SAME_PRINTER = 5e-4
#: per photo allowance for focus and stabilisation, off unless asked for: f, cx, cy in px
NO_ALLOWANCE = np.zeros(3)
_ALLOWANCE_TERMS = (0, 2, 3)
#: roles of panels that are free in space
_FREE = ("card", "upright")
_ROUNDS = 60
_OUTLIER_SIGMAS = 4.0
#: px: what is nearer than this is no outlier, as little noise as there may be: it is what the lens
#: model leaves in the corners of a very clean photo, and without them it would leave more
_NO_OUTLIER_PX = 0.2
_HUBER = 2.0


@dataclass(frozen=True)
class PanelStart:
    """A panel that was seen, with its first guess.

    `role`: 'fixed' holds its place (one sheet must, it carries the mat frame), 'sheet' slides and
    turns in the mat plane, 'card' is free in space and lies nearly level, 'upright' is free in
    space. A scene has cards or uprights, never both: they share the second print scale.
    """

    panel: Panel
    mat_from_panel: Pose
    role: str


@dataclass
class _State:
    lens: Lens
    allowances: list[Array]
    poses: list[Pose]
    panels: list[Pose]
    #: mat x, mat y, card x, card y
    scales: Array


@dataclass
class _Layout:
    """Which column of the normal equations belongs to what; -1 where a thing is held."""

    names: list[str] = field(default_factory=list)
    lens: list[int] = field(default_factory=list)
    allowance: list[list[int]] = field(default_factory=list)
    pose: list[int] = field(default_factory=list)
    panel: list[int] = field(default_factory=list)
    scale: list[int] = field(default_factory=list)

    def add(self, *names: str) -> int:
        self.names += names
        return len(self.names) - len(names)


class SceneProblem:
    """The equations of one scene.

    Args:
        prior: the lens before these photos.
        observations: one per photo; their `panel` indexes `panels`.
        panels: the panels that were seen.
        poses: first guess of camera_from_mat per photo.
        mat_scale: the mat's print scale and how well it is known.
        card_scale: the cards', or None for 'the same printer as the mat'.
        allowance: (3,) px, standard uncertainty of each photo's own f, cx, cy.
        paper: how flat and how true sheets are, from target to target.
    """

    def __init__(
        self,
        prior: LensPrior,
        observations: Sequence[Observations],
        panels: Sequence[PanelStart],
        poses: Sequence[Pose],
        mat_scale: PrintScale,
        card_scale: PrintScale | None = None,
        allowance: Array = NO_ALLOWANCE,
        paper: PaperDoubt = NO_PAPER_DOUBT,
    ) -> None:
        self.prior = prior
        self.observations = tuple(observations)
        self.panels = tuple(panels)
        self.allowance = allowance
        self.paper = paper
        self.mat_scale = mat_scale
        self.card_scale = card_scale
        card = card_scale or mat_scale
        self.start = _State(
            lens=prior.lens,
            allowances=[np.zeros(3) for _ in observations],
            poses=list(poses),
            panels=[p.mat_from_panel for p in panels],
            scales=np.array([mat_scale.x, mat_scale.y, card.x, card.y]),
        )
        self.layout = self._layout()
        #: (N, 2) measured px and (N,) px sigma over all photos
        self.pixels = np.concatenate([o.pixels for o in observations])
        self.sigma = np.concatenate([o.sigma for o in observations])
        #: (N,) which target and which panel each point belongs to
        self.target = _numbered(observations)
        self.sheet = np.concatenate([o.panel for o in observations])

    def _layout(self) -> _Layout:
        layout = _Layout()
        layout.lens = [
            layout.add(f"lens {term}") if s > 0 else -1
            for term, s in zip(LENS_TERMS, self.prior.sigma, strict=True)
        ]
        for i in range(len(self.observations)):
            who = f"photo {i + 1}"
            layout.pose.append(
                layout.add(*(f"{who} {w} {a}" for w in ("turn", "shift") for a in "xyz"))
            )
            layout.allowance.append(
                [
                    layout.add(f"{who} {LENS_TERMS[t]}") if s > 0 else -1
                    for t, s in zip(_ALLOWANCE_TERMS, self.allowance, strict=True)
                ]
            )
        for start in self.panels:
            name = start.panel.name
            if start.role == "sheet":
                layout.panel.append(
                    layout.add(f"{name} shift x", f"{name} shift y", f"{name} turn z")
                )
            elif start.role in _FREE:
                layout.panel.append(
                    layout.add(*(f"{name} {w} {a}" for w in ("turn", "shift") for a in "xyz"))
                )
            else:
                layout.panel.append(-1)
        cards = any(p.role in _FREE for p in self.panels)
        sheets = any(p.role not in _FREE for p in self.panels)
        beliefs = [
            ("mat scale x", sheets and self.mat_scale.u_x > 0),
            ("mat scale y", sheets and self.mat_scale.u_y > 0),
            ("card scale x", cards),
            ("card scale y", cards),
        ]
        layout.scale = [layout.add(n) if wanted else -1 for n, wanted in beliefs]
        return layout

    # -- equations -------------------------------------------------------------------------

    def lens_of(self, state: _State, photo: int) -> Lens:
        """The lens of one photo, its allowance included."""
        if not self.allowance.any():
            return state.lens
        vector = state.lens.vector
        vector[list(_ALLOWANCE_TERMS)] += state.allowances[photo]
        return state.lens.with_vector(vector)

    def predict(self, state: _State) -> tuple[Array, Array, Array]:
        """(N, 2) px, (2N, P) derivatives of them, (2N, 5) what the paper's doubts do to them: three
        that the points of a target share, and two that those of a sheet share."""
        layout = self.layout
        columns = len(layout.names)
        all_pixels, all_rows, all_doubts = [], [], []
        for i, seen in enumerate(self.observations):
            n = len(seen)
            rows = np.zeros((n, 2, columns))
            is_card = np.array([p.role in _FREE for p in self.panels], dtype=bool)[seen.panel]
            factor = np.where(is_card[:, None], state.scales[2:], state.scales[:2])
            rotations = np.array([p.rotation for p in state.panels])[seen.panel]
            shifts = np.array([p.translation for p in state.panels])[seen.panel]
            flat = seen.local * factor
            # (N, 3) mm, turned into the mat frame but not yet moved there
            arm = rotations[:, :, 0] * flat[:, :1] + rotations[:, :, 1] * flat[:, 1:]
            pose = state.poses[i]
            turned = (arm + shifts) @ pose.rotation.T
            pixels, by_point, by_terms = self.lens_of(state, i).jacobian(turned + pose.translation)
            for term, column in enumerate(layout.lens):
                if column >= 0:
                    rows[:, :, column] = by_terms[:, :, term]
            for term, column in zip(_ALLOWANCE_TERMS, layout.allowance[i], strict=True):
                if column >= 0:
                    rows[:, :, column] = by_terms[:, :, term]
            at = layout.pose[i]
            rows[:, :, at : at + 3] = _by_turn(by_point, turned)
            rows[:, :, at + 3 : at + 6] = by_point
            by_mat = by_point @ pose.rotation
            doubt = np.empty((n, 2, 5))
            doubt[:, :, :3] = by_mat * [self.paper.wanders, self.paper.wanders, self.paper.rises]
            for k, start in enumerate(self.panels):
                at = layout.panel[k]
                if at < 0:
                    continue
                mine = seen.panel == k
                if start.role == "sheet":
                    rows[mine, :, at : at + 2] = by_mat[mine, :, :2]
                    rows[mine, :, at + 2] = _by_turn(by_mat[mine], arm[mine])[:, :, 2]
                else:
                    rows[mine, :, at : at + 3] = _by_turn(by_mat[mine], arm[mine])
                    rows[mine, :, at + 3 : at + 6] = by_mat[mine]
            for axis in (0, 1):
                by_scale = (
                    np.einsum("nij,nj->ni", by_mat, rotations[:, :, axis])
                    * seen.local[:, axis, None]
                )
                doubt[:, :, 3 + axis] = self.paper.stretches * by_scale
                for column, mine in (
                    (layout.scale[axis], ~is_card),
                    (layout.scale[2 + axis], is_card),
                ):
                    if column >= 0:
                        rows[mine, :, column] = by_scale[mine]
            all_pixels.append(pixels)
            all_rows.append(rows.reshape(2 * n, columns))
            doubt[is_card] = 0.0
            all_doubts.append(doubt.reshape(2 * n, 5))
        return (
            np.concatenate(all_pixels),
            np.concatenate(all_rows),
            np.concatenate(all_doubts),
        )

    def apart(self, doubts: Array, *of: Array) -> list[Array]:
        """Vectors (2N,) or matrices (2N, P), what the points of a target or a sheet share counted
        once.

        A target that lies too high or was printed a little aside is out as a whole, a sheet that
        was printed larger as well.

        Args:
            doubts: (2N, 5) from `predict`, over the standard uncertainty of a point.
            of: (2N, ...) residuals and their derivatives, over the same.
        """
        if not doubts.any():
            return list(of)
        of_sheets, *rest = _shared_once(self.target, doubts[:, :3], doubts[:, 3:], *of)
        return _shared_once(self.sheet, of_sheets, *rest)

    def beliefs(self, state: _State) -> tuple[Array, Array]:
        """Prior equations: (Q,) belief minus state over its sigma, and (Q, P) derivatives."""
        layout = self.layout
        values: list[float] = []
        rows: list[Array] = []

        def believe(difference: float, sigma: float, *parts: tuple[int, float]) -> None:
            row = np.zeros(len(layout.names))
            for column, factor in parts:
                row[column] = factor / sigma
            values.append(difference / sigma)
            rows.append(row)

        believed = self.prior.lens.vector - state.lens.vector
        for term, column in enumerate(layout.lens):
            if column >= 0 and np.isfinite(self.prior.sigma[term]):
                believe(believed[term], self.prior.sigma[term], (column, 1.0))
        for photo, columns in enumerate(layout.allowance):
            for j, column in enumerate(columns):
                if column >= 0:
                    believe(-state.allowances[photo][j], self.allowance[j], (column, 1.0))
        for k, start in enumerate(self.panels):
            at = layout.panel[k]
            if at < 0:
                continue
            now = state.panels[k]
            if start.role == "sheet":
                moved = start.mat_from_panel.translation - now.translation
                relative = start.mat_from_panel.rotation @ now.rotation.T
                turn = float(np.arctan2(relative[1, 0], relative[0, 0]))
                for j, difference in enumerate((moved[0], moved[1], turn)):
                    believe(difference, SHEET_PRIOR[j], (at + j, 1.0))
            elif start.role == "card":
                normal = now.rotation[:, 2]
                # a turn w moves the normal n by w x n
                nx, ny, nz = (float(v) for v in normal)
                believe(ny, CARD_LEAN_PRIOR, (at, nz), (at + 2, -nx))
                believe(-nx, CARD_LEAN_PRIOR, (at + 1, nz), (at + 2, -ny))
        mat = (self.mat_scale.x, self.mat_scale.y)
        for axis, u in enumerate((self.mat_scale.u_x, self.mat_scale.u_y)):
            column = layout.scale[axis]
            if column >= 0:
                believe(mat[axis] - state.scales[axis], u, (column, 1.0))
        for axis in (0, 1):
            column = layout.scale[2 + axis]
            if column < 0:
                continue
            if self.card_scale is not None:
                value = (self.card_scale.x, self.card_scale.y)[axis]
                u = max((self.card_scale.u_x, self.card_scale.u_y)[axis], 1e-9)
                believe(value - state.scales[2 + axis], u, (column, 1.0))
            else:
                parts = [(column, 1.0)]
                if layout.scale[axis] >= 0:
                    parts.append((layout.scale[axis], -1.0))
                believe(state.scales[axis] - state.scales[2 + axis], SAME_PRINTER, *parts)
        if not rows:
            return np.zeros(0), np.zeros((0, len(layout.names)))
        return np.array(values), np.array(rows)

    def moved(self, state: _State, step: Array) -> _State:
        """The state after a step (P,) in parameter space."""
        layout = self.layout

        def get(column: int) -> float:
            return float(step[column]) if column >= 0 else 0.0

        lens = state.lens.with_vector(state.lens.vector + [get(c) for c in layout.lens])
        allowances = [
            a + [get(c) for c in columns]
            for a, columns in zip(state.allowances, layout.allowance, strict=True)
        ]
        poses = [
            pose.nudged(step[at : at + 3], step[at + 3 : at + 6])
            for pose, at in zip(state.poses, layout.pose, strict=True)
        ]
        panels = []
        for pose, at, start in zip(state.panels, layout.panel, self.panels, strict=True):
            if at < 0:
                panels.append(pose)
            elif start.role == "sheet":
                panels.append(
                    pose.nudged(
                        np.array([0.0, 0.0, step[at + 2]]), np.array([step[at], step[at + 1], 0.0])
                    )
                )
            else:
                panels.append(pose.nudged(step[at : at + 3], step[at + 3 : at + 6]))
        scales = state.scales + np.array([get(c) for c in layout.scale])
        if layout.scale[2] < 0:  # no cards: keep the cards' scale the mat's, for the record
            scales[2:] = scales[:2]
        return _State(lens, allowances, poses, panels, scales)


def _shared_once(group: NDArray[np.intp], shared: Array, *of: Array) -> list[Array]:
    """What the points of a group share counted once.

    Multiplied by the inverse root of 1 + u u', u being what shared doubts do to the points of a
    group in all photos, their errors are as good as independent.

    Args:
        group: (N,) of each point.
        shared: (2N, K) the columns of u, over the standard uncertainty of a point.
        of: (2N, ...) residuals, derivatives, other doubts, over the same.
    """
    groups, k = np.repeat(group, 2), shared.shape[1]
    order = np.argsort(groups, kind="stable")
    _, first, groups = np.unique(groups[order], return_index=True, return_inverse=True)

    def summed(values: Array) -> Array:
        sums: Array = np.add.reduceat(values, first, axis=0)
        return sums

    shared, apart = shared[order], [one[order] for one in of]
    squares = summed((shared[:, :, None] * shared[:, None, :]).reshape(-1, k * k))
    sizes, ways = np.linalg.eigh(squares.reshape(-1, k, k))
    sizes = np.maximum(sizes, 0.0)
    own = np.einsum("ni,nij->nj", shared, ways[groups])
    less = (1 - 1 / np.sqrt(1 + sizes)) / np.maximum(sizes, 1e-12)
    for column in range(k):
        u, share = own[:, column], less[:, column]
        for which, one in enumerate(apart):
            wide = (slice(None),) + (None,) * (one.ndim - 1)
            taken = share[wide] * summed(u[wide] * one)
            apart[which] = one - u[wide] * taken[groups]
    back = np.argsort(order)
    return [one[back] for one in apart]


def _numbered(observations: Sequence[Observations]) -> NDArray[np.intp]:
    """(N,) points of the same panel and tag have one number, in all photos."""
    keys = np.concatenate([np.column_stack([o.panel, o.code]) for o in observations])
    _, number = np.unique(keys, axis=0, return_inverse=True)
    return np.asarray(number.ravel(), dtype=np.intp)


def _by_turn(by_point: Array, arm: Array) -> Array:
    """Derivative by a small rotation vector w of p(arm + w x arm): (N, 2, 3)."""
    a, b, c = (arm[:, i, None] for i in range(3))
    x, y, z = (by_point[:, :, i] for i in range(3))
    return np.stack([b * z - c * y, c * x - a * z, a * y - b * x], axis=2)


def solve_scene(problem: SceneProblem, robust: bool = True, lens_source: str = "") -> Scene:
    """Solve the scene.

    Args:
        problem: the equations.
        robust: seek outliers and set them aside.
        lens_source: what the lens belief came from; the prior's own source if empty.

    Returns:
        the scene with covariance; the covariance is scaled by what the residuals show, since the
        assumed pixel noise is only a guess.
    """
    state = problem.start
    used = np.ones(len(problem.pixels), dtype=bool)
    if robust:
        state = _minimise(problem, state, used, huber=True, tolerance=1e-4)
        for _ in range(3):
            pixels, _, _ = problem.predict(state)
            off = np.hypot(*(problem.pixels - pixels).T)
            distance = off / problem.sigma
            # Rayleigh: seven tenths lie within 1.552 sigma. Of all points: what a lens or a curled
            # sheet leaves is no noise, and setting the worst aside again and again would eat up
            # half of them
            scale = max(float(np.quantile(distance, 0.7)) / 1.552, 0.3)
            inside = (distance < _OUTLIER_SIGMAS * scale) | (off < _NO_OUTLIER_PX)
            if np.array_equal(inside, used):
                break
            used = inside
            state = _minimise(problem, state, used, huber=False, tolerance=1e-6)
    state = _minimise(problem, state, used, huber=False, tolerance=1e-13)
    return _scene(problem, state, used, lens_source or problem.prior.source)


def _cost_terms(
    problem: SceneProblem, state: _State, used: NDArray[np.bool_], huber: bool
) -> tuple[float, Array, Array]:
    pixels, rows, doubts = problem.predict(state)
    difference = (problem.pixels - pixels) / problem.sigma[:, None]
    weight = used.astype(np.float64)
    beyond = 0.0
    if huber:
        distance = np.maximum(np.hypot(*difference.T), 1e-12)
        weight = weight * np.sqrt(np.minimum(1.0, _HUBER / distance))
        # what a point far off costs more than its share of the residual: Huber's straight arms
        beyond = float((used * np.maximum(_HUBER * (distance - _HUBER), 0.0)).sum())
    factor = np.repeat(weight / problem.sigma, 2)
    own, own_rows = problem.apart(
        doubts * factor[:, None], (difference * weight[:, None]).ravel(), rows * factor[:, None]
    )
    believed, belief_rows = problem.beliefs(state)
    residual = np.concatenate([own, believed])
    jacobian = np.concatenate([own_rows, belief_rows])
    return float(residual @ residual) + beyond, residual, jacobian


def _minimise(
    problem: SceneProblem, state: _State, used: NDArray[np.bool_], huber: bool, tolerance: float
) -> _State:
    damping = 1e-4
    cost, residual, jacobian = _cost_terms(problem, state, used, huber)
    for _ in range(_ROUNDS):
        normal = jacobian.T @ jacobian
        gradient = jacobian.T @ residual
        diagonal = np.maximum(np.diag(normal), 1e-30)
        improved = False
        while damping < 1e12:
            scale = np.sqrt(diagonal * (1 + damping))
            # scaled to a unit diagonal: pixels, millimetres and radians meet in one matrix
            matrix = (normal + np.diag(damping * diagonal)) / np.outer(scale, scale)
            step = np.linalg.solve(matrix, gradient / scale) / scale
            trial = problem.moved(state, step)
            with np.errstate(all="ignore"):
                trial_cost, trial_residual, trial_jacobian = _cost_terms(
                    problem, trial, used, huber
                )
            if np.isfinite(trial_cost) and trial_cost <= cost:
                improved = True
                break
            damping = max(damping, 1e-9) * 10
        if not improved:
            break
        gain = cost - trial_cost
        state, cost, residual, jacobian = trial, trial_cost, trial_residual, trial_jacobian
        damping = max(damping / 10, 1e-12)
        if gain <= tolerance * max(cost, 1e-30):
            break
    return state


def _scene(
    problem: SceneProblem, state: _State, used: NDArray[np.bool_], lens_source: str
) -> Scene:
    pixels, rows, doubts = problem.predict(state)
    residuals = problem.pixels - pixels
    kept = residuals[used]
    rms = float(np.sqrt((kept**2).sum(axis=1).mean())) if used.any() else float("nan")
    _, belief_rows = problem.beliefs(state)
    over = np.repeat(used / problem.sigma, 2)
    (own,) = problem.apart(doubts * over[:, None], residuals.ravel() * over)
    squared = (own**2).reshape(-1, 2).sum(axis=1)
    normalised = squared.sum()
    freedom = max(2 * int(used.sum()) - len(problem.layout.names) + len(belief_rows), 1)
    noise = max(float(normalised / freedom), 1e-6)
    which = np.concatenate([o.panel for o in problem.observations])
    # a creased sheet or a bent card is noisier than the rest, and its own place less sure
    per_point = np.full(len(used), noise)
    for k in range(len(problem.panels)):
        mine = used & (which == k)
        per_point[mine] = max(noise, float(squared[mine].sum()) / max(2 * int(mine.sum()) - 6, 1))
    over = np.repeat(used / (problem.sigma * np.sqrt(per_point)), 2)
    (weighted,) = problem.apart(doubts * over[:, None], rows * over[:, None])
    normal = weighted.T @ weighted + belief_rows.T @ belief_rows
    scale = 1 / np.sqrt(np.maximum(np.diag(normal), 1e-30))
    covariance = np.linalg.pinv(normal * np.outer(scale, scale), rcond=1e-13) * np.outer(
        scale, scale
    )
    sheets: list[PlacedPanel] = []
    cards: list[PlacedPanel] = []
    for k, start in enumerate(problem.panels):
        mine = used & (which == k)
        x, y = state.scales[2:] if start.role in _FREE else state.scales[:2]
        belief = problem.card_scale if start.role in _FREE else problem.mat_scale
        scale_record = replace(belief or problem.mat_scale, x=float(x), y=float(y))
        panel_rms = (
            float(np.sqrt((residuals[mine] ** 2).sum(axis=1).mean()))
            if mine.any()
            else float("nan")
        )
        placed = PlacedPanel(start.panel, state.panels[k], scale_record, int(mine.sum()), panel_rms)
        (cards if start.role in _FREE else sheets).append(placed)
    cameras = tuple(
        Camera(problem.lens_of(state, i), state.poses[i]) for i in range(len(state.poses))
    )
    return Scene(
        cameras=cameras,
        sheets=tuple(sheets),
        cards=tuple(cards),
        parameters=tuple(problem.layout.names),
        covariance=covariance,
        rms=rms,
        residuals=residuals,
        used=used,
        observations=problem.observations,
        lens_source=lens_source,
    )
