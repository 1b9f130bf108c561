"""`profiler cradle` as a person calls it, and `profiler case` that takes its cradle along."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from profiler.cli.main import app
from profiler.instrument.record import PartHeight, Quantity
from profiler.jobs.results import JobNotes, measurement_record
from profiler.jobs.sections import with_section
from tests.cradle.made import Made
from tests.made_up import made_up

runner = CliRunner()
MADE = Made()
SECTION = ["--neck-at", "495", "--neck-depth", "20", "--neck-height", "45"]


def call(*arguments: str) -> tuple[int, str]:
    done = runner.invoke(app, list(arguments))
    return done.exit_code, done.output


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A measured job without sections."""
    scene = made_up()
    heights = (
        PartHeight("body", Quantity(70.0, 0.5, x=150.0), "card 1"),
        PartHeight("back", Quantity(0.0, 1.0, x=150.0), "assumed"),
    )
    m = replace(MADE.measurement(), heights=heights)
    record = measurement_record(m, scene.scene, [scene.photo], JobNotes("Curlew", "Ada Marsh"))
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "measurement.json").write_text(json.dumps(record))
    return folder


def test_a_typed_section_makes_a_neck_rest(job: Path) -> None:
    before = (job / "measurement.json").read_bytes()
    code, said = call("cradle", str(job), *SECTION, "--format", "pdf,dxf")
    assert code == 0, said
    names = {p.name for p in (job / "cradle").iterdir()}
    assert {"cradle.pdf", "cradle.json", "neck-rest.dxf", "body-block-tail-left.dxf"} <= names
    assert not any(n.endswith(".svg") for n in names)
    assert (job / "measurement.json").read_bytes() == before
    # 10 mm of foam that gives a quarter, a rule's 45 mm, 6 mm of the same
    record = json.loads((job / "cradle" / "cradle.json").read_text())
    rest = next(p for p in record["pieces"] if p["name"] == "neck rest")
    notch = next(s["mm"] for s in rest["sizes"] if s["name"].endswith("above the floor"))
    assert notch == pytest.approx(7.5 + 45.0 - 4.5, abs=0.1)
    # what cannot be made says why, and what to do
    assert "No headstock block" in said and "profiler headstock" in said
    assert "[820]" in said and "[821]" in said
    assert "Curlew" in record["job"]["name"]
    # never overwritten silently
    code, said = call("cradle", str(job), *SECTION)
    assert code == 6 and "--force" in said
    (job / "cradle" / "mine.dxf").write_text("the maker's own")
    code, said = call("cradle", str(job), *SECTION, "--format", "pdf", "--force")
    assert code == 0, said
    assert {p.name for p in (job / "cradle").iterdir()} == {"cradle.pdf", "cradle.json", "mine.dxf"}


def test_sections_of_the_job_are_taken(job: Path) -> None:
    path = job / "measurement.json"
    record = json.loads(path.read_text())
    for x in (360.0, 480.0):
        record = with_section(record, MADE.section(x))
    path.write_text(json.dumps(record))
    code, said = call("cradle", str(job), "--pieces", "neck", "--format", "")
    assert code == 0, said
    kept = json.loads((job / "cradle" / "cradle.json").read_text())
    (rest,) = kept["pieces"]
    assert rest["sizes"][0]["mm"] == pytest.approx(480.0)
    code, said = call(
        "cradle", str(job), "--pieces", "neck", "--format", "", "--at", "neck=420mm", "--force"
    )
    kept = json.loads((job / "cradle" / "cradle.json").read_text())
    assert kept["pieces"][0]["sizes"][0]["mm"] == pytest.approx(420.0)


def test_without_anything_known_of_the_neck_it_says_what_is_missing(job: Path) -> None:
    code, said = call("cradle", str(job), "--pieces", "neck")
    assert code == 2
    assert "profiler section" in said
    assert not (job / "cradle").exists(), "nothing half-written"


def test_overrides_in_inches(job: Path) -> None:
    code, said = call(
        "cradle", str(job), "--units", "in", "--neck-at", "19 1/2", "--neck-depth", "13/16",
        "--neck-height", "1 3/4", "--lining", "neck=leather:3/32:5%", "--clearance", "tail=1/4",
        "--lining", "body=foam:1/2in:20%", "--stock", "3/4", "--stock-actual", "neck=18mm",
        "--inside-width", "9 1/2", "--button-height", "1 1/2", "--format", "",
    )  # fmt: skip
    assert code == 0, said
    record = json.loads((job / "cradle" / "cradle.json").read_text())
    assert record["contacts"]["neck"]["lining"] == "leather"
    assert record["contacts"]["neck"]["thickness"] == pytest.approx(25.4 * 3 / 32, abs=1e-3)
    assert record["contacts"]["tail"]["clearance"] == pytest.approx(6.35)
    assert record["lift"]["mm"] == pytest.approx(12.7 * 0.8)
    thick = {p["name"]: p["thickness"] for p in record["pieces"]}
    assert thick["neck rest"] == 18.0
    assert thick["tail rest"] == pytest.approx(25.4 * 23 / 32, abs=1e-3)
    assert record["berth"]["left"] - record["berth"]["right"] == pytest.approx(9.5 * 25.4)
    assert record["berth"]["source"] == "typed"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--lining", "felt"], "does not say where"),
        (["--lining", "neck=wool"], "'wool' is no lining"),
        (["--lining", "neck=felt:3mm:lots"], "write a percentage"),
        (["--lining", "neck=felt:1:2:3"], "too many parts"),
        (["--clearance", "2mm"], "does not say where"),
        (["--clearance", "ear=2mm"], "'ear' is no contact"),
        (["--clearance", "neck=half"], "--clearance neck"),
        (["--at", "tail=20"], "cannot be said here"),
        (["--at", "neck=320"], "is not known"),
        (["--let-in", "nailed"], "Known: glued, groove, dado"),
        (["--stock", "5mm"], "--stock-actual"),
        (["--stock", "nose=12mm"], "cannot be said here"),
        (["--pieces", "nose"], "No cradle piece is called"),
        (["--hold", "2"], "--hold"),
        (["--bit-radius", "90mm"], "--bit-radius"),
        (["--neck-at", "495"], "--neck-depth"),
        (["--neck-shape", "D"], "goes with --neck-at"),
        (["--neck-at", "495", "--neck-depth", "20", "--neck-shape", "star"], "star"),
        (["--button", "13"], "--button"),
        (["--button", "13x10"], "--button-height"),
        (["--button", "13x100", "--button-height", "40"], "between 2 and 60"),
        (["--side", "70x0mm"], "--side"),
        (["--format", "stl"], "No format"),
        (["--paper", "A9"], "No paper"),
        (["--printer-x", "90mm"], "printer"),
    ],
)
def test_refusals_are_a_sentence(job: Path, arguments: list[str], words: str) -> None:
    base = [] if any(a.startswith("--neck") for a in arguments) else SECTION
    only = [] if "--pieces" in arguments or "--stock" in arguments else ["--pieces", "neck"]
    code, said = call("cradle", str(job), *base, *only, *arguments)
    assert code in (2, 4), said
    assert words in said
    assert "Traceback" not in said
    assert not (job / "cradle").exists(), "nothing half-written"


def test_the_case_takes_the_cradle_along(job: Path) -> None:
    code, said = call("cradle", str(job), *SECTION, "--format", "")
    assert code == 0, said
    code, said = call("case", str(job), "--height", "85", "--format", "pdf,dxf")
    assert code == 0, said
    assert "fitted to this case" in said
    folder = job / "case"
    names = {p.name for p in folder.iterdir()}
    assert {"case.pdf", "cradle.pdf", "cradle.json", "neck-rest.dxf", "plan.json"} <= names
    plan = json.loads((folder / "plan.json").read_text())
    pieces = {p["name"]: p for p in plan["pieces"]}
    assert "neck rest" in pieces and len(pieces["neck rest"]["profile"]) > 20
    assert "neck rest" in (folder / "cut-list.csv").read_text(encoding="utf-8-sig")
    assert any("Cradle pieces" in step for step in plan["order_of_work"])
    # the kept options make the same cradle again
    again = json.loads((folder / "cradle.json").read_text())
    assert again["berth"]["source"] == "case"
    code, said = call("case", str(job), "--height", "85", "--no-cradle", "-o", str(job / "bare"))
    assert code == 0, said
    assert not (job / "bare" / "cradle.pdf").exists()
    code, said = call("case", str(job), "--height", "85", "--cradle", str(job), "--force")
    assert code == 3 and "no plan of a cradle" in said


def test_a_damaged_cradle_plan_is_told(job: Path) -> None:
    (job / "cradle").mkdir()
    (job / "cradle" / "cradle.json").write_text("{")
    code, said = call("case", str(job), "--height", "85")
    assert code == 3 and "--no-cradle" in said
    assert not (job / "case").exists()


def test_help_is_for_people() -> None:
    code, said = call("cradle", "--help")
    assert code == 0
    for words in ("straight down", "fit check", "profiler section", "profiler headstock"):
        assert words in " ".join(said.split()), words


def test_a_side_view_lays_the_neck_where_nobody_typed_it(job: Path) -> None:
    """The rest's notch follows the underside that was seen, and a rule goes before it."""
    from profiler.jobs.side import side_record
    from tests.pipeline.test_section_side import LOW, with_side

    path = job / "measurement.json"
    record = json.loads(path.read_text())
    side = with_side().side
    assert side is not None
    record["side_view"] = side_record(side)
    path.write_text(json.dumps(record))
    code, said = call(
        "cradle", str(job), "--neck-at", "390mm", "--neck-depth", "21", "--format", "svg"
    )
    assert code == 0 and "by the side view side-1.jpg" in said and "[619]" in said, said
    seen = json.loads((job / "cradle" / "cradle.json").read_text())
    typed = ("--neck-height", "47", "--format", "svg", "--force")
    code, said = call("cradle", str(job), "--neck-at", "390mm", "--neck-depth", "21", *typed)
    assert code == 0 and "side-1.jpg above" not in said and "is taken to be" not in said, said
    ruled = json.loads((job / "cradle" / "cradle.json").read_text())

    def notch(plan: dict[str, Any]) -> float:
        piece = next(p for p in plan["pieces"] if p["name"] == "neck rest")
        return next(s["mm"] for s in piece["sizes"] if "notch" in s["name"])

    assert notch(ruled) - notch(seen) == pytest.approx(47.0 - LOW, abs=0.2)
