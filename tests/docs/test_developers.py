"""DEVELOPERS.md lists every finding that the program can make, and no other."""

from __future__ import annotations

import ast
import re

from profiler import errors
from profiler.errors import ProfilerError
from tests.docs.readme import ROOT

PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def codes_in_the_program() -> set[int]:
    """The first argument of every `Finding(…)` in the package."""
    return {
        call.args[0].value
        for path in (ROOT / "profiler").rglob("*.py")
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(call, ast.Call)
        and isinstance(call.func, ast.Name)
        and call.func.id == "Finding"
        and call.args
        and isinstance(call.args[0], ast.Constant)
        and isinstance(call.args[0].value, int)
    }


def test_every_finding_is_listed_once() -> None:
    place = PAGE.split("<!-- findings -->")[1].split("<!-- /findings -->")[0]
    listed = [int(code) for code in re.findall(r"^\| (\d{3}) \|", place, re.M)]
    assert len(listed) == len(set(listed))
    assert set(listed) == codes_in_the_program()


def test_every_family_has_its_exit_code_in_the_page() -> None:
    families = [
        f for f in vars(errors).values() if isinstance(f, type) and issubclass(f, ProfilerError)
    ]
    codes = sorted(f.exit_code for f in families if f is not ProfilerError)
    assert len(codes) == len(set(codes)) == 5
    for family in families:
        if family is not ProfilerError:
            assert re.search(rf"\b{family.exit_code} {family.__name__[:-5].lower()}", PAGE), family
