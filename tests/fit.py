"""The fit check held against the true solids: is the gap that is told the gap that is there?

    python -m tests.fit [--photos] [NAME ...]

For each studio instrument a cradle is planned from what a maker would know of it, and the gap at
every point of the wood is compared with the distance to the true mesh (Open3D). Rows: `exact`, the
true outline and sections sampled like a contour gauge's needles; `careful`, with the errors of a
careful hand; with --photos also `photo`, the outline as measured from the sample's first photo.
Needs the extra `studio`. Exit 1 if a gap of a row `exact` is out by more than the bar.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import open3d as o3d

from profiler.casework.cradle.berth import berth_from_room
from profiler.casework.cradle.boards import tail_room
from profiler.casework.cradle.fit import check_fit
from profiler.casework.cradle.plan import CradlePlan, plan_cradle
from profiler.casework.cradle.wishes import CradleWishes
from profiler.casework.wishes import Room
from profiler.instrument.shaping import build_solid
from tests.alignment import outline_error
from tests.cradle.known import Known, known, measured_as
from tests.docs.readme import write_between
from tests.studio.bodies.body import Body

NAMES = ("wren", "moor", "skerry", "dunlin", "heron")
BAR_MM = 0.4
#: gaps wider than this are no gaps of the fit, mm
NEAR_MM = 12.0
#: what no cradle touches, and what hides nothing below it
LEFT_OUT = ("string", "inside", "rosette", "hole wall", "f-hole", "purfling", "hollow")


@dataclass(frozen=True)
class Row:
    """One piece of one cradle: gap told less gap there, mm."""

    name: str
    kind: str
    piece: str
    count: int
    mean: float
    p95: float
    worst: float
    told: float
    there: float


def true_distance(body: Body, points: np.ndarray) -> np.ndarray:
    """(N,) mm from (N, 3) points to the true solid's skin, the instrument on the bench."""
    scene = o3d.t.geometry.RaycastingScene()
    for part in body.parts:
        if part.name not in LEFT_OUT:
            scene.add_triangles(
                o3d.core.Tensor(part.points.astype(np.float32)),
                o3d.core.Tensor(part.faces.astype(np.uint32)),
            )
    return scene.compute_distance(o3d.core.Tensor(points.astype(np.float32))).numpy()


def cradle_of(k: Known, wishes: CradleWishes | None = None) -> CradlePlan:
    """The cradle that is planned for what is known."""
    solid = build_solid(k.measurement, k.sections, k.head, k.button, k.sides)
    wishes = wishes or CradleWishes()
    berth = berth_from_room(solid.plan, Room(), tail=tail_room(solid, wishes))
    return plan_cradle(solid, berth, wishes)


def rows_of(name: str, kind: str, k: Known, shift: np.ndarray, turn: float) -> list[Row]:
    """Every piece; `shift` and `turn` lay the known frame on the true one, mm and rad."""
    plan = cradle_of(k)
    c, s = np.cos(turn), np.sin(turn)
    rotate = np.array([[c, s], [-s, c]])
    rows = []
    for fit in check_fit(plan).pieces:
        points = fit.faces.points - np.array([0.0, 0.0, plan.lift.mm])
        points = np.column_stack([points[:, :2] @ rotate + shift, points[:, 2]])
        there = true_distance(k.body, points)
        near = there <= NEAR_MM
        off = (fit.gaps - there)[near]
        rows.append(
            Row(
                name,
                kind,
                fit.piece.name,
                int(near.sum()),
                float(np.abs(off).mean()),
                float(np.percentile(np.abs(off), 95)),
                float(np.abs(off).max()),
                float(fit.gaps[near].min()),
                float(there[near].min()),
            )
        )
    return rows


def photo_known(k: Known) -> tuple[Known, np.ndarray, float]:
    """The outline of the sample's first photo, and how its frame lies on the true one."""
    import shutil
    import tempfile

    from profiler.pipeline.job import JobWishes, run_job
    from tests.accuracy import SAMPLES

    home = SAMPLES / k.body.name
    with tempfile.TemporaryDirectory() as folder:
        for path in home.iterdir():
            if path.name in ("top-1.jpg", "mat.json", "cards.json", "lens.json"):
                shutil.copy(path, folder)
        measured = run_job(JobWishes((Path(folder) / "top-1.jpg",))).measurement
    error = outline_error(measured.outline, k.measurement.outline)
    guess = measured_as(k.body, error.aligned)
    m = replace(
        guess,
        outline=measured.outline,
        outline_u95=measured.outline_u95,
        outline_part=measured.outline_part,
        widths=measured.widths,
    )
    shift, turn = rigid(measured.outline, error.aligned)
    return replace(k, measurement=m), shift, turn


def rigid(points: np.ndarray, there: np.ndarray) -> tuple[np.ndarray, float]:
    """(2,) mm and rad that lay points on where they were aligned to: p @ [[c, s], [-s, c]] + d."""
    a, b = points - points.mean(axis=0), there - there.mean(axis=0)
    turn = float(np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum()))
    c, s = np.cos(turn), np.sin(turn)
    return there.mean(axis=0) - points.mean(axis=0) @ np.array([[c, s], [-s, c]]), turn


def table(rows: list[Row]) -> list[str]:
    head = "instrument | known by | piece | points | mean | p95 | worst | told, least"
    lines = [f"| {head} | there, least |", "|---" * 9 + "|"]
    for r in rows:
        lines.append(
            f"| {r.name} | {r.kind} | {r.piece} | {r.count} | {r.mean:.2f} | {r.p95:.2f} |"
            f" {r.worst:.2f} | {r.told:.2f} | {r.there:.2f} |"
        )
    return lines


KINDS = ("neck rest", "headstock block", "tail rest", "body block")


def summary(rows: list[Row]) -> list[str]:
    """The worst of each kind of piece, a row for each instrument and way of knowing it."""
    lines = ["| instrument | known by | " + " | ".join(KINDS) + " |", "|---" * 6 + "|"]
    for name, kind in dict.fromkeys((r.name, r.kind) for r in rows):
        cells = []
        for piece in KINDS:
            mine = [r.worst for r in rows if (r.name, r.kind) == (name, kind)
                    and r.piece.startswith(piece)]  # fmt: skip
            cells.append(f"{max(mine):.2f}" if mine else "–")
        lines.append(f"| {name} | {kind} | " + " | ".join(cells) + " |")
    return lines


def main(arguments: list[str]) -> int:
    """Print the table; 1 if a row `exact` misses the bar."""
    names = [a for a in arguments if not a.startswith("-")] or list(NAMES)
    rows: list[Row] = []
    still = np.zeros(2)
    for name in names:
        exact = known(name)
        found = rows_of(name, "exact", exact, still, 0.0)
        found += rows_of(name, "careful", known(name, seed=7), still, 0.0)
        if "--photos" in arguments:
            found += rows_of(name, "photo", *photo_known(exact))
        print("\n".join(table(found)[2 if rows else 0 :]), flush=True)
        rows += found
    print("\n".join(summary(rows)))
    if "--write" in arguments:
        write_between("fit", "\n".join(summary(rows)))
    worst = max(r.worst for r in rows if r.kind == "exact")
    print(f"worst of the rows 'exact': {worst:.2f} mm; bar {BAR_MM} mm")
    return int(worst > BAR_MM)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
