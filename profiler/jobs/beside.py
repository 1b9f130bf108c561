"""The mat's and the cards' records for a photo: named by the user, or lying beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from profiler.errors import RequestError, SceneError
from profiler.jobs.records import (
    cards_from_record,
    cards_record,
    design_from_record,
    load_record,
    mat_record,
)
from profiler.scene.record import PrintScale
from profiler.target.card import THICKNESS_MM
from profiler.target.mat import MatDesign

MAT_NAME = "mat.json"
CARDS_NAME = "cards.json"
UPRIGHT_NAME = "upright.json"

T = TypeVar("T")
Readings = tuple[float | None, float | None]


@dataclass(frozen=True)
class MatChoice:
    """The mat that a job is measured on.

    Attributes:
        design: as printed; None where there is no record.
        scale: its print's scale; None where nothing is known of it.
        path: the record, None where there is none.
    """

    design: MatDesign | None
    scale: PrintScale | None
    path: Path | None


@dataclass(frozen=True)
class CardsChoice:
    """The height cards that a job is measured with.

    Attributes:
        scale: their print's scale; None where nothing is known of it.
        path: the record, None where there is none.
        thickness: mm, from what a card lies on up to its printed face.
    """

    scale: PrintScale | None
    path: Path | None
    thickness: float = THICKNESS_MM


def find_mat(photo: Path, explicit: Path | None, readings: Readings) -> MatChoice:
    """The mat's record: the one that was asked for, or `mat.json` beside the photo.

    Args:
        photo: the first photo.
        explicit: a record the user asked for.
        readings: mm on bar X and bar Y, None where not typed; they go before the record's.

    Raises:
        SceneError: the record cannot be used, or a reading cannot be.
        RequestError: only one of the two bars is known.
    """
    path = _found(photo, explicit, MAT_NAME)
    if path is None:
        _both_or_none(readings, "--bar-x and --bar-y")
        return MatChoice(None, None, None)
    design, scale = _in_file(path, lambda: design_from_record(load_record(path)))
    if design.upright:
        raise SceneError(
            f"{path} is the record of an upright row, not of a mat. Give the record that was"
            " written with the mat."
        )
    if readings != (None, None):
        scale = read_scale(design, _merged(path, readings))
    return MatChoice(design, scale, path)


def find_upright(photo: Path, explicit: Path | None) -> MatChoice:
    """The record of the upright row: the one that was asked for, or `upright.json` beside a side
    view; errors as for `find_mat`."""
    path = _found(photo, explicit, UPRIGHT_NAME)
    if path is None:
        return MatChoice(None, None, None)
    design, scale = _in_file(path, lambda: design_from_record(load_record(path)))
    if not design.upright:
        raise SceneError(
            f"{path} is the record of a mat, not of an upright row. 'profiler mat --upright' writes"
            " upright.json with the row."
        )
    return MatChoice(design, scale, path)


def find_cards(photo: Path, explicit: Path | None, readings: Readings) -> CardsChoice:
    """The cards' record; arguments and errors as for `find_mat`."""
    path = _found(photo, explicit, CARDS_NAME)
    if path is None:
        _both_or_none(readings, "--card-bar-x and --card-bar-y")
        if readings == (None, None):
            return CardsChoice(None, None)
        return CardsChoice(cards_from_record(cards_record(*readings))[0], None)
    scale, thickness = _in_file(path, lambda: cards_from_record(load_record(path)))
    if readings != (None, None):
        scale, _ = cards_from_record(cards_record(*_merged(path, readings)))
    return CardsChoice(scale, path, thickness)


def read_scale(design: MatDesign, readings: Readings) -> PrintScale:
    """The print scale of a mat whose bars somebody read.

    Raises:
        SceneError: a reading that no print at 100 % can give.
    """
    return design_from_record(mat_record(design, *readings))[1]


def _found(photo: Path, explicit: Path | None, name: str) -> Path | None:
    if explicit is not None:
        return explicit
    beside = photo.parent / name
    return beside if beside.is_file() else None


def _merged(path: Path, readings: Readings) -> Readings:
    """Typed readings, filled up from the record."""
    record = load_record(path)
    x, y = (
        typed if typed is not None else record.get(bar, {}).get("read_mm")
        for typed, bar in zip(readings, ("bar_x", "bar_y"), strict=True)
    )
    _both_or_none((x, y), "The readings of bar X and bar Y")
    return x, y


def _both_or_none(readings: Readings, names: str) -> None:
    if (readings[0] is None) != (readings[1] is None):
        raise RequestError(
            f"{names} belong together: a printer stretches along and across the feed differently."
            " Read both bars."
        )


def _in_file(path: Path, read: Callable[[], T]) -> T:
    """Name the file in what its reader says."""
    try:
        return read()
    except SceneError as error:
        if str(path) in str(error):
            raise
        raise SceneError(f"{path}: {error}") from None
