"""What each calibration photo shows of the mat or board: photo in, labelled points out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from profiler.detection.boards import Board, Chessboard, find_board
from profiler.detection.observations import Observations
from profiler.detection.observe import observe
from profiler.detection.sharpness import edge_blur
from profiler.detection.tags import find_tags
from profiler.errors import SceneError
from profiler.jobs.photo import Photo, open_photo
from profiler.pipeline.scene import NoMat, look, recognise_mat
from profiler.scene.record import PrintScale
from profiler.target.mat import CHECK_MM, MatDesign
from profiler.target.panel import Panel, Rect

Array = NDArray[np.float64]

#: blur above both of these is refused: px, and part of the frame's diagonal (4 px in 12 Mpx)
BLUR_PX, BLUR_OF_DIAGONAL = 2.5, 8e-4
#: fewer points than this do not hold a pose and say nothing about the lens
FEWEST_POINTS = 12
#: a strip of points this narrow (width over length) holds no pose
NARROWEST = 0.05
#: boards may be photographed by any camera; those of 0.3 Mpx exist
LEAST_MPX = 0.2


@dataclass(frozen=True)
class Target:
    """What was photographed.

    Attributes:
        name: in words.
        panels: its rigid pieces; a board is one, a mat has its sheets.
        origins: (x, y) mm of each piece in the target's own frame, as designed.
        scale: printed over designed length.
        check_mm: over this length the edges run from a point.
        board: how a board is found; None for a mat.
    """

    name: str
    panels: tuple[Panel, ...]
    origins: tuple[tuple[float, float], ...]
    scale: PrintScale
    check_mm: float
    board: Board | None = None

    def flat(self, seen: Observations) -> Array:
        """(N, 2) mm, target frame, as designed."""
        flat: Array = seen.local + np.array(self.origins)[seen.panel]
        return flat


@dataclass(frozen=True)
class View:
    """One photo's points. `photo` keeps its size and notes; its pixels are let go."""

    photo: Photo
    seen: Observations
    #: px, of the more blurred of the two directions
    blur: float


@dataclass(frozen=True)
class LeftOut:
    """A photo that says nothing usable about the lens, and why."""

    name: str
    reason: str


def mat_target(design: MatDesign, scale: PrintScale) -> Target:
    """The program's own mat."""
    sheets = "1 sheet" if design.count == 1 else f"{design.count} sheets"
    return Target(
        f"mat of {sheets} of {design.paper.name}",
        design.sheets,
        tuple(design.origin(i) for i in range(design.count)),
        scale,
        CHECK_MM,
    )


def board_target(board: Board) -> Target:
    """A board made by others; its squares are taken as the user gave them."""
    squares = f"{board.columns}x{board.rows}"
    if isinstance(board, Chessboard):
        name = f"chessboard with {squares} inner corners, squares of {board.square_mm:g} mm"
    else:
        name = (
            f"ChArUco board of {squares} squares of {board.square_mm:g} mm,"
            f" markers of {board.marker_mm:g} mm, {board.dictionary}"
        )
    width, height = board.columns * board.square_mm, board.rows * board.square_mm
    face = Rect(0.0, 0.0, width, height)
    panel = Panel("board", width, height, face, face, ())
    exact = PrintScale(1.0, 1.0, 0.0, 0.0, True)
    return Target(name, (panel,), ((0.0, 0.0),), exact, board.clear_mm / 2, board)


def recognised_target(paths: Sequence[Path]) -> Target:
    """The default mat that the photos show, printed at an unknown scale.

    Raises:
        SceneError: no photo shows one.
    """
    for path in paths:
        pixels = open_photo(path, least_mpx=LEAST_MPX).pixels
        try:
            design = recognise_mat(look(path.name, pixels))
        except NoMat:
            continue
        if design is not None:
            return mat_target(design, PrintScale())
    raise SceneError(
        "No mat of default size is seen in the photos. Give the record that was written with the"
        " mat (--mat mat.json), or say which board it is: --chessboard 9x6 --square 25mm, or"
        " --charuco 5x7 --square 40mm --marker 20mm."
    )


def view_photo(path: Path, target: Target) -> View | LeftOut:
    """Open one photo and measure the target in it.

    Raises:
        InputError: the file is no photo, or a cropped or zoomed one.
    """
    photo = open_photo(path, least_mpx=LEAST_MPX)
    grey = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
    # The size stays known while the memory of a dozen photos does not pile up.
    hollow = np.broadcast_to(np.zeros((1, 1, 1), np.uint8), photo.pixels.shape)
    return view_grey(replace(photo, pixels=hollow), grey, target)


def view_grey(photo: Photo, grey: NDArray[np.uint8], target: Target) -> View | LeftOut:
    """Measure the target in a photo that is already open.

    Args:
        photo: its pixels are not looked at.
        grey: (H, W) uint8.
        target: what to look for.
    """
    seen = _seen(grey, target)
    if seen is None or len(seen) == 0:
        return LeftOut(photo.name, _not_found(target))
    flat = target.flat(seen)
    if len(seen) < FEWEST_POINTS:
        return LeftOut(
            photo.name, f"only {len(seen)} points of the {_noun(target)} are seen; go closer"
        )
    widths = np.linalg.svd(flat - flat.mean(axis=0), compute_uv=False)
    if widths[1] < NARROWEST * widths[0]:
        return LeftOut(photo.name, "the points seen lie on one line; show more of the print")
    across = edge_blur(grey, flat, seen.pixels, target.check_mm)
    blur = float(np.max(across))
    if blur > max(BLUR_PX, BLUR_OF_DIAGONAL * float(np.hypot(*grey.shape))):
        return LeftOut(
            photo.name, f"it is blurred (edges smeared over {2.5 * blur:.0f} px); hold still"
        )
    return View(photo, seen, blur)


def _seen(grey: NDArray[np.uint8], target: Target) -> Observations | None:
    if target.board is None:
        return observe(grey, find_tags(grey), target.panels)
    points = find_board(grey, target.board)
    if points is None:
        return None
    return Observations(
        panel=np.zeros(len(points), dtype=np.intp),
        code=points.code,
        local=points.local,
        pixels=points.pixels,
        sigma=points.sigma,
    )


def _noun(target: Target) -> str:
    return "mat" if target.board is None else "board"


def _not_found(target: Target) -> str:
    board = target.board
    if board is None:
        return "the mat is not seen in it, or too small to be read"
    if isinstance(board, Chessboard):
        return (
            f"no chessboard with {board.columns}x{board.rows} inner corners is seen whole in it"
            " (count the corners where four squares meet, not the squares)"
        )
    return (
        f"no ChArUco board of {board.columns}x{board.rows} squares with {board.dictionary} markers"
        " is seen in it"
    )
