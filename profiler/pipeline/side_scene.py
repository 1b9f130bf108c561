"""The place of a camera that looks from the side, and of the sheets that stand behind.

What the photos from above have solved is taken as it is: the mat's sheets lie where they lie. So a
side photo can only add to a measurement. The sheets that it sees on the bench, at a grazing angle,
tie it to the bench; those that stand upright are free in space and tell the lens.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.detection.grazing import corner_observations, find_grazing_tags
from profiler.detection.observations import Observations
from profiler.detection.observe import observe
from profiler.detection.sharpness import edge_blur
from profiler.detection.tags import find_tags
from profiler.errors import RequestError, SceneError
from profiler.optics.camera import Pose
from profiler.optics.lens import LENS_TERMS
from profiler.paper import PAPERS
from profiler.pipeline.side_register import registered
from profiler.scene.record import LensPrior, PlacedPanel, PrintScale, Scene
from profiler.scene.solve import PanelStart, SceneProblem, solve_scene
from profiler.scene.start import plane_poses
from profiler.target.mat import MatDesign, design_upright
from profiler.target.panel import Panel
from profiler.target.tags import UPRIGHT_CODE_START

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]

#: an upright sheet leans by less than this, degrees
STEEPEST_LEAN = 20.0
#: targets and saddles of the mat that tie the photo to the bench
_LEAST_MAT_TARGETS, _LEAST_MAT_POINTS = 3, 8
_LEAST_UPRIGHT_POINTS = 8
#: standard uncertainty of the paper's height above the bench plane, mm: sheets overlap and lift a
#: little (common practice, no source); seen at a grazing angle it shows
_PAPER_LIFTS_MM = 0.12
#: focus and stabilisation between a photo from above and one from nearer by: part of f, of width
_FOCUS, _CENTRE = 0.004, 0.002
#: how far off the print on the bench is looked for, round after round, px; targets needed
_REACH_PX = (14, 6, 4)
_LEAST_REGISTERED = 5
#: px at 4000 px: a good solution is far below
_WORST_RMS = 2.0
_BLUR_OF_DIAGONAL = 4.5e-4
_BLUR_PX = 1.6


class SideUnusable(SceneError):
    """A side photo that cannot be placed."""

    def __init__(self, photo: str, what: str) -> None:
        self.photo, self.what = photo, what
        super().__init__(f"{photo}: {what}")


@dataclass(frozen=True)
class SideScene:
    """Attributes:
    scene: with the side camera alone; `cards` are the upright sheets, `sheets` the mat's.
    design: of the upright row.
    lean: degrees from the vertical, of the upright sheet that leans most.
    """

    scene: Scene
    design: MatDesign
    lean: float


def upright_seen(gray: Gray) -> bool:
    """Whether a photo shows sheets of the upright row."""
    return sum(code >= UPRIGHT_CODE_START for code in find_tags(gray)) >= 2


def solve_side(
    photo: str,
    pixels: NDArray[np.uint8],
    scene: Scene,
    lens: LensPrior,
    design: MatDesign | None,
    scale: PrintScale,
) -> SideScene:
    """Place a side photo in a solved scene.

    Args:
        photo: its name.
        pixels: (H, W, 3) 8 bit BGR.
        scene: of the photos from above.
        lens: what was believed of the lens before any photo.
        design: of the upright row, None to recognise its paper.
        scale: the upright row's print scale.

    Raises:
        SideUnusable: it says what is missing and what to do.
    """
    gray = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
    tags = find_tags(gray)
    standing = {code: quad for code, quad in tags.items() if code >= UPRIGHT_CODE_START}
    if len(standing) < 2:
        raise SideUnusable(
            photo,
            "no upright sheet is seen in this side view. Print the row with 'profiler mat"
            " --upright', tape it to a box or a board that stands behind the instrument, and take"
            " the photo with its printed squares in sight above the instrument.",
        )
    row = design or _recognised(standing)
    if row is None:
        raise SideUnusable(
            photo,
            "the upright sheets are not those of a row that 'profiler mat --upright' prints. Put"
            " upright.json, the record that was written with them, beside the photo.",
        )
    lying = [s.panel for s in scene.sheets]
    panels: list[Panel] = [*lying, *row.sheets]
    seen = observe(gray, tags, panels)
    ours = {cluster.code for panel in lying for cluster in panel.clusters}
    slivers = {
        code: quad
        for code, quad in _grazing(gray, seen, len(lying), scene).items()
        if code in ours and (code not in tags or (seen.code == code).sum() < 2)
    }
    on_bench = ours & (set(tags) | set(slivers))
    if len(on_bench) < _LEAST_MAT_TARGETS:
        raise SideUnusable(
            photo,
            f"only {len(on_bench)} of the mat's targets on the bench can be read in this side view,"
            f" {_LEAST_MAT_TARGETS} are needed to tie it to the bench. Show more of the mat in"
            " front of the instrument, or raise the phone by a finger's breadth.",
        )
    seen = _together(seen, corner_observations(slivers, panels))
    flat = seen.panel < len(lying)
    if flat.sum() < _LEAST_MAT_POINTS:
        raise SideUnusable(
            photo,
            "the mat's printed squares on the bench are seen too flatly to measure. Raise the phone"
            " to the height of the strings, and show more of the mat in front of the instrument.",
        )
    _check_sharp(photo, gray, seen, row)
    camera_from_mat = _side_pose(seen, flat, scene, lens)
    if camera_from_mat is None:
        raise SideUnusable(
            photo, "the mat in this side view does not lie as in the photos from above."
        )
    wanted = [
        k
        for k in range(len(panels))
        if (seen.panel == k).sum() >= (2 if k < len(lying) else _LEAST_UPRIGHT_POINTS)
    ]
    starts: list[PanelStart] = []
    renumber = np.full(len(panels), -1)
    for k in wanted:
        if k < len(lying):
            start = PanelStart(panels[k], scene.sheets[k].mat_from_panel, "fixed")
        else:
            pose = _standing_pose(seen, k, scene, camera_from_mat)
            if pose is None:
                continue
            start = PanelStart(panels[k], pose, "upright")
        renumber[k] = len(starts)
        starts.append(start)
    if not any(s.role == "upright" for s in starts):
        raise SideUnusable(
            photo,
            "too little of the upright sheets is seen to place them: at least three printed squares"
            " of one sheet must be in sight above the instrument.",
        )
    # every sheet may be found again by its print, also one whose saddles are too flat
    for k in np.flatnonzero(renumber[: len(lying)] < 0).tolist():
        renumber[k] = len(starts)
        starts.append(PanelStart(panels[k], scene.sheets[k].mat_from_panel, "fixed"))
    prior, mat_scale = _side_prior(scene, lens), _solved_scale(scene)

    def solve(points: Observations, pose: Pose) -> Scene:
        loose = _loosened(_renumbered(points, renumber), starts, scene, pose)
        return solve_scene(SceneProblem(prior, [loose], starts, [pose], mat_scale, scale))

    solved = solve(seen, camera_from_mat)
    stands = _only(seen, ~flat)
    for reach in _REACH_PX:
        camera = solved.cameras[0]
        again = registered(gray, camera, scene.sheets, reach)
        if len(again) < _LEAST_REGISTERED:
            break
        solved = solve(_together(stands, again), camera.camera_from_mat)
    return _checked(photo, solved, row)


def _grazing(gray: Gray, seen: Observations, first: int, scene: Scene) -> dict[int, Array]:
    """Tags on the bench that are slivers in the photo, read with the upright sheet seen best."""
    counts = np.bincount(seen.panel[seen.panel >= first], minlength=first + 1)
    best = int(np.argmax(counts))
    mine = seen.panel == best
    if mine.sum() < _LEAST_UPRIGHT_POINTS:
        return {}
    lens = scene.cameras[0].lens
    candidates = plane_poses(lens, seen.local[mine], seen.pixels[mine])
    return find_grazing_tags(gray, lens, candidates[0][1]) if candidates else {}


def _only(seen: Observations, which: NDArray[np.bool_]) -> Observations:
    return Observations(
        seen.panel[which],
        seen.code[which],
        seen.local[which],
        seen.pixels[which],
        seen.sigma[which],
    )


def _together(one: Observations, other: Observations) -> Observations:
    return Observations(
        *(
            np.concatenate([getattr(one, name), getattr(other, name)])
            for name in ("panel", "code", "local", "pixels", "sigma")
        )
    )


def _recognised(tags: dict[int, Array]) -> MatDesign | None:
    """The row of a known paper whose targets lie as these do, within each sheet."""
    best: tuple[float, MatDesign] | None = None
    for paper in PAPERS.values():
        try:
            row = design_upright(paper)
        except RequestError:
            continue
        per = row.clusters_per_sheet
        count = (max(tags) - UPRIGHT_CODE_START) // per + 1
        row = replace(row, columns=max(row.columns, count))
        misfits = []
        for sheet in row.sheets:
            known = [c for c in sheet.clusters if c.code in tags]
            if len(known) < 4:
                continue
            drawn = np.array([c.tag_corners() for c in known]).reshape(-1, 2)
            at = np.array([tags[c.code] for c in known]).reshape(-1, 2)
            fit, _ = cv2.findHomography(at, drawn, cv2.LMEDS)
            if fit is None or np.shape(fit) != (3, 3):
                misfits.append(99.0)
                continue
            back = cv2.perspectiveTransform(at.reshape(-1, 1, 2), np.asarray(fit)).reshape(-1, 2)
            misfits.append(float(np.median(np.hypot(*(back - drawn).T))))
        if misfits and (best is None or float(np.median(misfits)) < best[0]):
            best = float(np.median(misfits)), row
    return best[1] if best and best[0] < 1.0 else None


def _check_sharp(photo: str, gray: Gray, seen: Observations, row: MatDesign) -> None:
    stands = seen.panel >= int(seen.panel.max(initial=0)) - row.count
    stands &= seen.code >= UPRIGHT_CODE_START
    if stands.sum() < 6:
        return
    drawn = np.array([row.origin(0)]) + seen.local[stands]
    drawn[:, 0] += row.sheet_width * seen.panel[stands]
    check = row.sheets[0].clusters[0].check_mm
    blur = edge_blur(gray, drawn, seen.pixels[stands], check)
    worst = float(np.nanmedian(blur)) if np.isfinite(blur).any() else 0.0
    if worst > max(2 * _BLUR_PX, 2 * _BLUR_OF_DIAGONAL * float(np.hypot(*gray.shape))):
        raise SideUnusable(
            photo,
            f"the upright sheets are blurred (printed edges are smeared over {2.5 * worst:.0f}"
            " pixels). Tap on the instrument to focus, rest the phone on a block, and move the"
            " upright sheets nearer to the instrument.",
        )


def _side_pose(
    seen: Observations, flat: NDArray[np.bool_], scene: Scene, lens: LensPrior
) -> Pose | None:
    solved = scene.cameras[0].lens
    on_bench = zip(seen.panel[flat], seen.local[flat], strict=True)
    points = np.concatenate([scene.sheets[k].to_mat(p[None]) for k, p in on_bench])
    found, turn, shift = cv2.solvePnP(
        points.reshape(-1, 1, 3),
        seen.pixels[flat].reshape(-1, 1, 2),
        solved.matrix,
        solved.distortion,
        flags=cv2.SOLVEPNP_SQPNP,
    )
    if not found:
        return None
    pose = Pose(np.asarray(cv2.Rodrigues(turn)[0], np.float64), np.ravel(shift).astype(np.float64))
    above: float = pose.inverse().translation[2]
    return pose if above > 0 else None


def _standing_pose(seen: Observations, k: int, scene: Scene, camera_from_mat: Pose) -> Pose | None:
    mine = seen.panel == k
    candidates = plane_poses(scene.cameras[0].lens, seen.local[mine], seen.pixels[mine])
    poses = [(error, camera_from_mat.inverse().after(pose)) for error, pose in candidates]
    if not poses:
        return None
    least = max(poses[0][0], 0.3)
    # of two tilts that explain it about as well, the one that stands
    near = [p for p in poses if p[0] < 3 * least]
    return min(near, key=lambda p: abs(float(p[1].rotation[2, 2])))[1]


def _side_prior(scene: Scene, lens: LensPrior) -> LensPrior:
    solved = scene.cameras[0].lens
    sigma = np.zeros(len(LENS_TERMS))
    for k, term in enumerate(LENS_TERMS):
        if f"lens {term}" in scene.parameters:
            at = scene.parameters.index(f"lens {term}")
            sigma[k] = float(np.sqrt(scene.covariance[at, at]))
    loose = {"f": _FOCUS * solved.f, "cx": _CENTRE * solved.width, "cy": _CENTRE * solved.width}
    for term, value in loose.items():
        k = LENS_TERMS.index(term)
        sigma[k] = float(np.hypot(sigma[k], value))
    return LensPrior(solved, sigma, lens.source)


def _solved_scale(scene: Scene) -> PrintScale:
    """The mat's scale as solved, held: its doubt is in the photos from above already."""
    return replace(scene.sheets[0].scale, u_x=0.0, u_y=0.0)


def _renumbered(seen: Observations, renumber: NDArray[np.intp]) -> Observations:
    keep = renumber[seen.panel] >= 0
    return Observations(
        renumber[seen.panel[keep]],
        seen.code[keep],
        seen.local[keep],
        seen.pixels[keep],
        seen.sigma[keep],
    )


def _loosened(
    seen: Observations, starts: Sequence[PanelStart], scene: Scene, camera_from_mat: Pose
) -> Observations:
    """Points on the bench count less: seen so flatly, the paper's own waves show."""
    centre = camera_from_mat.inverse().translation
    f = scene.cameras[0].lens.f
    sigma = seen.sigma.copy()
    for i, k in enumerate(seen.panel):
        if starts[k].role == "fixed":
            at = starts[k].mat_from_panel.apply(np.append(seen.local[i], 0.0)[None])[0]
            sigma[i] = np.hypot(sigma[i], _PAPER_LIFTS_MM * f / float(np.linalg.norm(at - centre)))
    return replace(seen, sigma=sigma)


def _checked(photo: str, solved: Scene, row: MatDesign) -> SideScene:
    lens = solved.cameras[0].lens
    if solved.rms > max(0.8, _WORST_RMS * lens.width / 4000) or float(solved.used.mean()) < 0.6:
        raise SideUnusable(
            photo,
            "mat and upright sheets do not go together with the photos from above (what is left is"
            f" {solved.rms:.1f} px). Was the mat moved in between? Touch nothing between the"
            " photos.",
        )
    leans = [_lean(p) for p in solved.cards]
    worst = max(leans)
    if worst > STEEPEST_LEAN:
        name = solved.cards[int(np.argmax(leans))].panel.name
        raise SideUnusable(
            photo,
            f"{name} leans by {worst:.0f} degrees: it must stand upright, within"
            f" {STEEPEST_LEAN:.0f} degrees. Tape it to a box or a board with a square foot.",
        )
    return SideScene(solved, row, worst)


def _lean(panel: PlacedPanel) -> float:
    """Degrees between a sheet and the vertical."""
    return float(np.degrees(np.arcsin(min(1.0, abs(float(panel.mat_from_panel.rotation[2, 2]))))))
