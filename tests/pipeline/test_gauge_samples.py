"""The rendered gauge photos against the necks they were pressed to: 0.2 mm RMS between the tips."""

from __future__ import annotations

import json

import pytest

from tests.gauge_accuracy import TRUTHS, compared, folders, measured


@pytest.mark.parametrize(
    ("folder", "name"),
    [(f, n) for f in folders() for n in json.loads((f / TRUTHS["gauge"]).read_text())],
    ids=lambda v: str(getattr(v, "name", v)),
)
def test_between_the_tips(folder, name) -> None:  # type: ignore[no-untyped-def]
    truth = json.loads((folder / TRUTHS["gauge"]).read_text())[name]
    row = compared(folder / name, truth, measured(folder / name, truth))
    assert row.placed < 0.2
    assert row.shape < 0.1
    assert row.covered > 0.9
    assert abs(row.width) < 0.9
