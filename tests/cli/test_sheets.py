"""`profiler mat`, `cards` and `template` from the terminal: files, sentences, exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from profiler.cli.main import app
from profiler.jobs.records import cards_from_record, design_from_record, load_record
from profiler.jobs.results import JobNotes, measurement_record, record_bytes
from tests.made_up import made_up


def run(*args: str) -> Result:
    return CliRunner().invoke(app, list(args))


def good(*args: str) -> Result:
    result = run(*args)
    assert result.exit_code == 0, result.output
    return result


def refused(code: int, *args: str) -> str:
    """The sentence of a refusal, which is one line and no traceback."""
    result = run(*args)
    assert result.exit_code == code, result.output
    assert "Traceback" not in result.output
    assert "fault of the program" not in result.output
    return " ".join(result.output.split())


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_mat_writes_pdf_and_record(here: Path) -> None:
    said = good("mat").output
    assert {p.name for p in here.iterdir()} == {"mat.pdf", "mat.json"}
    design, scale = design_from_record(load_record(here / "mat.json"))
    assert (design.paper.name, design.count, scale.read) == ("A4", 8, False)
    assert "100 %" in said and "--bar-x" in said


def test_nothing_is_overwritten_without_force(here: Path) -> None:
    good("mat")
    before = (here / "mat.pdf").read_bytes()
    (here / "mat.pdf").unlink()
    assert "--force" in refused(6, "mat", "--paper", "A3")
    assert not (here / "mat.pdf").exists()  # refused as a whole
    good("mat", "--force")
    assert (here / "mat.pdf").read_bytes() == before


def test_readings_go_into_the_record_and_stay_there(here: Path) -> None:
    good("mat")
    pdf = (here / "mat.pdf").read_bytes()
    said = good("mat", "--record", "mat.json", "--bar-x", "179.6mm").output
    assert "99.78 %" in said and "Bar Y is not read yet" in said
    good("mat", "--record", "mat.json", "--bar-y", "26.95cm")
    record = json.loads((here / "mat.json").read_text())
    assert record["bar_x"]["read_mm"] == pytest.approx(179.6)
    assert record["bar_y"]["read_mm"] == pytest.approx(269.5)
    assert (here / "mat.pdf").read_bytes() == pdf


def test_readings_in_inches(here: Path) -> None:
    good("mat", "--paper", "letter")
    good("mat", "--record", "mat.json", "--bar-x", "7 31/64in", "--units", "in")
    _, scale = design_from_record(load_record(here / "mat.json"))
    assert scale.x == pytest.approx((7 + 31 / 64) * 25.4 / 190)


def test_a_scaled_print_is_refused_and_the_record_kept(here: Path) -> None:
    good("mat")
    before = (here / "mat.json").read_bytes()
    said = refused(4, "mat", "--record", "mat.json", "--bar-x", "170mm")
    assert "scaled" in said
    assert (here / "mat.json").read_bytes() == before


@pytest.mark.parametrize(
    ("code", "args"),
    [
        (2, ("--paper", "A9")),
        (2, ("--paper", "roll")),
        (2, ("--paper", "roll", "--roll-width", "2in")),
        (2, ("--paper", "A4", "--roll-width", "24in")),
        (2, ("--width", "25..5")),
        (2, ("--width", "-3mm")),
        (2, ("--width", "1mm")),
        (2, ("--width", "99m")),
        (2, ("--width", "3000mm", "--height", "3000mm")),
        (2, ("--tint", "chartreuse")),
        (2, ("--tint", "#102030")),
        (2, ("--tint", "#ffffff")),
        (4, ("--bar-x", "12mm")),
        (2, ("--record", "mat.json")),
        (2, ("--record", "mat.json", "--paper", "A3", "--bar-x", "1mm")),
        (4, ("--record", "nowhere.json", "--bar-x", "180mm")),
        (6, ("-o", "no/such/folder")),
    ],
)
def test_requests_without_sense(here: Path, code: int, args: tuple[str, ...]) -> None:
    refused(code, "mat", *args)
    assert list(here.iterdir()) == []


def test_output_may_be_a_folder_or_a_name(here: Path) -> None:
    good("mat", "-o", "bench")
    assert {p.name for p in (here / "bench").iterdir()} == {"mat.pdf", "mat.json"}
    good("cards", "-o", "bench/small.pdf")
    assert (here / "bench" / "small.json").is_file()


def test_a_roll(here: Path) -> None:
    good("mat", "--paper", "roll", "--roll-width", "24in", "--width", "1m")
    design, _ = design_from_record(load_record(here / "mat.json"))
    assert design.count == 1
    assert design.width == pytest.approx(1000)


def test_cards(here: Path) -> None:
    said = good("cards", "--paper", "Letter").output
    assert "shellac" in said
    good("cards", "--record", "cards.json", "--bar-x", "169.5", "--bar-y", "219.5")
    good("cards", "--record", "cards.json", "--thickness", "0.5mm")
    scale, thickness = cards_from_record(load_record(here / "cards.json"))
    assert (scale.x, scale.y) == pytest.approx((169.5 / 170, 219.5 / 220))
    assert thickness == 0.5
    assert "A4 or Letter" in refused(2, "cards", "--paper", "A3", "-o", "other")
    refused(4, "mat", "--record", "cards.json", "--bar-x", "180")


@pytest.fixture
def job(here: Path) -> Path:
    """A job folder as `profiler measure` leaves it, with a made-up instrument."""
    made = made_up()
    notes = JobNotes("Räkkä", "Aalto & Co")
    record = measurement_record(made.measurement, made.scene, [made.photo], notes)
    (here / "job").mkdir()
    (here / "job" / "measurement.json").write_bytes(record_bytes(record))
    return here / "job"


def test_template_writes_three_files_into_the_job(job: Path) -> None:
    before = (job / "measurement.json").read_bytes()
    good("template", "job", "--clearance", "1/8in")
    names = {p.name for p in job.iterdir()}
    assert names == {"measurement.json", "template.pdf", "template.svg", "template.dxf"}
    assert (job / "measurement.json").read_bytes() == before
    svg = (job / "template.svg").read_text()
    assert "Räkkä" in svg and "Aalto &amp; Co" in svg and "3.175 mm" in svg
    refused(6, "template", "job")
    first = (job / "template.dxf").read_bytes()
    good("template", "job", "--clearance", "1/8in", "--force")
    assert (job / "template.dxf").read_bytes() == first


def test_template_as_asked(job: Path, here: Path) -> None:
    args = ["--format", "PDF", "--paper", "letter", "--printer-x", "99.7", "-o", "out"]
    good("template", "job/measurement.json", *args, "--instrument", "No. 9")
    assert [p.name for p in (here / "out").iterdir()] == ["template.pdf"]


@pytest.mark.parametrize(
    ("code", "args"),
    [
        (2, ("job", "--clearance", "-1mm")),
        (2, ("job", "--clearance", "2m")),
        (2, ("job", "--clearance", "thick")),
        (2, ("job", "--paper", "B5")),
        (2, ("job", "--format", "png")),
        (2, ("job", "--format", ",")),
        (4, ("job", "--printer-x", "90mm")),
        (3, ("elsewhere",)),
        (3, (".",)),
    ],
)
def test_templates_without_sense(job: Path, here: Path, code: int, args: tuple[str, ...]) -> None:
    refused(code, "template", *args)
    assert [p.name for p in job.iterdir()] == ["measurement.json"]


def test_a_damaged_job(job: Path) -> None:
    whole = (job / "measurement.json").read_bytes()
    (job / "measurement.json").write_bytes(whole[: len(whole) // 2])
    refused(3, "template", "job")
