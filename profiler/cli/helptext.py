"""Help for people: paragraphs that flow, and no words that only a programmer knows."""

from __future__ import annotations

import inspect
from typing import Any

#: what an option without a metavar of its own is shown to take
_TAKES = {str: "TEXT", int: "NUMBER", float: "NUMBER"}


def readable(command: Any) -> Any:
    """A command, and its orders where it has some, with its help put into plain words.

    Docstrings break their lines at 100 letters, and a terminal of 80 would break them once more.
    """
    if command.help:
        paragraphs = inspect.cleandoc(command.help).split("\n\n")
        command.help = "\n\n".join(" ".join(paragraph.split()) for paragraph in paragraphs)
    with_help = command.get_params

    def get_params(ctx: Any) -> list[Any]:
        return plainly_typed(with_help(ctx))

    command.get_params = get_params
    for order in getattr(command, "commands", {}).values():
        readable(order)
    return command


def plainly_typed(params: list[Any]) -> list[Any]:
    """Arguments and options whose help says what to type, and of a switch nothing."""
    for param in params:
        if param.param_type_name == "argument":
            # its metavar stands before it already
            param.display_type_rich = lambda ctx: None
        elif param.metavar is None:
            described = param.type_descriptor
            if param.is_flag:
                param.metavar = ""
            elif described.is_path:
                param.metavar = "PATH"
            elif not described.is_choice:
                param.metavar = _TAKES.get(described.annotation)
    return params
