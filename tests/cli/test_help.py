"""Every help is for people: no type names of the language, and prose that fills its lines."""

from __future__ import annotations

import itertools
import re

import pytest
from typer.testing import CliRunner

from profiler.cli.main import VERBS, app

ORDERS = [
    *((verb.name,) for verb in VERBS),
    *(("printer", order) for order in ("page", "record", "list", "forget")),
    *(("archive", order) for order in ("add", "list", "near", "fits", "compare", "forget")),
]


@pytest.mark.parametrize("order", ORDERS, ids=" ".join)
def test_help_has_no_words_of_a_programmer(order: tuple[str, ...]) -> None:
    said = CliRunner().invoke(app, [*order, "--help"], env={"COLUMNS": "80"})
    assert said.exit_code == 0
    assert not re.search(r"<(bool|str|int|float|path|list|file|directory)\b", said.stdout)
    prose = said.stdout.split("╭")[0].split("\n")
    for line, following in itertools.pairwise(prose):
        first = following.split()[:1]
        if line.strip() and first:
            # the next word would not have gone on this line
            assert len(line.rstrip()) + 1 + len(first[0]) > 78, line
