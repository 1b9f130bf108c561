"""What the README and DEVELOPERS.md say is so: commands run, output matches, files are there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.docs.readme import README, ROOT, blocks, masked, run, runnable, workplace, write_between


def test_every_command_runs_and_prints_what_is_shown(tmp_path: Path) -> None:
    folder = workplace(tmp_path / "place")
    ran = 0
    for block in blocks(README.read_text(encoding="utf-8")):
        output = ""
        for command in map(runnable, block.commands):
            if command is None:
                continue
            done = run(command, folder)
            assert done.returncode == 0, f"{command}\n{done.stdout}{done.stderr}"
            output = done.stdout
            ran += 1
        if block.shown:
            assert masked(block.shown) == masked(output), block.commands
    assert ran >= 9
    # what the text sends a reader to, in the order of the walk
    for name in (
        "first-job/measurement.json",
        "mat.pdf",
        "mat.json",
        "cards.pdf",
        "cards.json",
        "wren-job/overlay.jpg",
        "wren-job/summary.pdf",
        "wren-job/measurement.json",
        "lens.json",
        "wren-job/template.pdf",
        "wren-job/template.svg",
        "wren-job/template.dxf",
        "wren-tiles/template.pdf",
        "compared/comparison.pdf",
        "again/template.pdf",
        "wren.zip",
        "shelf-copy/archive.db",
        "samples/moor/jobs.csv",
        "shelf/top-1/measurement.json",
    ):
        assert (folder / name).stat().st_size > 0, name


def test_output_is_shown() -> None:
    """The check above sees the words of the output, not only its length."""
    shown = [block.shown for block in blocks(README.read_text(encoding="utf-8")) if block.shown]
    assert any("Length" in s and "±" in s for s in shown)
    assert masked("Length  12.5 ± 0.2 mm") == masked("Length 632 ± 1 mm")
    assert masked("Length 12.5 mm") != masked("Width 12.5 mm")


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "samples/README.md"])
def test_linked_files_are_there(name: str) -> None:
    page = ROOT / name
    for target in re.findall(r"\]\(([^)#]+)\)", page.read_text(encoding="utf-8")):
        assert "://" not in target, "pages stand on their own"
        assert (page.parent / target).exists(), target


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_named_files_are_there(name: str) -> None:
    """Words in code marks that look like files of this repository."""
    text = (ROOT / name).read_text(encoding="utf-8")
    tops = ("samples/", "calib/", "tests/", "profiler/", ".ci/")
    for word in re.findall(r"`([^`\s]+)`", text):
        if word.startswith(tops):
            assert (ROOT / word).exists(), word
    for module in re.findall(r"python -m (tests[\w.]+)", text):
        path = ROOT / module.replace(".", "/")
        assert path.with_suffix(".py").exists() or (path / "__main__.py").exists(), module


def test_marked_places_are_written_alone(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    page.write_text("a\n<!-- speed -->\nold\n<!-- /speed -->\nb\n", encoding="utf-8")
    write_between("speed", "| new |", page)
    written = page.read_text(encoding="utf-8")
    assert "old" not in written and "| new |" in written
    assert written.startswith("a\n") and written.endswith("b\n")
    write_between("speed", "| new |", page)
    assert page.read_text(encoding="utf-8") == written
    with pytest.raises(ValueError, match="accuracy"):
        write_between("accuracy", "", page)
