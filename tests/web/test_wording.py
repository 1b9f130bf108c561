"""No sentence on the page speaks of options that nobody can type there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from profiler.web.wording import for_page

PACKAGE = Path(__file__).parents[2] / "profiler"


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        (
            "The height is assumed. Give --height tuners=… to be sure.",
            "The height is assumed. Type its height to be sure.",
        ),
        (
            "--height body=700.0mm cannot be: heights lie between 0 and 396 mm.",
            "A height of 700.0 mm for the body cannot be: heights lie between 0 and 396 mm.",
        ),
        (
            "Give --height side-button=… to be sure.",
            "Type its height to be sure.",
        ),
        (
            "Say --height button=0 if there is none.",
            "Type 0 as the height of the button if there is none.",
        ),
        (
            "or, if there is no strap button, --height button=0.",
            "or, if there is no strap button, 0 typed as the height of the button.",
        ),
        (
            "or a case that much deeper (--above).",
            "or a case that much deeper (“Air above”).",
        ),
        ("A plain sentence.", "A plain sentence."),
    ],
)
def test_options_become_fields(said: str, shown: str) -> None:
    assert for_page(said) == shown


def test_no_option_is_left_in_any_sentence_of_the_core() -> None:
    """Every sentence in the packages that the page calls, as it stands in the code."""
    checked = 0
    for room in ("pipeline", "casework", "archive", "scene", "outline", "silhouette", "instrument"):
        for path in (PACKAGE / room).rglob("*.py"):
            for text in re.findall(r'"([^"\n]*--[a-z][^"\n]*)"', path.read_text("utf-8")):
                assert not re.search(r"--[a-z]", for_page(text)), (path, text)
                checked += 1
    assert checked > 20
