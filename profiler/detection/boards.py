"""Plain chessboards and ChArUco boards: the saddle points of a board whose geometry is given.

Board frame: mm, origin at the lower left inner corner (chessboard) or the lower left corner of the
board (ChArUco), x right, y up, seen from the printed side.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]

#: boards are looked for in a photo reduced to this long side, then refined in the full photo; px
SEARCH_SIDE = 1600
#: half-width of the refinement window, px, at least and at most: beyond it a window takes in more
#: bend of the edges than it averages noise
SMALLEST_WINDOW, LARGEST_WINDOW = 2, 15
#: half-width of the window over the distance to the nearest other print. From 0.41 on, the blurred
#: neighbours pull at the corners: on a public set of 13 photos the residual doubled.
WINDOW_REACH = 0.35
REFINE_CRITERIA = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 100, 1e-4)
#: what one coordinate of a refined saddle is good for before the solution has said more, px
SADDLE_SIGMA_PX = 0.1
#: fewer points than this do not hold a board's pose
FEWEST_POINTS = 8


@dataclass(frozen=True)
class Chessboard:
    """A plain chessboard.

    Attributes:
        columns, rows: inner corners along x and y.
        square_mm: side of one square.
    """

    columns: int
    rows: int
    square_mm: float

    @property
    def clear_mm(self) -> float:
        """From a saddle to the nearest other print in the direction of x or y."""
        return self.square_mm


@dataclass(frozen=True)
class CharucoBoard:
    """A chessboard with markers in its white squares.

    Attributes:
        columns, rows: squares along x and y.
        square_mm: side of one square.
        marker_mm: side of a marker's black square.
        dictionary: OpenCV's name without its prefix, as '6X6_250'.
    """

    columns: int
    rows: int
    square_mm: float
    marker_mm: float
    dictionary: str

    @property
    def clear_mm(self) -> float:
        """From a saddle to the nearest other print in the direction of x or y."""
        # a marker's own edge is as sharp as a check's, but touches the window only at its corner
        return min(self.square_mm, self.square_mm - self.marker_mm)


Board = Chessboard | CharucoBoard


@dataclass(frozen=True)
class BoardPoints:
    """What was seen of a board in one photo.

    Attributes:
        code: (N,) number of each point on the board, row by row from the top left.
        local: (N, 2) mm, board frame.
        pixels: (N, 2) px.
        sigma: (N,) px, standard uncertainty of one coordinate.
        window: half-width of the refinement window that was used, px.
    """

    code: NDArray[np.intp]
    local: Array
    pixels: Array
    sigma: Array
    window: int

    def __len__(self) -> int:
        return len(self.local)


def dictionary_names() -> tuple[str, ...]:
    """The marker families OpenCV carries, as a user may spell them."""
    return tuple(
        sorted(name.removeprefix("DICT_") for name in dir(cv2.aruco) if name.startswith("DICT_"))
    )


def find_board(grey: Grey, board: Board, window: int | None = None) -> BoardPoints | None:
    """The board's saddle points in a photo.

    Args:
        grey: (H, W) uint8.
        board: what to look for.
        window: half-width of the refinement window, px; None matches it to the print.

    Returns:
        The points, or None if the board (for a chessboard: the whole of it) is not seen.
    """
    step = max(1.0, max(grey.shape) / SEARCH_SIDE)
    small = grey
    if step > 1.0:
        size = (round(grey.shape[1] / step), round(grey.shape[0] / step))
        small = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    if isinstance(board, Chessboard):
        seen = _search_chessboard(small, board)
    else:
        seen = _search_charuco(small, board)
        if seen is None and step > 1.0:
            # small markers may need every pixel
            seen, step, small = _search_charuco(grey, board), 1.0, grey
    if seen is None:
        return None
    code, local, rough = seen
    # Pixel centres are whole numbers: the corner of the top left pixel stays where it is.
    scale = np.array([grey.shape[1] / small.shape[1], grey.shape[0] / small.shape[0]])
    rough = (rough + 0.5) * scale - 0.5
    if window is None:
        window = _matched_window(local, rough, board)
    pixels = refine_saddles(grey, rough, window)
    # A point that ran away from where it was found sits on something else.
    kept = np.linalg.norm(pixels - rough, axis=1) < np.maximum(window, 2.0 * step)
    if kept.sum() < FEWEST_POINTS:
        return None
    sigma = np.full(int(kept.sum()), SADDLE_SIGMA_PX)
    return BoardPoints(code[kept], local[kept], pixels[kept], sigma, window)


def refine_saddles(grey: Grey, pixels: Array, window: int) -> Array:
    """Saddle points to a fraction of a pixel (Förstner and Gülch 1987, as OpenCV does it).

    Args:
        grey: (H, W) uint8.
        pixels: (N, 2) px, good to a few pixels.
        window: half-width of the window that is used, px.

    Returns:
        (N, 2) px.
    """
    points = np.ascontiguousarray(pixels, dtype=np.float32).reshape(-1, 1, 2)
    refined = cv2.cornerSubPix(grey, points.copy(), (window, window), (-1, -1), REFINE_CRITERIA)
    return np.asarray(refined, dtype=np.float64).reshape(-1, 2)


def _matched_window(local: Array, pixels: Array, board: Board) -> int:
    """Half-width that no neighbouring print reaches, from the smallest square seen; px."""
    apart_mm = np.linalg.norm(local[:, None] - local[None], axis=2)
    apart_px = np.linalg.norm(pixels[:, None] - pixels[None], axis=2)
    neighbours = np.abs(apart_mm - board.square_mm) < 0.01 * board.square_mm
    if not neighbours.any():
        return SMALLEST_WINDOW
    clear_px = float(apart_px[neighbours].min()) * board.clear_mm / board.square_mm
    return int(np.clip(WINDOW_REACH * clear_px, SMALLEST_WINDOW, LARGEST_WINDOW))


def _search_chessboard(
    grey: Grey, board: Chessboard
) -> tuple[NDArray[np.intp], Array, Array] | None:
    size = (board.columns, board.rows)
    found, corners = cv2.findChessboardCornersSB(
        grey, size, flags=cv2.CALIB_CB_EXHAUSTIVE | cv2.CALIB_CB_ACCURACY
    )
    if not found:
        found, corners = cv2.findChessboardCorners(
            grey, size, flags=cv2.CALIB_CB_ADAPTIVE_THRESH | cv2.CALIB_CB_NORMALIZE_IMAGE
        )
    if not found:
        return None
    pixels = np.asarray(corners, dtype=np.float64).reshape(-1, 2)
    row, column = np.divmod(np.arange(board.columns * board.rows), board.columns)
    local = np.column_stack([column, board.rows - 1 - row]) * board.square_mm
    if _mirrored(local, pixels):
        # The finder counted from the other end of the rows; a board has no mirror image.
        local[:, 0] = (board.columns - 1) * board.square_mm - local[:, 0]
    return np.arange(len(pixels)), local.astype(np.float64), pixels


def _mirrored(local: Array, pixels: Array) -> bool:
    """Whether the points turn the wrong way for paper seen from its printed side."""
    affine, *_ = np.linalg.lstsq(np.column_stack([local, np.ones(len(local))]), pixels, rcond=None)
    # y is up on the paper and down in the photo, so a true view has a negative determinant
    return bool(np.linalg.det(affine[:2]) > 0)


def _search_charuco(
    grey: Grey, board: CharucoBoard
) -> tuple[NDArray[np.intp], Array, Array] | None:
    family = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, f"DICT_{board.dictionary}"))
    best: tuple[NDArray[np.intp], Array, Array] | None = None
    # OpenCV moved the markers of boards with an even number of rows in version 4.6.
    for legacy in (False, True) if board.rows % 2 == 0 else (False,):
        printed = cv2.aruco.CharucoBoard(
            (board.columns, board.rows), board.square_mm, board.marker_mm, family
        )
        printed.setLegacyPattern(legacy)
        corners, ids, _, _ = cv2.aruco.CharucoDetector(printed).detectBoard(grey)
        if ids is None or len(ids) < FEWEST_POINTS:
            continue
        # shapes differ between OpenCV 4 and 5
        code = np.asarray(ids, dtype=np.intp).reshape(-1)
        pixels = np.asarray(corners, dtype=np.float64).reshape(-1, 2)
        if best is None or len(code) > len(best[0]):
            local = np.asarray(printed.getChessboardCorners(), dtype=np.float64)[code, :2]
            local = np.column_stack([local[:, 0], board.rows * board.square_mm - local[:, 1]])
            best = code, local, pixels
    return best
