"""The guard at the threshold: whatever goes wrong, a person reads one sentence and a script a code.

Exit codes: those of the error families in `profiler.errors` (2 to 6), 70 for a fault of the
program itself, 71 for too little memory, 130 stopped by the user, 141 the reader of a pipe left.
"""

from __future__ import annotations

import errno
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

import typer

from profiler.errors import OutputError, ProfilerError

EXIT_FAULT = 70
EXIT_MEMORY = 71
EXIT_STOPPED = 128 + signal.SIGINT
#: 128 + SIGPIPE, which has no name on Windows
EXIT_PIPE = 128 + 13
#: what a disk may say of a name before any file is opened: no fault of the program
_DISK = {
    errno.ENAMETOOLONG: "the name is too long for this disk",
    errno.EACCES: "the folder it lies in may not be entered",
    errno.ELOOP: "its links lead in a circle",
    errno.ENOSPC: "the disk is full",
}


@contextmanager
def guard(debug: bool = False) -> Iterator[None]:
    """Turn errors into a sentence on stderr and an exit code.

    Args:
        debug: let every error through with its traceback.
    """
    try:
        yield
    except (typer.Exit, typer.Abort):
        raise
    except ProfilerError as error:
        if debug:
            raise
        say_error(str(error))
        raise typer.Exit(error.exit_code) from None
    except KeyboardInterrupt:
        if debug:
            raise
        typer.echo("\nStopped. Nothing was written.", err=True)
        raise typer.Exit(EXIT_STOPPED) from None
    except BrokenPipeError:
        # whatever is still in the buffer must not complain when the program ends
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise typer.Exit(EXIT_PIPE) from None
    except MemoryError:
        if debug:
            raise
        say_error("There is not enough memory. Close other programs, or use smaller photos.")
        raise typer.Exit(EXIT_MEMORY) from None
    except Exception as error:
        if debug or _is_usage(error):
            raise
        if isinstance(error, OSError) and error.errno in _DISK and error.filename is not None:
            say_error(f"{_in_short(error.filename)} cannot be used: {_DISK[error.errno]}.")
            raise typer.Exit(OutputError.exit_code) from None
        say_error(
            f"Sorry, this is a fault of the program, not yours ({type(error).__name__}: {error}).\n"
            "Nothing was written. Please run the same command as 'profiler --debug ...' and send"
            " what it prints, with the photo if you can, to the program's maintainers."
        )
        raise typer.Exit(EXIT_FAULT) from None


def _in_short(name: object) -> str:
    text = os.fsdecode(name) if isinstance(name, bytes | str) else str(name)
    return text if len(text) <= 80 else f"{text[:40]}…{text[-20:]}"


def say_error(sentence: str) -> None:
    """One red word, then the sentence, on stderr; colours only where a person looks."""
    typer.echo(f"{typer.style('Error:', fg=typer.colors.RED, bold=True)} {sentence}", err=True)


def stop_politely() -> None:
    """Let a request to end (SIGTERM) unwind, so that half-written drafts are cleared away."""

    def leave(number: int, frame: FrameType | None) -> None:
        raise SystemExit(128 + number)

    signal.signal(signal.SIGTERM, leave)


def _is_usage(error: Exception) -> bool:
    """A misspelt option and the like, which typer shows by itself."""
    return hasattr(error, "format_message") and hasattr(error, "show")
