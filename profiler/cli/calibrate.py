"""`profiler calibrate PHOTO...`: a phone's lens from tilted photos of a flat print."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from profiler.cli.options import Force, Units, optional_length
from profiler.errors import RequestError, SceneError

if TYPE_CHECKING:
    from profiler.pipeline.calibrate import Calibration
    from profiler.pipeline.lens_views import Target

DEFAULT_OUTPUT = Path("lens.json")
DEFAULT_DICTIONARY = "6X6_250"


def calibrate(
    photos: Annotated[
        list[Path],
        typer.Argument(
            metavar="PHOTO",
            help="8 to 12 photos of the print, each from another side and tilted.",
        ),
    ],
    output: Annotated[
        Path | None,
        typer.Option(
            "-o", "--output", help="The lens record to write.", show_default=str(DEFAULT_OUTPUT)
        ),
    ] = None,
    install: Annotated[
        bool,
        typer.Option(
            "--install", help="Keep it where 'measure' finds it for every photo of this phone."
        ),
    ] = False,
    mat: Annotated[
        Path | None,
        typer.Option(
            help="The mat's record.", show_default="mat.json beside the first photo, or recognised"
        ),
    ] = None,
    chessboard: Annotated[
        str | None,
        typer.Option(metavar="9x6", help="A plain chessboard instead: its inner corners."),
    ] = None,
    charuco: Annotated[
        str | None,
        typer.Option(metavar="5x7", help="A ChArUco board instead: its squares."),
    ] = None,
    square: Annotated[
        str | None, typer.Option(metavar="25mm", help="Side of one square of the board.")
    ] = None,
    marker: Annotated[
        str | None, typer.Option(metavar="20mm", help="Side of one marker of a ChArUco board.")
    ] = None,
    dictionary: Annotated[
        str, typer.Option(metavar="NAME", help="Marker family of a ChArUco board.")
    ] = DEFAULT_DICTIONARY,
    name: Annotated[
        str, typer.Option(metavar="TEXT", help="What to call the lens.", show_default="the phone")
    ] = "",
    note: Annotated[
        str, typer.Option(metavar="TEXT", help="Anything a reader of the record should know.")
    ] = "",
    anyway: Annotated[
        bool, typer.Option("--anyway", help="Keep the lens even if it is not good enough.")
    ] = False,
    force: Force = False,
) -> None:
    """Learn a phone's lens from tilted photos of the mat or a board.

    Lay the print on a flat, hard table. Photograph it from four sides, leaning
    30 to 45 degrees, some photos with the phone upright, some with the print in
    a corner of the frame. Do not zoom.
    """
    from profiler.cli.progress import shown_progress
    from profiler.pipeline import calibrate as stage

    target = _target(photos, mat, chessboard, charuco, square, marker, dictionary)
    if output is None and not install:
        output = DEFAULT_OUTPUT
    if output is not None:
        _check_free(output, force)
    with shown_progress() as progress:
        result = stage.calibrate(photos, target, name, note, progress)
    _print(result)
    if result.judgement.level == "not good enough" and not anyway:
        raise SceneError(
            "The lens was not kept, because it is not good enough."
            " Take the photos as advised above, or say --anyway."
        )
    _keep(result, output, install, force)


def _target(
    photos: list[Path],
    mat: Path | None,
    chessboard: str | None,
    charuco: str | None,
    square: str | None,
    marker: str | None,
    dictionary: str,
) -> Target | None:
    """What was photographed; None where it is to be recognised."""
    from profiler.detection.boards import CharucoBoard, Chessboard, dictionary_names
    from profiler.jobs.records import design_from_record, load_record
    from profiler.pipeline.lens_views import board_target, mat_target

    given = [
        o
        for o, v in (("--mat", mat), ("--chessboard", chessboard), ("--charuco", charuco))
        if v is not None
    ]
    if len(given) > 1:
        raise RequestError(f"{' and '.join(given)} cannot go together: say what was photographed.")
    square_mm = optional_length(square, Units.MM, "--square")
    marker_mm = optional_length(marker, Units.MM, "--marker")
    if chessboard is not None:
        columns, rows = _two_numbers(chessboard, "--chessboard", least=3)
        return board_target(Chessboard(columns, rows, _needed(square_mm, "--square", "25mm")))
    if charuco is not None:
        columns, rows = _two_numbers(charuco, "--charuco", least=3)
        side = _needed(square_mm, "--square", "40mm")
        inner = _needed(marker_mm, "--marker", "20mm")
        if inner >= side:
            raise RequestError(
                f"--marker {inner:g} mm does not fit into --square {side:g} mm:"
                " a marker lies inside its square."
            )
        known = {n.upper(): n for n in dictionary_names()}
        family = known.get(dictionary.upper().removeprefix("DICT_"))
        if family is None:
            raise RequestError(
                f"--dictionary {dictionary} is not known. Known: {', '.join(known)}."
            )
        return board_target(CharucoBoard(columns, rows, side, inner, family))
    if square is not None or marker is not None:
        raise RequestError(
            "--square and --marker belong to a board: say --chessboard 9x6 or --charuco 5x7 too."
        )
    if mat is None:
        beside = photos[0].parent / "mat.json"
        mat = beside if beside.is_file() else None
    return None if mat is None else mat_target(*design_from_record(load_record(mat)))


def _two_numbers(text: str, option: str, least: int) -> tuple[int, int]:
    parts = text.lower().replace("×", "x").replace(" ", "").split("x")
    if len(parts) != 2 or not all(p.isascii() and p.isdigit() for p in parts):
        raise RequestError(f"{option} {text} cannot be read: write columns x rows, as in 9x6.")
    columns, rows = int(parts[0]), int(parts[1])
    if not (least <= columns <= 200 and least <= rows <= 200):
        raise RequestError(f"{option} {text} cannot be: each number lies between {least} and 200.")
    return columns, rows


def _needed(length: float | None, option: str, example: str) -> float:
    if length is None:
        raise RequestError(f"The board needs {option}, as in {option} {example}: measure it.")
    if length <= 0:
        raise RequestError(f"{option} must be longer than nothing.")
    return length


def _check_free(path: Path, force: bool) -> None:
    """Tell of a taken name before the long work, not after it."""
    from profiler.jobs.writing import OutputTaken

    if path.exists() and not force:
        raise OutputTaken(path)


def _keep(result: Calibration, output: Path | None, install: bool, force: bool) -> None:
    from profiler.jobs.lens_search import install_path
    from profiler.jobs.lenses import lens_text
    from profiler.jobs.writing import write_atomically

    text = lens_text(result.record).encode()
    if install and not result.record.model:
        raise RequestError(
            "The photos do not say which phone took them, so an installed lens would never be"
            " found. Leave --install out, and put the record beside the photos as lens.json."
        )
    if output is not None:
        write_atomically(output, text, overwrite=force)
        typer.echo(
            f"Wrote {output}. Put it beside the photos as lens.json, or give it with --lens."
        )
    if install:
        path = install_path(result.record)
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(path, text, overwrite=force)
        typer.echo(f"Installed as {path}: 'measure' finds it for photos of {result.record.phone}.")


def _print(result: Calibration) -> None:
    """The figures, for people."""
    from rich.console import Console
    from rich.table import Table

    from profiler.jobs.lenses import FORMAL_FACTOR
    from profiler.optics.lens import LENS_TERMS

    console = Console(highlight=False)
    record = result.record
    console.print(
        f"\n{record.target}, {record.photos} photos by {record.phone}", markup=False, soft_wrap=True
    )
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in ("photo", "points", "set aside", "rms px", "tilt", "blur px"):
        table.add_column(heading, justify="left" if heading == "photo" else "right")
    for fit in result.fits:
        table.add_row(
            fit.name,
            str(fit.points),
            str(fit.set_aside),
            f"{fit.rms:.2f}",
            f"{fit.tilt:.0f}°",
            f"{fit.blur:.1f}",
        )
    console.print(table)
    for photo in result.left_out:
        console.print(f"left out: {photo.name}: {photo.reason}", markup=False, soft_wrap=True)

    lens, u = record.lens, dict(zip(LENS_TERMS, record.u, strict=True))
    console.print(
        f"\nfocal length   {lens.f:.1f} ± {u['f']:.1f} px"
        f"\noptical centre {lens.cx:.1f} ± {u['cx']:.1f}, {lens.cy:.1f} ± {u['cy']:.1f} px"
        f" of {lens.width} x {lens.height}"
    )
    for term in ("k1", "k2", "k3", "p1", "p2"):
        value = getattr(lens, term)
        console.print(f"{term}             {value:+.5f} ± {u[term]:.5f}")
    console.print(
        "± is one standard uncertainty as the residuals show it;"
        f" 'measure' widens it {FORMAL_FACTOR:g} times.",
        soft_wrap=True,
    )
    empty = result.coverage.empty_corners
    corners = "all four corners reached" if not empty else f"empty: {', '.join(empty)}"
    console.print(
        f"\nrms            {record.rms_px:.2f} px over {record.points} points"
        f"\ncoverage       {record.coverage:.0%} of the frame; {corners}",
        soft_wrap=True,
    )
    for row in result.coverage.cells:
        console.print(
            "               " + "".join("#" if n else "." for n in row),
            markup=False,
            soft_wrap=True,
        )
    colour = {"good": "green", "usable": "yellow"}.get(result.judgement.level, "red")
    console.print(f"\n[bold {colour}]verdict[/]        {result.judgement.level}")
    for reason in result.judgement.because:
        console.print(f"- {reason}", markup=False, soft_wrap=True)
    for step in result.judgement.advice:
        console.print(f"Next: {step}", markup=False, soft_wrap=True)
    console.print()
