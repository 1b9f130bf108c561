"""`profiler mat`, `cards` and `template` from the terminal: files, sentences, exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from profiler.cli.main import app
from profiler.jobs.records import cards_from_record, design_from_record, load_record


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
