"""Boards drawn by OpenCV's own board painter, seen through a known homography."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from profiler.detection.boards import CharucoBoard, Chessboard, find_board
from profiler.detection.sharpness import edge_blur

Array = NDArray[np.float64]

#: px per mm of the flat drawing
FINE = 8.0
#: the flat drawing to the photo: perspective, a turn of 20 degrees
VIEW = np.array([[0.36, -0.10, 240.0], [0.11, 0.33, 120.0], [7e-5, 4e-5, 1.0]])


def flat_chessboard(columns: int, rows: int, square: int) -> NDArray[np.uint8]:
    """(columns + 1) x (rows + 1) squares with a white rim of one square."""
    side = round(square * FINE)
    row, column = np.indices((rows + 1, columns + 1))
    cells = np.where((row + column) % 2 == 0, 20, 230).astype(np.uint8)
    board = np.kron(cells, np.ones((side, side), np.uint8))
    return cv2.copyMakeBorder(board, side, side, side, side, cv2.BORDER_CONSTANT, value=230)


def flat_charuco(board: CharucoBoard) -> NDArray[np.uint8]:
    family = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, f"DICT_{board.dictionary}"))
    printed = cv2.aruco.CharucoBoard(
        (board.columns, board.rows), board.square_mm, board.marker_mm, family
    )
    side = round(board.square_mm * FINE)
    size = (board.columns * side, board.rows * side)
    image = np.asarray(printed.generateImage(size, marginSize=0))
    return cv2.copyMakeBorder(image, side, side, side, side, cv2.BORDER_CONSTANT, value=255)


def photograph(flat: NDArray[np.uint8], blur: float = 0.8, noise: float = 2.0) -> NDArray[np.uint8]:
    """Through `VIEW` at four times the size, then reduced, blurred and made noisy."""
    over = 4
    # pixel centres are whole numbers in both pictures
    up = np.array([[over, 0, (over - 1) / 2], [0, over, (over - 1) / 2], [0, 0, 1.0]])
    big = cv2.warpPerspective(
        flat, up @ VIEW, (1600 * over, 1200 * over), flags=cv2.INTER_AREA, borderValue=200
    )
    seen = cv2.resize(big, (1600, 1200), interpolation=cv2.INTER_AREA).astype(np.float64)
    seen = cv2.GaussianBlur(seen, (0, 0), blur)
    seen += np.random.default_rng(3).normal(0, noise, seen.shape)
    return np.clip(seen, 0, 255).astype(np.uint8)


def truth(local: Array, rows_above: float, square: float) -> Array:
    """Where board points (y up) lie in the photo; the drawing has a rim of one square."""
    x = (local[:, 0] + square) * FINE - 0.5
    y = (rows_above - local[:, 1] + square) * FINE - 0.5
    return cv2.perspectiveTransform(np.column_stack([x, y]).reshape(-1, 1, 2), VIEW).reshape(-1, 2)


def test_a_chessboard_is_found_to_a_twentieth_of_a_pixel() -> None:
    board = Chessboard(9, 6, 25.0)
    points = find_board(photograph(flat_chessboard(9, 6, 25)), board)
    assert points is not None
    assert len(points) == 54
    # inner corners: the origin lies one square inside the drawing's lower left corner
    on_drawing = points.local + np.array([25.0, 25.0])
    errors = points.pixels - truth(on_drawing, 7 * 25.0, 25.0)
    # a board that is turned by half a turn is the same board
    if np.abs(errors).max() > 20:
        turned = np.array([8 * 25.0, 5 * 25.0]) - points.local + np.array([25.0, 25.0])
        errors = points.pixels - truth(turned, 7 * 25.0, 25.0)
    assert np.sqrt((errors**2).mean()) < 0.05
    # no half-pixel slip
    assert np.abs(errors.mean(axis=0)).max() < 0.02


@pytest.mark.parametrize("columns,rows", [(5, 7), (6, 8)])
def test_a_charuco_board_is_found_to_a_twentieth_of_a_pixel(columns: int, rows: int) -> None:
    board = CharucoBoard(columns, rows, 40.0, 20.0, "6X6_250")
    points = find_board(photograph(flat_charuco(board)), board)
    assert points is not None
    assert len(points) == (columns - 1) * (rows - 1)
    errors = points.pixels - truth(points.local, rows * 40.0, 40.0)
    assert np.sqrt((errors**2).mean()) < 0.05
    assert np.abs(errors.mean(axis=0)).max() < 0.02


def test_a_charuco_board_may_be_partly_covered() -> None:
    board = CharucoBoard(5, 7, 40.0, 20.0, "6X6_250")
    flat = flat_charuco(board)
    flat[: flat.shape[0] // 3] = 128
    points = find_board(photograph(flat), board)
    assert points is not None
    assert 8 <= len(points) < 24
    errors = points.pixels - truth(points.local, 7 * 40.0, 40.0)
    assert np.abs(errors).max() < 0.5


def test_nothing_is_found_where_nothing_is() -> None:
    empty = np.full((600, 800), 128, np.uint8)
    assert find_board(empty, Chessboard(9, 6, 25.0)) is None
    assert find_board(empty, CharucoBoard(5, 7, 40.0, 20.0, "6X6_250")) is None


def test_the_window_stays_clear_of_the_next_print() -> None:
    photo = photograph(flat_chessboard(9, 6, 25))
    points = find_board(photo, Chessboard(9, 6, 25.0))
    assert points is not None
    apart = np.linalg.norm(points.pixels[:, None] - points.pixels[None], axis=2)
    smallest = apart[apart > 0].min()
    assert points.window <= 0.5 * smallest


@pytest.mark.parametrize("blur", [1.5, 3.0])
def test_blur_is_read_off_the_edges(blur: float) -> None:
    board = Chessboard(9, 6, 25.0)
    photo = photograph(flat_chessboard(9, 6, 25), blur=blur)
    points = find_board(photo, board)
    assert points is not None
    for seen in edge_blur(photo, points.local, points.pixels, board.clear_mm / 2):
        # a slope over one pixel adds a little
        assert seen == pytest.approx(blur, rel=0.15)


def test_motion_shows_in_one_direction() -> None:
    board = Chessboard(9, 6, 25.0)
    photo = photograph(flat_chessboard(9, 6, 25))
    # along the board's own x axis in the photo
    direction = np.array([VIEW[0, 0], VIEW[1, 0]]) / np.hypot(VIEW[0, 0], VIEW[1, 0])
    kernel = np.zeros((15, 15), np.float32)
    for t in np.linspace(-6, 6, 121):
        x, y = 7 + t * direction
        kernel[round(y), round(x)] += 1
    moved = np.asarray(cv2.filter2D(photo, -1, kernel / kernel.sum()), dtype=np.uint8)
    points = find_board(moved, board)
    assert points is not None
    along_x, along_y = edge_blur(moved, points.local, points.pixels, board.clear_mm / 2)
    assert max(along_x, along_y) > 2.2 * min(along_x, along_y)
