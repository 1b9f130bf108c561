"""Printers that were measured: kept, corrected for, refused where the readings cannot be."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from profiler.cli.main import app
from profiler.errors import RequestError, SceneError
from profiler.jobs.printers import (
    Printer,
    PrintersUnusable,
    forget_printer,
    keep_printer,
    printer_named,
    read_printers,
)
from profiler.paper import PAPERS, paper_named
from profiler.plates.barpage import bar_lengths, bar_page


def made(name: str = "laser", x: float = 179.4, y: float = 260.7) -> Printer:
    return Printer(name, "A4", (180.0, 260.0), (x, y))


@given(st.floats(0.98, 1.02), st.floats(0.98, 1.02))
def test_what_is_corrected_comes_out_true(x: float, y: float) -> None:
    """A length drawn longer by the correction and printed by that printer is the length."""
    printer = made(x=180 * x, y=260 * y)
    assert 100 * printer.correction.x * x == pytest.approx(100)
    assert 100 * printer.correction.y * y == pytest.approx(100)


def test_kept_replaced_and_forgotten(tmp_path: Path) -> None:
    path = tmp_path / "data" / "printers.json"
    assert read_printers(path) == ()
    keep_printer(made(), path=path)
    keep_printer(made("Attic"), path=path)
    assert [p.name for p in read_printers(path)] == ["Attic", "laser"]
    with pytest.raises(RequestError, match="already"):
        keep_printer(made("LASER", x=180), path=path)
    keep_printer(made("LASER", x=180), replace=True, path=path)
    assert printer_named("laser", path).read == (180.0, 260.7)
    forget_printer("laser", path)
    assert [p.name for p in read_printers(path)] == ["Attic"]
    with pytest.raises(RequestError, match="Attic"):
        printer_named("laser", path)


@pytest.mark.parametrize("x", [0.0, -1.0, 100.0, float("nan"), float("inf")])
def test_readings_that_cannot_be(tmp_path: Path, x: float) -> None:
    with pytest.raises(SceneError):
        keep_printer(made(x=x), path=tmp_path / "printers.json")
    assert not (tmp_path / "printers.json").exists()


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"format": "profiler printers", "version": 9}', "\udcff"]
)
def test_a_damaged_file_is_told_and_left_alone(tmp_path: Path, text: str) -> None:
    path = tmp_path / "printers.json"
    path.write_bytes(text.encode("utf-8", "surrogateescape"))
    with pytest.raises(PrintersUnusable):
        keep_printer(made(), path=path)
    assert path.read_bytes() == text.encode("utf-8", "surrogateescape")


@pytest.mark.parametrize("name", list(PAPERS))
def test_the_bars_are_on_the_paper_and_as_long_as_they_say(name: str) -> None:
    paper = paper_named(name)
    drawing = bar_page(paper)
    bars = next(layer for layer in drawing.layers if layer.name == "bars").items
    for axis, (bar, length) in enumerate(zip(bars, bar_lengths(paper), strict=True)):
        along = [p[axis] for p in bar.rings[0]]  # type: ignore[union-attr]
        assert max(along) - min(along) == pytest.approx(length)
        assert min(along) > 6 and max(along) < (paper.width_mm, paper.height_mm)[axis] - 6


def test_the_template_makes_up_for_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, made_up_job: Path
) -> None:
    """A printer of that name does what its readings do when typed by hand."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))

    def run(*args: str) -> str:
        done = CliRunner().invoke(app, list(args))
        assert done.exit_code == 0, done.output
        return done.output

    said = run("printer", "record", "laser", "--bar-x", "179.1", "--bar-y", "260")
    assert "0.5 % too short" in said
    assert "laser" in run("printer", "list")
    run("template", str(made_up_job), "-o", str(tmp_path / "a"), "--printer", "Laser")
    run(
        "template", str(made_up_job), "-o", str(tmp_path / "b"), "--printer-x", "99.5",
        "--printer-y", "100",
    )  # fmt: skip
    run("template", str(made_up_job), "-o", str(tmp_path / "c"))
    first, second, plain = (page_size(tmp_path / n / "template.pdf") for n in "abc")
    assert first == pytest.approx(second)
    assert first == pytest.approx((plain[0] / 0.995, plain[1]))
    both = CliRunner().invoke(
        app, ["template", str(made_up_job), "--printer", "laser", "--printer-x", "99"]
    )
    assert both.exit_code == 2


def page_size(path: Path) -> tuple[float, float]:
    """Points, of the first page, read by another library than wrote it."""
    found: tuple[float, float] = pypdfium2.PdfDocument(path).get_page_size(0)
    return found


@pytest.fixture
def made_up_job(tmp_path: Path) -> Path:
    from profiler.jobs.results import JobNotes, measurement_record, record_bytes
    from tests.made_up import made_up

    job = made_up()
    record = measurement_record(job.measurement, job.scene, [job.photo], JobNotes())
    place = tmp_path / "job"
    place.mkdir()
    (place / "measurement.json").write_bytes(record_bytes(record))
    return place
