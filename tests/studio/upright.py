"""The upright row of sheets behind an instrument, and photos taken from the side before it."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from profiler.jobs.records import mat_record, record_bytes
from profiler.paper import paper_named
from profiler.target.mat import MatDesign, design_upright
from tests.studio import phone as phones
from tests.studio.bodies.body import Body
from tests.studio.meshes import Part
from tests.studio.phone import aimed
from tests.studio.printing import printed_sheets
from tests.studio.produce import ROUGH
from tests.studio.recipe import Recipe
from tests.studio.scene import Stage, stage
from tests.studio.tracer import Quality

Array = NDArray[np.float64]


#: most of a side photo is paper that stands: too few rays would make it grainy
SIDE_ROUGH = replace(ROUGH, inner_spp=4, inner_light_side=3, ambient=6)


@dataclass(frozen=True)
class SideView:
    """How the row stands and from where it is photographed; mm, mat frame.

    Attributes:
        foot: where the row's lower left paper corner stands, seen from the instrument.
        turn_deg: how the row is turned about the vertical; 0 faces the mat's -y.
        lean_deg: how far it leans back from the vertical.
        centre, target: of the camera.
        pull: what focus and stabilisation add to the lens: part of f, px, px.
    """

    foot: tuple[float, float]
    turn_deg: float
    lean_deg: float
    centre: tuple[float, float, float]
    target: tuple[float, float, float]
    roll: float = 0.0
    paper: str = "A4"
    width: float = 820.0
    pull: tuple[float, float, float] = (0.0, 0.0, 0.0)
    seed: int = 1
    taken: str = "2026:05:09 11:25:10"


def standing(
    view: SideView, recipe: Recipe, design: MatDesign
) -> tuple[list[Part], list[NDArray[np.uint8]], list[Array]]:
    """The sheets as thin meshes with their faces, the board behind them last, and (4, 4) frames
    from printed mm on each sheet to the mat."""
    rng = np.random.default_rng(view.seed)
    t, lean = np.radians(view.turn_deg), np.radians(view.lean_deg)
    x = np.array([np.cos(t), np.sin(t), 0.0])
    back = np.array([-np.sin(t), np.cos(t), 0.0])
    y = np.cos(lean) * np.array([0.0, 0.0, 1.0]) + np.sin(lean) * back
    out = np.cross(x, y)  # towards the instrument
    foot = np.array([*view.foot, 0.6])
    across, along = recipe.scale
    scale = (along, across) if design.landscape else (across, along)
    parts, frames = [], []
    for k, panel in enumerate(design.sheets):
        ox, oy = design.origin(k)
        ox, oy = ox + rng.uniform(-1.5, 1.5), oy + rng.uniform(0.0, 1.5)
        a = np.radians(rng.uniform(-0.4, 0.4))
        ex, ey = np.cos(a) * x + np.sin(a) * y, -np.sin(a) * x + np.cos(a) * y
        corner = foot + ox * x + oy * y + 0.12 * (design.count - k) * out
        w, h = panel.width, panel.height
        flat = np.array([(0, 0), (w, 0), (w, h), (0, h)], dtype=float)
        points = corner + flat[:, :1] * ex + flat[:, 1:] * ey
        # a printer scales about the middle of the page
        middle = np.array([w / 2, h / 2])
        local = np.column_stack([(flat - middle) / scale + middle, np.zeros(4)])
        parts.append(
            Part(panel.name, points, np.array([(0, 1, 2), (0, 2, 3)]), np.repeat(out[None], 4, 0),
                 "card", local)
        )  # fmt: skip
        frame = np.eye(4)
        frame[:3, 0], frame[:3, 1], frame[:3, 2] = ex * scale[0], ey * scale[1], out
        frame[:3, 3] = corner + (middle * (1 - np.array(scale))) @ np.stack([ex, ey])
        frames.append(frame)
    w, h = design.width + 24, design.height + 12
    board = (
        foot - 12 * x - 0.6 * out + np.array([(0, 0), (w, 0), (w, h), (0, h)]) @ np.stack([x, y])
    )
    parts.append(
        Part("board", board, np.array([(0, 1, 2), (0, 2, 3)]), np.repeat(out[None], 4, 0),
             "mahogany", board.copy())
    )  # fmt: skip
    dpi = 220.0 if design.sheet_width * design.sheet_height < 2e5 else 150.0
    return parts, printed_sheets(design, dpi), frames


def silhouette_truth(body: Body, step: float = 1.0) -> dict[str, object]:
    """Highest and lowest solid point at each x, all parts together and without the strings."""
    length = max(p.points[:, 0].max() for p in body.parts)
    x = np.arange(0.5, length, step)
    out: dict[str, object] = {"x": x.tolist()}
    for key, left_out in (("", ()), (" without strings", ("string",))):
        top, low = np.full(len(x), -np.inf), np.full(len(x), np.inf)
        for p in body.parts:
            if p.name in left_out:
                continue
            v = p.points[p.faces]
            for i in range(3):
                a, b = v[:, i], v[:, (i + 1) % 3]
                swap = a[:, :1] > b[:, :1]
                a, b = np.where(swap, b, a), np.where(swap, a, b)
                first = np.searchsorted(x, a[:, 0])
                last = np.searchsorted(x, b[:, 0])
                for k in range(int((last - first).max(initial=0))):
                    hit = first + k < last
                    at = (first + k)[hit]
                    s = (x[at] - a[hit, 0]) / np.maximum(b[hit, 0] - a[hit, 0], 1e-12)
                    z = a[hit, 2] + s * (b[hit, 2] - a[hit, 2])
                    np.maximum.at(top, at, z)
                    np.minimum.at(low, at, z)
        good = np.isfinite(top)
        for name, z in (("upper", top), ("lower", low)):
            out[name + key] = [
                round(float(v), 3) if g else None for v, g in zip(z, good, strict=True)
            ]
    high = [(float(p.points[:, 2].max()), p) for p in body.parts]
    z, part = max(high, key=lambda h: h[0])
    at = float(part.points[part.points[:, 2].argmax(), 0])
    out["thickest"] = {"z": round(z, 3), "x": round(at, 2), "part": part.name}
    return out


def chance_view(recipe: Recipe, body: Body, design: MatDesign, seed: int) -> SideView:
    """A side view that suits the scene and depends on the seed alone."""
    rng = np.random.default_rng(seed + 77)
    points = np.vstack([p.points for p in body.parts])
    length, half = float(points[:, 0].max()), float(np.abs(points[:, 1]).max())
    high = float(points[:, 2].max())
    turn = np.radians(recipe.pose[2])
    middle = np.array(recipe.pose[:2]) + length / 2 * np.array([np.cos(turn), np.sin(turn)])
    lens = recipe.phone.lens
    away = max(620.0, 1.17 * length * lens.f / lens.width) * rng.uniform(1.0, 1.12)
    gap = half + rng.uniform(40, 75)
    width = length * (away + gap) / away * 1.1
    paper = "A4" if width < 1000 else "A3"
    row = design_upright(paper_named(paper), width, recipe.tint)
    height = max(rng.uniform(0.85, 1.25) * high, 85.0)
    centre = (middle[0] + rng.uniform(-40, 40), middle[1] - away, height)
    return SideView(
        foot=(middle[0] - row.width / 2 + rng.uniform(-15, 15), middle[1] + gap),
        turn_deg=float(rng.normal(0, 1.0)),
        lean_deg=float(rng.normal(0, 1.5)),
        centre=tuple(float(v) for v in centre),  # type: ignore[arg-type]
        target=(
            float(middle[0] + rng.uniform(-15, 15)),
            float(middle[1]),
            float(high * rng.uniform(0.2, 0.7)),
        ),
        roll=float(rng.normal(0, 1.0)),
        paper=paper,
        width=width,
        pull=(float(rng.normal(0, 0.002)), float(rng.normal(0, 4)), float(rng.normal(0, 4))),
        seed=seed,
    )  # fmt: skip


def tail_view(recipe: Recipe, view: SideView, seed: int) -> SideView:
    """The same row, photographed from beside the tail: the head may be out of the frame."""
    rng = np.random.default_rng(seed + 78)
    turn = np.radians(recipe.pose[2])
    along = np.array([np.cos(turn), np.sin(turn)])
    away = float(rng.uniform(520.0, 640.0))
    tail = np.array(recipe.pose[:2]) + rng.uniform(-30, 60) * along
    middle = np.array(recipe.pose[:2]) + 0.3 * away * along
    return replace(
        view,
        centre=(float(tail[0]), float(tail[1] - away), view.centre[2]),
        target=(float(middle[0]), float(middle[1]), view.target[2]),
        roll=float(rng.normal(0, 1.0)),
        pull=(float(rng.normal(0, 0.002)), float(rng.normal(0, 4)), float(rng.normal(0, 4))),
        taken="2026:05:09 11:25:41",
    )


def built_truth(body: Body) -> dict[str, object]:
    """What is turned on a lathe or planed flat, as it lies: the middle of the strap button's end
    at the tail, mm, and how far the headstock's face falls away, degrees; None where there is
    none."""
    buttons = [p for p in body.parts if p.name == "button" and np.ptp(p.points[:, 1]) < 20.0]
    at_tail = [p for p in buttons if p.points[:, 0].max() < 40.0]
    tip = None
    if at_tail:
        points = at_tail[0].points
        end = points[points[:, 0] < points[:, 0].min() + 0.5 * np.ptp(points[:, 0])]
        tip = {
            "x": float(points[:, 0].min()),
            "z": float(end[:, 2].min() + end[:, 2].max()) / 2,
        }
    slopes = []
    for p in body.parts:
        if p.name != "headstock":
            continue
        v = p.points[p.faces]
        out = np.cross(v[:, 1] - v[:, 0], v[:, 2] - v[:, 0])
        area = np.linalg.norm(out, axis=1)
        up = out[:, 2] > 0.8 * area
        way = out[up][int(np.argmax(area[up]))]
        slopes.append(float(np.degrees(np.arctan2(way[0], way[2]))))
    return {"strap_button": tip, "headstock_tilt_deg": slopes[0] if slopes else None}


def photograph_side(
    recipe: Recipe, view: SideView, out: Path, width: int = 0, rough: bool = False,
    say: Callable[[str], None] = lambda _: None, number: int = 1,
) -> Stage:  # fmt: skip
    """`side-1.jpg`, `upright.json` and `side-truth.json` into a folder; further photos alone."""
    row = design_upright(paper_named(view.paper), view.width, recipe.tint)
    parts, faces, frames = standing(view, recipe, row)
    built = stage(recipe, SIDE_ROUGH if rough else Quality(), say, extra=(parts, faces))
    full = recipe.phone.lens
    lens = replace(
        full, f=full.f * (1 + view.pull[0]), cx=full.cx + view.pull[1], cy=full.cy + view.pull[2]
    )
    if width:
        lens = lens.scaled(width, round(lens.height * width / lens.width))
    camera = aimed(lens, np.array(view.centre), np.array(view.target), view.roll)
    radiance = built.tracer.photograph(camera, say)
    picture = phones.develop(radiance, recipe.phone, recipe.exposure * 0.8, recipe.seed + 50)
    out.mkdir(parents=True, exist_ok=True)
    # the samples have to stay small: further photos as they come out of a messenger
    quality = 84 if number == 1 else 60
    data = phones.jpeg(picture, replace(recipe.phone, quality=quality), 1, view.taken)
    name = f"side-{number}.jpg"
    (out / name).write_bytes(data)
    say(f"{name} {len(data) / 1e6:.2f} MB")
    if number > 1:
        return built
    across, along = recipe.scale
    sx, sy = (along, across) if row.landscape else (across, along)

    def read(length: float) -> float:
        return round(round(length / recipe.rule_step) * recipe.rule_step, 3)

    record = mat_record(row, read(row.bar_x.length * sx), read(row.bar_y.length * sy))
    (out / "upright.json").write_bytes(record_bytes(record))
    truth = {
        "units": "mm",
        **silhouette_truth(built.body),
        **built_truth(built.body),
        "view": {k: v for k, v in vars(view).items()},
        "camera_from_mat_rotation": camera.camera_from_mat.rotation.tolist(),
        "camera_centre": camera.centre.tolist(),
        "f": lens.f,
        "upright_frames": [f.tolist() for f in frames],
        "instrument_on_mat": {"x": recipe.pose[0], "y": recipe.pose[1], "turn_deg": recipe.pose[2]},
    }
    (out / "side-truth.json").write_text(json.dumps(truth, separators=(",", ":")) + "\n")
    return built


def main() -> None:
    """`python -m tests.studio.upright SEED FOLDER`, or `--sample NAME FOLDER`."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what")
    parser.add_argument("out", type=Path)
    parser.add_argument("--sample", action="store_true")
    parser.add_argument("--body", default=None)
    parser.add_argument("--width", type=int, default=2000)
    parser.add_argument("--photos", type=int, default=1)
    parser.add_argument("--no-top", action="store_true")
    parser.add_argument("--tail", action="store_true", help="side-2.jpg too, from beside the tail")
    args = parser.parse_args()
    from tests.studio import bodies
    from tests.studio.chance import random_recipe
    from tests.studio.produce import produce
    from tests.studio.samples import RECIPES
    from tests.studio.scene import design_of

    recipe = (
        RECIPES[args.what] if args.sample else random_recipe(int(args.what), args.body, args.photos)
    )
    view = chance_view(recipe, bodies.named(recipe.body), design_of(recipe), recipe.seed)
    width = 0 if args.sample else args.width
    if not args.no_top and not args.sample:
        produce(recipe, args.out, width, print, rough=True)
    photograph_side(recipe, view, args.out, width, not args.sample, print)
    if args.tail:
        tail = tail_view(recipe, view, recipe.seed)
        photograph_side(recipe, tail, args.out, width, not args.sample, print, number=2)


if __name__ == "__main__":
    main()
