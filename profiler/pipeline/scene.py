"""From photos to the solved scene: which mat, which cards, where everything stands."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.detection.observations import Observations, joined
from profiler.detection.observe import observe
from profiler.detection.sharpness import edge_blur
from profiler.detection.tags import find_tags
from profiler.errors import Places, RequestError, SceneError
from profiler.optics.camera import Pose
from profiler.paper import PAPERS
from profiler.pipeline.hidden_tags import points_of_hidden_tags
from profiler.pipeline.odd_sheets import unseen, without_odd_sheets
from profiler.pipeline.one_lay import check_one_lay
from profiler.scene.presumed import presumed
from profiler.scene.priors import lens_prior_from_exif
from profiler.scene.record import NO_PAPER_DOUBT, LensPrior, PaperDoubt, PrintScale, Scene
from profiler.scene.solve import CARD_LEAN_PRIOR, PanelStart, SceneProblem, solve_scene
from profiler.scene.start import plane_pose, plane_poses
from profiler.target.card import card_panels
from profiler.target.mat import MatDesign, design_mat
from profiler.target.panel import Panel
from profiler.target.tags import CARD_CODE_START, UPRIGHT_CODE_START

Array = NDArray[np.float64]

#: source of a lens that is held without distortion, to show what its correction is worth
IGNORED_LENS = "ignored"
#: office paper on a bench waves by tenths of a mm, a printer's drum does not run quite evenly, and
#: no two sheets come out quite alike (guesses). Taken for flat and true, such a mat tells a focal
#: length that is not there: of four rendered photos on waving sheets two had it 2 and 5 % out, and
#: said to be known to 3 and 1.5 %
PAPER_DOUBT = PaperDoubt(rises=0.15, wanders=0.03, stretches=2e-4)
#: a lens whose focal length is known less well than this, relative, has to be told by the mat
_LOOSE_LENS = 0.01
LEAST_TARGETS = 4
LEAST_POINTS = 14
#: a card needs this many saddles before it says anything; a sheet, which can only slide and turn,
#: as many as lie round one target of which a corner is hidden
_LEAST_CARD_POINTS, _LEAST_SHEET_POINTS = 5, 3
#: mm: a mat whose tags miss their drawn places by more than this is another mat
_ANOTHER_MAT_MM = 14.0
#: unless its sheets were laid badly: then they lie and turn by no more than this (mm, rad), and the
#: tags of each lie among themselves as drawn (mm; what a first look makes of a lens is in it)
_BADLY_LAID_MM, _BADLY_TURNED, _WITHIN_SHEET_MM = 25.0, 0.08, 3.0
#: part by which a recognised mat's tags may miss their size. A lens that is not known yet bends
#: sizes by 3 % (seen on the samples), the next paper of the list is 5 % out and more
_ANOTHER_STRETCH = 0.045
#: designs this near to each other fit alike (A1 is a corner of A0); the fuller one is meant
_ALIKE_STRETCH = 0.01
#: blur above both is refused, standard deviation: px, and part of the frame's diagonal
_BLUR_PX = 1.6
_BLUR_OF_DIAGONAL = 4.5e-4
#: factor on the sigma of points that are to count for nothing, and the part of the heaviest sheet's
#: weight below which a sheet holds only such
_NO_WEIGHT, _LIGHT = 30.0, 1e-2
#: px at 12 Mpx: a good solution is far below
_WORST_RMS = 1.5
#: sine of the steepest lean of a card that lies on something: paper on varnish slides (a guess)
_CARD_SLIDES = 0.6
#: a print scale pulled this many sigmas away from the reading contradicts it
_SCALE_PULL = 5.0


class FromTheSide(RequestError):
    """A side view among the photos from above."""

    def __init__(self, photo: str) -> None:
        self.photo = photo
        super().__init__(
            f"{photo} is a view from the side: upright sheets stand in it. Give it as --side"
            f" {photo}, and the photos from above without it."
        )


class NoMat(SceneError):
    """No target of ours was found."""

    def __init__(self, photo: str) -> None:
        self.photo = photo
        super().__init__(
            f"{photo}: no mat is seen in this photo. Lay the instrument on a mat printed by"
            " 'profiler mat', with its printed squares uncovered round the instrument, in even"
            " light, and take the photo from above, sharp: a blurred print cannot be read."
        )


class TooFewTargets(SceneError):
    """Some targets were found, but not enough to solve the camera."""

    def __init__(self, photo: str, seen: int, needed: int, places: Places = ()) -> None:
        self.photo, self.seen, self.needed, self.places = photo, seen, needed, places
        super().__init__(
            f"{photo}: only {seen} of the mat's targets can be measured, {needed} are needed. Show"
            " more of the mat round the instrument, hold the phone still, and avoid glare."
        )


class Blurred(SceneError):
    """The printed edges are smeared over too many pixels."""

    def __init__(self, photo: str, blur_px: float) -> None:
        self.photo, self.blur_px = photo, blur_px
        super().__init__(
            f"{photo}: the photo is blurred (printed edges are smeared over {2.5 * blur_px:.0f}"
            " pixels). Rest your elbows or use a stand, tap on the mat to focus, add light, and"
            " wipe the lens."
        )


class AnotherMat(SceneError):
    """The targets do not lie as the record says."""

    def __init__(self, photo: str, detail: str) -> None:
        self.photo = photo
        super().__init__(
            f"{photo}: the mat in the photo is not the one in its record ({detail}). Give the"
            " record that was written with this mat (--mat), or print the mat again."
        )


class NoRecord(SceneError):
    """No record was found, and the mat is none of those that are recognised without one."""

    def __init__(self, photo: str) -> None:
        self.photo = photo
        super().__init__(
            f"{photo}: no mat.json lies beside the photo, and without it only mats of default size"
            " are recognised. Put the mat.json that was written with this mat beside the photo, or"
            " name it: --mat."
        )


class ScaleContradicted(SceneError):
    """The photo shows other proportions of the print than the bar readings say."""

    def __init__(
        self, photo: str, seen: float, recorded: float, unlike: Sequence[str] = ()
    ) -> None:
        self.photo, self.seen, self.recorded, self.unlike = photo, seen, recorded, unlike
        if unlike:
            super().__init__(
                f"{photo}: {' and '.join(unlike)} were printed at different scales, and nothing"
                " tells which of them the bar readings belong to. Print them again at 100 %, and"
                " lay a steel rule on the bars of each."
            )
            return
        super().__init__(
            f"{photo}: the mat was printed at another scale than recorded: across over along the"
            f" feed is {seen:.4f} in the photo and {recorded:.4f} by the bar readings. Read both"
            " check bars again with a steel rule."
        )


class LensDoesNotFit(SceneError):
    """With the lens that was given the photo fits no mat; with a free one it fits this mat."""

    def __init__(self, photo: str, source: str) -> None:
        self.photo, self.source = photo, source
        super().__init__(
            f"{photo}: without the correction of its lens the mat's points do not agree with each"
            " other. Measure it with the lens."
            if source == IGNORED_LENS
            else f"{photo}: the lens record does not fit this photo; with a lens solved from the"
            " photo itself the mat's points agree. Was it taken at another zoom, with another of"
            " the phone's lenses, or corrected by an app? Give the record of that lens, or"
            " calibrate it ('profiler calibrate')."
        )


@dataclass(frozen=True)
class View:
    """What was detected in one photo: tags by code, (4, 2) px each, and the photo's name."""

    name: str
    gray: NDArray[np.uint8]
    tags: dict[int, Array]


def look(name: str, pixels: NDArray[np.uint8]) -> View:
    """Find the tags of one photo.

    Raises:
        NoMat: there is none.
        FromTheSide: most of what is seen of them stands upright.
    """
    gray = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
    tags = find_tags(gray)
    # what lies is seen as slivers from the side, and there may be more of it
    areas = {code: cv2.contourArea(quad.astype(np.float32)) for code, quad in tags.items()}
    standing = sum(area for code, area in areas.items() if code >= UPRIGHT_CODE_START)
    if standing > sum(areas.values()) / 2:
        raise FromTheSide(name)
    if not any(code < CARD_CODE_START for code in tags):
        raise NoMat(name)
    return View(name, gray, tags)


def recognise_mat(view: View) -> MatDesign | None:
    """The default mat of some paper, judged by how its tags lie; None where none fits.

    The lie of the tags alone cannot tell A3 from Tabloid, since a camera's view may stretch one
    grid into the other. The tags themselves can: they are squares of a known size.
    """
    fitting: list[tuple[float, MatDesign]] = []
    for paper in PAPERS.values():
        design = design_mat(paper)
        fit = _fit(view, design)
        if fit and fit.misfit <= _ANOTHER_MAT_MM and fit.stretch <= _ANOTHER_STRETCH:
            fitting.append((fit.stretch, design))
    least = min((stretch for stretch, _ in fitting), default=0.0)
    alike = [design for stretch, design in fitting if stretch <= least + _ALIKE_STRETCH]
    return min(alike, key=lambda d: sum(len(s.clusters) for s in d.sheets), default=None)


@dataclass(frozen=True)
class _Fit:
    """How a design's tags lie in a view.

    Attributes:
        misfit: mm, 80th percentile distance of tag centres from where the design draws them.
        stretch: part by which the tags then miss their own size, the worse of both directions.
        within: mm, the same as `misfit` once each sheet may lie and turn as it likes.
        moved, turned: mm and rad, the most that a sheet has to for it.
    """

    misfit: float
    stretch: float
    within: float
    moved: float
    turned: float

    @property
    def is_this_mat(self) -> bool:
        """Whether the tags lie as designed, or as designed on sheets that were laid badly."""
        badly_laid = (
            self.within < _WITHIN_SHEET_MM
            and self.moved < _BADLY_LAID_MM
            and self.turned < _BADLY_TURNED
        )
        return self.misfit <= _ANOTHER_MAT_MM or badly_laid


def _fit(view: View, design: MatDesign) -> _Fit | None:
    drawn: list[tuple[float, float]] = []
    on_sheet: list[int] = []
    seen: list[Array] = []
    sizes: list[float] = []
    for index, sheet in enumerate(design.sheets):
        for cluster in sheet.clusters:
            if cluster.code in view.tags:
                x, y = design.origin(index)
                drawn.append((x + cluster.x, y + cluster.y))
                on_sheet.append(index)
                seen.append(view.tags[cluster.code])
                sizes.append(cluster.tag_mm)
    known = sum(code < CARD_CODE_START for code in view.tags)
    if len(drawn) < 4 or len(drawn) < 0.9 * known:
        return None
    corners = np.array(seen, dtype=np.float64)  # (N, 4, 2)
    centres = corners.mean(axis=1)
    fit = cv2.findHomography(centres, np.array(drawn), cv2.LMEDS)[0]
    back = np.asarray(fit, dtype=np.float64)
    if back.shape != (3, 3):  # OpenCV gives None where no plane fits
        return None
    mapped = cv2.perspectiveTransform(centres.reshape(-1, 1, 2), back).reshape(-1, 2)
    misfit = float(np.percentile(np.hypot(*(mapped - np.array(drawn)).T), 80))
    flat = cv2.perspectiveTransform(corners.reshape(-1, 1, 2), back).reshape(-1, 4, 2)
    # corners run clockwise from the top left one
    across = np.hypot(*(flat[:, 1] - flat[:, 0]).T) + np.hypot(*(flat[:, 2] - flat[:, 3]).T)
    up = np.hypot(*(flat[:, 3] - flat[:, 0]).T) + np.hypot(*(flat[:, 2] - flat[:, 1]).T)
    stretch = max(
        abs(float(np.median(side / (2 * np.array(sizes)))) - 1.0) for side in (across, up)
    )
    return _Fit(
        misfit,
        stretch,
        *_sheets_laid(np.array(drawn), np.asarray(mapped, dtype=np.float64), np.array(on_sheet)),
    )


def _sheets_laid(
    drawn: Array, mapped: Array, on_sheet: NDArray[np.intp]
) -> tuple[float, float, float]:
    """`within`, `moved` and `turned` of a `_Fit`: each sheet laid by itself, rigidly."""
    left, moved, turned = np.zeros(len(drawn)), 0.0, 0.0
    for sheet in np.unique(on_sheet):
        mine = on_sheet == sheet
        middle, place = drawn[mine].mean(axis=0), mapped[mine].mean(axis=0)
        a, b = drawn[mine] - middle, mapped[mine] - place
        # the turn that lays a on b best, in the plane (Procrustes)
        angle = float(np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum()))
        c, s = np.cos(angle), np.sin(angle)
        left[mine] = np.hypot(*(b - a @ np.array([[c, s], [-s, c]])).T)
        moved = max(moved, float(np.hypot(*(place - middle))))
        turned = max(turned, abs(angle))
    return float(np.percentile(left, 80)), moved, turned


def solve_photos(
    views: Sequence[View],
    design: MatDesign,
    prior: LensPrior,
    mat_scale: PrintScale,
    card_scale: PrintScale | None,
) -> Scene:
    """One joint solution for all photos.

    Raises:
        TooFewTargets, AnotherMat, LaidAnew, ScaleContradicted, LensDoesNotFit: see there.
    """
    panels: list[Panel] = [*design.sheets, *card_panels()]
    sheet_count = design.count
    seen = [observe(v.gray, v.tags, panels) for v in views]
    for view, found in zip(views, seen, strict=True):
        on_mat = found.panel < sheet_count
        targets = len(set(found.code[on_mat].tolist()))
        if targets < LEAST_TARGETS or on_mat.sum() < LEAST_POINTS:
            raise TooFewTargets(view.name, targets, LEAST_TARGETS, _tags_at(view))
        fit = _fit(view, design)
        if fit is None or not fit.is_this_mat:
            raise AnotherMat(view.name, "its targets lie in other places")
        _check_sharp(view, found, design, on_mat)

    def solve(out: Callable[[Observations], NDArray[np.bool_]]) -> Scene:
        # with next to no weight such points tell where their own sheet lies, and nothing else
        weighed = [replace(o, sigma=np.where(out(o), _NO_WEIGHT, 1.0) * o.sigma) for o in seen]
        return _solved(views, weighed, panels, design, prior, mat_scale, card_scale)

    scene = without_odd_sheets(solve, design, LEAST_TARGETS)
    hidden = points_of_hidden_tags([v.gray for v in views], scene, design)
    if any(len(points) for points in hidden):
        seen = [joined(a, b) for a, b in zip(seen, hidden, strict=True)]
        scene = without_odd_sheets(solve, design, LEAST_TARGETS)
    check_one_lay(
        scene,
        [v.name for v in views],
        lambda i: solve_photos([views[i]], design, prior, mat_scale, card_scale),
    )
    try:
        _check(scene, views, mat_scale)
    except (AnotherMat, ScaleContradicted) as refused:
        recorded = prior.source == "record" and isinstance(refused, AnotherMat)
        if not (recorded or prior.source == IGNORED_LENS):
            raise
        height, width = views[0].gray.shape
        prior_given, prior = prior, lens_prior_from_exif(width, height)
        try:
            _check(without_odd_sheets(solve, design, LEAST_TARGETS), views, mat_scale)
        except SceneError:
            pass
        else:
            raise LensDoesNotFit(views[0].name, prior_given.source) from None
        raise
    return replace(
        scene,
        odd=(*scene.odd, *unseen(scene, seen, design)),
        presumed=presumed(scene.sheets, design),
    )


def _solved(
    views: Sequence[View],
    seen: Sequence[Observations],
    panels: Sequence[Panel],
    design: MatDesign,
    prior: LensPrior,
    mat_scale: PrintScale,
    card_scale: PrintScale | None,
) -> Scene:
    """The solution from these points."""
    sheet_count = design.count
    points = [np.bincount(o.panel, minlength=len(panels)) for o in seen]
    total = np.sum(points, axis=0)
    wanted = [
        k
        for k in range(len(panels))
        if total[k] >= (_LEAST_SHEET_POINTS if k < sheet_count else _LEAST_CARD_POINTS)
    ]
    # what all points of a sheet weigh together: the one that is out must not hold the frame
    weighty = np.sum(
        [np.bincount(o.panel, 1 / o.sigma**2, minlength=len(panels)) for o in seen], axis=0
    )
    least = _LIGHT * float(weighty[:sheet_count].max())
    anchor = max(
        (k for k in wanted if k < sheet_count and weighty[k] > least), key=lambda k: int(total[k])
    )
    drawn = [np.array([*design.origin(k), 0.0]) for k in range(sheet_count)]
    poses = [_first_pose(v, o, drawn, sheet_count, prior) for v, o in zip(views, seen, strict=True)]
    starts: list[PanelStart] = []
    renumber = np.full(len(panels), -1)
    for k in wanted:
        if k < sheet_count:
            role = "fixed" if k == anchor else "sheet"
            start = PanelStart(panels[k], Pose(np.eye(3), drawn[k]), role)
        else:
            pose = _card_pose(k, seen, poses, prior)
            if pose is None:
                continue
            start = PanelStart(panels[k], pose, "card")
        renumber[k] = len(starts)
        starts.append(start)
    observations = [_renumbered(o, renumber) for o in seen]
    # a lens record leaves nothing to be told; nor do photos from several places, whatever the paper
    # does, and what a target is out by they share: their places among each other are known better
    loose = prior.sigma[0] > _LOOSE_LENS * prior.lens.f
    paper = PAPER_DOUBT if loose and len(observations) == 1 else NO_PAPER_DOUBT
    if sum(start.role != "card" for start in starts) == 1:
        paper = replace(paper, stretches=0.0)  # its bars were read
    return solve_scene(
        SceneProblem(prior, observations, starts, poses, mat_scale, card_scale, paper=paper)
    )


def _picked(seen: Observations, keep: NDArray[np.bool_]) -> Observations:
    return Observations(
        seen.panel[keep], seen.code[keep], seen.local[keep], seen.pixels[keep], seen.sigma[keep]
    )


def _tags_at(view: View) -> Places:
    """The mat's tags that were read, px."""
    return tuple(
        tuple((round(float(x), 1), round(float(y), 1)) for x, y in corners)
        for code, corners in view.tags.items()
        if code < CARD_CODE_START
    )


def _check_sharp(
    view: View, found: Observations, design: MatDesign, on_mat: NDArray[np.bool_]
) -> None:
    drawn = np.array([design.origin(k) for k in found.panel[on_mat]]) + found.local[on_mat]
    check = design.sheets[0].clusters[0].check_mm
    blur = float(np.nanmax(edge_blur(view.gray, drawn, found.pixels[on_mat], check)))
    if blur > max(_BLUR_PX, _BLUR_OF_DIAGONAL * float(np.hypot(*view.gray.shape))):
        raise Blurred(view.name, blur)


def _first_pose(
    view: View, seen: Observations, drawn: Sequence[Array], sheet_count: int, prior: LensPrior
) -> Pose:
    on_mat = seen.panel < sheet_count
    origins = np.array([drawn[k][:2] for k in seen.panel[on_mat]])
    pose = plane_pose(prior.lens, origins + seen.local[on_mat], seen.pixels[on_mat])
    if pose is None:
        raise AnotherMat(view.name, "no camera place explains it")
    return pose


def _card_pose(
    index: int, seen: Sequence[Observations], poses: Sequence[Pose], prior: LensPrior
) -> Pose | None:
    """mat_from_card from the photo that shows most of it."""
    best = max(range(len(seen)), key=lambda i: int((seen[i].panel == index).sum()))
    mine = seen[best].panel == index
    if mine.sum() < 4:
        return None
    candidates = plane_poses(prior.lens, seen[best].local[mine], seen[best].pixels[mine])
    in_mat = [(error, poses[best].inverse().after(pose)) for error, pose in candidates]
    if not in_mat:
        return None
    sigma = float(seen[best].sigma[mine].mean())

    def doubt(candidate: tuple[float, Pose]) -> tuple[bool, float]:
        error, pose = candidate
        lean = float(np.hypot(*pose.rotation[:2, 2]))
        # no card stays where it would slide off, however well that fits points that are rough
        slides = lean > _CARD_SLIDES
        return slides, int(mine.sum()) * (error / sigma) ** 2 + (lean / CARD_LEAN_PRIOR) ** 2

    return min(in_mat, key=doubt)[1]


def _renumbered(seen: Observations, renumber: NDArray[np.intp]) -> Observations:
    kept = _picked(seen, renumber[seen.panel] >= 0)
    return replace(kept, panel=renumber[kept.panel])


def _check(scene: Scene, views: Sequence[View], mat_scale: PrintScale) -> None:
    height, width = views[0].gray.shape
    name = views[0].name
    scale = scene.sheets[0].scale
    recorded = mat_scale.x / mat_scale.y
    seen = scale.x / scale.y
    u = np.hypot(mat_scale.u_x, mat_scale.u_y)
    if mat_scale.read and abs(seen - recorded) > _SCALE_PULL * u:
        unlike = [odd.name for odd in scene.odd if odd.kind == "scale" and not odd.left_out]
        raise ScaleContradicted(name, seen, recorded, unlike)
    limit = _WORST_RMS * max(width, height) / 4000
    if scene.rms > max(limit, 0.8):
        raise AnotherMat(name, f"the best solution leaves {scene.rms:.1f} px")
    used = float(scene.used.mean())
    if used < 0.6:
        raise AnotherMat(name, f"only {used:.0%} of its points agree with each other")
