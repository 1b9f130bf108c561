"""The README as the suite reads it: its commands, the output shown beneath them, marked places.

    python -m tests.docs.readme     # run the commands and show today's output in the README

A fenced `sh` block holds commands; a `text` block right below it is what the last of them prints.
A place between `<!-- name -->` and `<!-- /name -->` is written by another program.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
#: the setting up in front of a one-line command; `.ci/run` runs those lines whole
_SETTING_UP = "&& .venv/bin/"
_BLOCK = re.compile(
    r"^```sh\n(?P<commands>.*?)^```\n(?:```text\n(?P<shown>.*?)^```\n)?", re.M | re.S
)


@dataclass(frozen=True)
class Block:
    """Commands of one block, and what the README shows beneath them ('' for nothing)."""

    commands: tuple[str, ...]
    shown: str


def blocks(text: str) -> list[Block]:
    """Every `sh` block in order."""
    return [
        Block(tuple(found["commands"].splitlines()), found["shown"] or "")
        for found in _BLOCK.finditer(text)
    ]


def runnable(command: str) -> str | None:
    """The command without its setting up; None for the one that runs this very suite."""
    if _SETTING_UP in command:
        command = command.rsplit(_SETTING_UP, 1)[1]
    return None if command.startswith("python -m pytest") else command


def run(command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run one command as a newcomer would, in `folder` and with a home of its own."""
    environment = {
        **os.environ,
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "HOME": str(folder / "home"),
        "XDG_DATA_HOME": str(folder / "home"),
        "COLUMNS": "100",
        "PYTHONUTF8": "1",
    }
    return subprocess.run(
        ["bash", "-c", command],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


def workplace(folder: Path) -> Path:
    """A folder in which the README's relative paths lead somewhere."""
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copytree(ROOT / "samples", folder / "samples")
    return folder


def neutral(output: str) -> str:
    """Output without what differs from one machine to the next: where the program lives."""
    return re.sub(r"\S*/calib/", "…/calib/", output)


def masked(output: str) -> list[str]:
    """Its lines with every number as # and every run of blanks as one."""
    lines = [re.sub(r"\d(?:[\d., /]*\d)?", "#", line) for line in neutral(output).splitlines()]
    return [" ".join(line.split()) for line in lines if line.strip()]


def write_between(name: str, text: str, path: Path = README) -> None:
    """Replace what stands in a marked place.

    Raises:
        ValueError: there is no such place.
    """
    place = re.compile(rf"(<!-- {re.escape(name)} -->\n).*?(<!-- /{re.escape(name)} -->)", re.S)
    document = path.read_text(encoding="utf-8")
    if not place.search(document):
        raise ValueError(f"{path} has no place <!-- {name} -->")
    filled = place.sub(lambda m: f"{m[1]}\n{text.strip()}\n\n{m[2]}", document)
    path.write_text(filled, encoding="utf-8")


def refresh() -> None:
    """Run everything and put today's output where output is shown."""
    text = README.read_text(encoding="utf-8")
    with TemporaryDirectory() as temp:
        folder = workplace(Path(temp) / "place")

        def renewed(found: re.Match[str]) -> str:
            output = ""
            for command in map(runnable, found["commands"].splitlines()):
                if command is not None:
                    done = run(command, folder)
                    done.check_returncode()
                    output = neutral(done.stdout).strip("\n")
            if found["shown"] is None:
                return found[0]
            return f"```sh\n{found['commands']}```\n```text\n{output}\n```\n"

        text = _BLOCK.sub(renewed, text)
    README.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    refresh()
