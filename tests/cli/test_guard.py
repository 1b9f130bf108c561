"""The guard: one sentence, a code, no traceback; help and version that always answer."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from types import ModuleType

import pytest
from typer.testing import CliRunner

import profiler
from profiler import errors
from profiler.cli.main import VERBS, app

runner = CliRunner()


@pytest.fixture
def verb(monkeypatch: pytest.MonkeyPatch) -> Callable[[BaseException], None]:
    """Put a verb in place of `mat` that raises."""

    def put(error: BaseException) -> None:
        room = ModuleType("profiler.cli.mat")

        def mat() -> None:
            raise error

        room.mat = mat  # type: ignore[attr-defined]
        monkeypatch.setitem(sys.modules, "profiler.cli.mat", room)

    return put


@pytest.mark.parametrize(
    ("family", "code"),
    [
        (errors.RequestError, 2),
        (errors.InputError, 3),
        (errors.SceneError, 4),
        (errors.OutlineError, 5),
        (errors.OutputError, 6),
    ],
)
def test_an_error_of_the_family_is_one_sentence(
    verb: Callable[[BaseException], None], family: type[errors.ProfilerError], code: int
) -> None:
    verb(family("The lamp is off. Switch it on."))
    result = runner.invoke(app, ["mat"])
    assert result.exit_code == code
    assert result.stderr == "Error: The lamp is off. Switch it on.\n"
    assert result.stdout == ""


def test_a_fault_of_the_program_apologises(verb: Callable[[BaseException], None]) -> None:
    verb(ZeroDivisionError("division by zero"))
    result = runner.invoke(app, ["mat"])
    assert result.exit_code == 70
    assert "Sorry" in result.stderr and "--debug" in result.stderr
    assert "Traceback" not in result.output


@pytest.mark.parametrize("error", [errors.InputError("No."), ZeroDivisionError("0")])
def test_debug_lets_errors_through(verb: Callable[[BaseException], None], error: Exception) -> None:
    verb(error)
    assert runner.invoke(app, ["--debug", "mat"]).exception is error


def test_stopping_is_quiet(verb: Callable[[BaseException], None]) -> None:
    verb(KeyboardInterrupt())
    result = runner.invoke(app, ["mat"])
    assert result.exit_code == 130 and "Stopped" in result.stderr


def test_too_little_memory(verb: Callable[[BaseException], None]) -> None:
    verb(MemoryError())
    result = runner.invoke(app, ["mat"])
    assert result.exit_code == 71 and "memory" in result.stderr


def test_help_names_every_verb() -> None:
    result = runner.invoke(app, ["--help"])
    assert result.exit_code == 0
    for verb in VERBS:
        assert verb.name in result.stdout and verb.summary.split(":")[0] in result.stdout


def test_version() -> None:
    result = runner.invoke(app, ["--version"])
    assert (result.exit_code, result.stdout) == (0, f"profiler {profiler.__version__}\n")


def test_a_misspelt_verb_is_a_usage_error() -> None:
    result = runner.invoke(app, ["measur"])
    assert result.exit_code == 2 and "'measure'" in result.stderr


@pytest.mark.parametrize("name", [verb.name for verb in VERBS])
def test_every_verb_has_its_room(name: str) -> None:
    result = runner.invoke(app, [name, "--help"])
    assert result.exit_code == 0, result.output
    assert "Usage" in result.stdout


FRONT = "from profiler.cli.main import run; run()"


def test_help_loads_nothing_heavy() -> None:
    program = (
        "import sys\ntry:\n    from profiler.cli.main import app\n    app(['--help'])\n"
        "except SystemExit: pass\n"
        "print(sorted({'cv2', 'numpy', 'scipy', 'reportlab', 'skimage'} & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert run.stdout.endswith("[]\n"), run.stdout + run.stderr


def test_a_reader_that_leaves_is_no_error() -> None:
    program = (
        "import sys, types\nroom = types.ModuleType('profiler.cli.mat')\n"
        "def mat():\n    import typer\n    for _ in range(99999): typer.echo('x' * 99)\n"
        "room.mat = mat\nsys.modules['profiler.cli.mat'] = room\nsys.argv = ['profiler', 'mat']\n"
        + FRONT
    )
    run = subprocess.Popen(
        [sys.executable, "-c", program], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert run.stdout and run.stderr
    run.stdout.readline()
    run.stdout.close()
    assert run.stderr.read() == b""
    assert run.wait(30) == 141


@pytest.mark.parametrize("verb_words", [["cards", "-o"], ["mat", "-o"], ["template"]])
def test_a_name_of_ten_thousand_letters_is_no_fault_of_the_program(verb_words: list[str]) -> None:
    result = runner.invoke(app, [*verb_words, "x" * 10_000])
    assert result.exit_code == errors.OutputError.exit_code
    assert "the name is too long" in result.stderr
    assert len(result.stderr) < 200
