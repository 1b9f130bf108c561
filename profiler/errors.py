"""The one error family. Each error holds its data and says what to do next.

Exit codes: 2 how the command was called, 3 a file or photo, 4 the mat, cards or lens in it,
5 the instrument's outline, 6 writing results. 7 is no error here: results were written, but photos
contradict each other or the mat (`profiler.cli.measure`).
"""

from __future__ import annotations

#: closed rings in a photo, (x, y) px
Places = tuple[tuple[tuple[float, float], ...], ...]


class ProfilerError(Exception):
    """Anything a user can cause. `str(error)` is the sentence shown to them."""

    exit_code = 1
    #: where in the photo it is, px as the sensor reads them; none where it cannot be pointed at
    places: Places = ()


class RequestError(ProfilerError):
    """The command was called with something that makes no sense: a length, a name."""

    exit_code = 2


class InputError(ProfilerError):
    """A file or photo cannot be used."""

    exit_code = 3


class SceneError(ProfilerError):
    """The mat, the cards or the lens could not be solved from the photo."""

    exit_code = 4


class OutlineError(ProfilerError):
    """The mat is fine, but the instrument's outline cannot be measured."""

    exit_code = 5


class OutputError(ProfilerError):
    """Results cannot be written where they were asked to go."""

    exit_code = 6
