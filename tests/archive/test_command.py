"""The orders one after the other, as a person gives them; exit codes and what stays untouched."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from profiler.cli.main import app
from tests.archive.made import folder


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PROFILER_ARCHIVE", str(tmp_path / "shelf"))
    folder(tmp_path / "one" / "job", 1, "Wren", "Ada Marsh")
    folder(tmp_path / "two" / "job", 2, "Tern", "Bo Reed")
    return tmp_path


def say(*words: str, code: int = 0) -> Result:
    done = CliRunner().invoke(app, ["archive", *words])
    assert done.exit_code == code, (words, done.output, done.stderr, done.exception)
    return done


def test_from_adding_to_forgetting(bench: Path) -> None:
    assert "no archive" in say("list", code=3).stderr
    assert "Kept as 1.1, with 1 photo." in say("add", "one/job", "--kind", "viola").stdout
    assert "kept already" in say("add", "one/job").stdout
    say("add", "two/job", "--tag", "sold")
    assert say("list", "ADA").stdout.count("\n") == 1
    assert "Wren" in say("show", "1").stdout
    say("edit", "1", "--notes", "likes it deep")
    assert "likes it deep" in say("list", "deep", "--format", "json").stdout
    assert "2.1" in say("near", "two/job").stdout.splitlines()[1]
    assert "Of 2 outlines" in say("fits", "900x400", "--clearance", "5mm").stderr
    assert "2.1" in say("serves", "two/job").stdout.splitlines()[1]
    say("compare", "1", "two/job", "-o", "paper")
    say("print", "1", "-o", "paper", "--clearance", "1/8in", "--paper", "A4")
    names = {p.name for p in (bench / "paper").iterdir()}
    assert {"comparison.pdf", "summary.pdf", "template.dxf"} <= names

    assert "1 instrument, 1 photo" in say("export", "--customer", "ada marsh", "-o", "x.zip").stdout
    assert "is there already" in say("export", "1", "-o", "x.zip", code=6).stderr
    assert "1 measurement added." in say("import", "x.zip", "--archive", "other").stdout
    assert "all sound" in say("verify").stdout
    say("backup", "copy")
    assert "there already" in say("backup", "copy", code=6).stderr

    assert "Did you mean: Ada Marsh?" in say("forget", "ada", "--yes", code=2).stderr
    assert "none occurs" in say("forget", "Ada Marsh", "--yes").stdout
    assert "Wren" not in say("list").stdout
    assert "2 measurements" in say("restore", "copy", "--archive", "again").stdout
    assert "Wren" in say("list", "--archive", "again").stdout

    photo = next(p for p in (bench / "shelf" / "files").glob("*/*"))
    photo.write_bytes(b"spoiled")
    done = say("verify", code=3)
    assert "LOST" in done.stdout and "NOT SOUND" in done.stdout
    assert not [p.name for p in bench.iterdir() if p.name.endswith(".part")]


@pytest.mark.parametrize(
    "words",
    [
        ("add", "nowhere"),
        ("add", "one/job", "--date", "yesterday"),
        ("add", "one/job", "--document", "cradle"),
        ("add", "one/job", "--revision-of", "1", "--another"),
        ("export", "-o", "x.zip"),
        ("forget",),
        ("fits", "12xa", "--clearance", "1"),
        ("fits", "900x300", "--clearance", "wide"),
        ("list", "--archive", "mysql://somewhere/else"),
    ],
)
def test_what_makes_no_sense_is_a_sentence_and_makes_nothing(
    bench: Path, words: tuple[str, ...]
) -> None:
    before = sorted(p.name for p in bench.iterdir())
    done = CliRunner().invoke(app, ["archive", *words])
    assert done.exit_code in (2, 3) and done.stderr.startswith("Error: ")
    assert "fault of the program" not in done.stderr
    assert sorted(p.name for p in bench.iterdir()) == before


def test_no_or_ctrl_c_forgets_nobody(bench: Path) -> None:
    say("add", "one/job")
    done = CliRunner().invoke(app, ["archive", "forget", "Ada Marsh"], input="n\n")
    assert "Nothing was changed" in done.stdout
    assert "Wren" in say("list").stdout
