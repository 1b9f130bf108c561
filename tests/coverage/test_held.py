"""The bench itself: what it calls inside and outside, and that no truth is beside the photos."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from tests.coverage import blind
from tests.coverage.held import held

SAMPLE = Path(__file__).parents[2] / "samples" / "wren"


def record(truth: dict, off: float) -> dict:
    """As if measured `off` mm too large, everything known to 0.5 mm."""

    def number(value: float) -> dict:
        return {"value": value + off, "u95": 0.5, "mostly": ""}

    outline = truth["outline"][::4]
    return {
        "envelope": {name: number(truth[name]) for name in ("length", "width")},
        "widths": {"waist": number(truth["widths"]["waist"]["width"])},
        "cards": [],
        "warnings": [],
        "outline": [[x, y + (off if y > 0 else -off)] for x, y in outline],
        "outline_u95": [0.5] * len(outline),
    }


@pytest.mark.parametrize(("off", "inside"), [(0.0, True), (0.4, True), (0.8, False)])
def test_what_lies_within_u95_is_inside(off: float, inside: bool) -> None:
    truth = json.loads((SAMPLE / "truth.json").read_text())
    found = {h.kind: h for h in held(record(truth, off), truth)}
    assert set(found) == {"length", "width", "widths at stations", "outline points"}
    for kind in ("length", "width", "widths at stations"):
        assert found[kind].inside == inside, kind
        assert found[kind].errors[0] == pytest.approx(off, abs=1e-9)
    assert (found["outline points"].inside > 0.9) == inside


def test_the_command_never_sees_the_truth(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[set[str]] = []

    def run(command: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        seen.append({p.name for p in Path(command[2]).parent.iterdir()})
        return subprocess.CompletedProcess(command, 4, "", "Error: top-1.jpg: no\n mat.\n")

    monkeypatch.setattr(subprocess, "run", run)
    outcome = blind.measured([SAMPLE / "top-1.jpg"])
    assert seen == [{"top-1.jpg", "mat.json", "cards.json"}]
    assert (outcome.code, outcome.record, outcome.refusal) == (4, None, "top-1.jpg: no mat.")
