"""What was chosen on the forms of case and cradle, as the command line's options."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from profiler.web.answers import LONGEST_TEXT, Refused
from profiler.web.caseoptions import OPTIONS, Option


def read_options(
    found: object, known: Mapping[str, Option] = OPTIONS, what: str = "case"
) -> Mapping[str, Any]:
    """What was chosen, as `Typed` takes it; nothing typed is nothing said.

    Raises:
        Refused: no such option, or something else than text, flag or list.
    """
    if not isinstance(found, dict):
        raise Refused(422, "request", "'options' is no object.")
    chosen: dict[str, Any] = {}
    for name, value in found.items():
        option = known.get(name)
        if option is None:
            raise Refused(422, "request", f"A {what} has no option '{str(name)[:40]}'.")
        if value is None or value == "" or value == []:
            continue
        if option.kind == "flag":
            if not isinstance(value, bool):
                raise Refused(422, "request", f"'{name}' is true or false.", option=name)
            chosen[name] = value
        elif option.kind == "list":
            if (
                not isinstance(value, list)
                or len(value) > 20
                or not all(isinstance(v, str) and len(v) < 100 for v in value)
            ):
                raise Refused(422, "request", f"'{name}' is a list of sizes.", option=name)
            chosen[name] = value
        elif isinstance(value, bool) or not isinstance(value, str | int | float):
            raise Refused(422, "request", f"'{name}' is text.", option=name)
        elif len(str(value)) > LONGEST_TEXT:
            raise Refused(422, "request", f"'{name}' is too long.", option=name)
        elif option.kind == "number":
            chosen[name] = _number(name, str(value))
        else:
            chosen[name] = str(value)
    return chosen


def _number(name: str, text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise Refused(422, "request", f"'{name}' is a number.", option=name) from None
