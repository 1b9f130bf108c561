"""`profiler case` as a person calls it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from profiler.cli.main import app
from profiler.errors import RequestError
from profiler.jobs.results import JobNotes, measurement_record
from profiler.pipeline.casing.typed import parse_pair
from tests.made_up import made_up

TYPED = ["case", "--length", "680", "--width", "240", "--height", "95"]
NECK = ["--body-length", "420", "--neck-width", "45", "--head-width", "85", "--head-length", "150"]
runner = CliRunner()


def call(*arguments: str) -> tuple[int, str]:
    done = runner.invoke(app, list(arguments))
    return done.exit_code, done.output


def test_typed_sizes_make_a_case(tmp_path: Path) -> None:
    folder = tmp_path / "box"
    code, said = call(*TYPED, *NECK, "-o", str(folder), "--format", "pdf,dxf")
    assert code == 0, said
    names = {p.name for p in folder.iterdir()}
    assert {"case.pdf", "plan.json", "cut-list.csv", "front-board.dxf", "exploded.dxf"} <= names
    assert not any(n.endswith(".svg") for n in names)
    plan = json.loads((folder / "plan.json").read_text())
    assert plan["instrument"]["length"] == 680.0
    assert len(plan["compartments"]) == 2
    assert "Outside, closed" in said and "[801]" in said
    # never overwritten silently, and the old one stays whole
    before = (folder / "plan.json").read_bytes()
    code, said = call(*TYPED, "-o", str(folder), "--format", "")
    assert code == 6 and "--force" in said
    assert (folder / "plan.json").read_bytes() == before
    # with --force the old plan's drawings go, and nothing else does
    (folder / "notes.pdf").write_text("the maker's own")
    assert call(*TYPED, "-o", str(folder), "--format", "pdf", "--force")[0] == 0
    left = {p.name for p in folder.iterdir()}
    assert left == {"case.pdf", "plan.json", "cut-list.csv", "notes.pdf"}


def test_inches_in_and_out(tmp_path: Path) -> None:
    folder = tmp_path / "box"
    code, said = call(
        "case", "--length", "26 3/4", "--width", "9 1/2", "--height", "3 3/4",
        "--clearance", "1/2", "--lining", "0", "--boards-actual", "1/2", "--units", "in",
        "--latch", "3/4x1", "--mass", "2lb", "--format", "", "-o", str(folder),
    )  # fmt: skip
    assert code == 0, said
    plan = json.loads((folder / "plan.json").read_text())
    assert plan["box"]["inside"][1] == pytest.approx(10.5 * 25.4)
    assert plan["box"]["outside"][1] == pytest.approx(11.5 * 25.4)
    assert plan["weight"]["instrument"] == pytest.approx(2 * 0.45359237)
    assert '10 1/2"' in said


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["case"], "--length, --width, --height"),
        (["case", "--length", "680", "--width", "240"], "Not there: --height"),
        ([*TYPED, "--latch", "18"], "--latch: '18' is not a pair"),
        ([*TYPED, "--mass", "heavy"], "--mass: 'heavy' is not a mass"),
        ([*TYPED, "--mass", "400kg"], "cannot be"),
        ([*TYPED, "--cover", "balsa", *NECK], "'balsa' moves is not in the table"),
        ([*TYPED, "--closure", "glue"], "Known: hole, magnet"),
        ([*TYPED, "--compartments", "left"], "Known: auto, both"),
        ([*TYPED, "--boards", "5mm"], "--boards-actual"),
        ([*TYPED, "--sheet", "roof=100x100mm"], "what sheets are for"),
        ([*TYPED, "--kerf", "-1"], "--kerf"),
        ([*TYPED, "--format", "stl"], "No format is called"),
        ([*TYPED, "--paper", "A9"], "No paper is called"),
        ([*TYPED, "--paper", "roll"], "A roll has no pages"),
        ([*TYPED, "--moisture", "50"], "between 0 and 20"),
        ([*TYPED, "--handle", "2m"], "Was the unit meant"),
        ([*TYPED, "--latch", "70x90mm"], "taller than the case"),
        ([*TYPED, "--compartments", "both"], "no room for a compartment"),
    ],
)
def test_refusals_are_a_sentence(tmp_path: Path, arguments: list[str], words: str) -> None:
    folder = tmp_path / "box"
    code, said = call(*arguments, "-o", str(folder))
    assert code == 2, said
    assert words in said
    assert "Traceback" not in said
    assert not folder.exists(), "nothing half-written"


def test_a_job_without_a_height_asks_for_it(tmp_path: Path) -> None:
    job = tmp_path / "job"
    job.mkdir()
    (job / "measurement.json").write_text(json.dumps(made_up_record()))
    code, said = call("case", str(job))
    assert code == 2 and "--height 80mm" in said
    assert not (job / "case").exists()
    code, said = call("case", str(job), "--height", "80", "--format", "")
    assert code == 0, said
    assert (job / "case" / "plan.json").exists()
    code, said = call("case", str(job), "--height", "80", "--width", "200")
    assert code == 2 and "goes without a job" in said


def made_up_record() -> dict[str, object]:
    m = made_up()
    return measurement_record(m.measurement, m.scene, [m.photo], JobNotes("Skerry", "Ada"))


def test_pairs_of_lengths() -> None:
    assert parse_pair("18x28mm", "in", "--latch") == (18.0, 28.0)
    assert parse_pair('3/4 × 1 1/8"', "mm", "--latch") == pytest.approx((19.05, 28.575))
    assert parse_pair("1cm x 20mm", "mm", "--latch") == (10.0, 20.0)
    assert parse_pair("2x3", "in", "--latch") == pytest.approx((50.8, 76.2))
    for bad in ("18", "1x2x3", "axb", "x", "1x-2"):
        with pytest.raises(RequestError, match="--latch"):
            parse_pair(bad, "mm", "--latch")
