"""Everything that the server holds while it runs. What matters lies on the disk, not here."""

from __future__ import annotations

import json
from collections import OrderedDict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import platformdirs

from profiler.archive.place import Place
from profiler.jobs.results import record_bytes
from profiler.jobs.writing import write_atomically
from profiler.paper import PAPERS
from profiler.web.answers import Refused, missing
from profiler.web.events import Hub
from profiler.web.folder import WorkingFolder
from profiler.web.made import Shelf
from profiler.web.phones import Phones
from profiler.web.workers import Worker

SETTINGS_NAME = "bench.json"
CHOICES = {
    "units": ("mm", "in"),
    "paper": tuple(PAPERS),
    "tour": ("new", "running", "done"),
    "look": ("auto", "light", "dark"),
}


@dataclass(frozen=True)
class Options:
    """How the server was started.

    Attributes:
        folder: the working folder.
        archive: where the archive is.
        port: that it listens on.
        lan: whether the local network is let in, with a code.
        addresses: of this machine on the local network.
        settings: where the page's settings and the printers are kept; None for the user's data.
    """

    folder: Path
    archive: Place
    port: int
    lan: bool = False
    addresses: tuple[str, ...] = ()
    data: Path | None = None

    @property
    def data_folder(self) -> Path:
        """The user's data folder of this program."""
        return self.data or Path(platformdirs.user_data_dir("profiler", appauthor=False))


@dataclass
class Settings:
    """What the page remembers of its user."""

    units: str = "mm"
    inch_step: int = 64
    paper: str = "A4"
    printer: str | None = None
    tour: str = "new"
    look: str = "auto"

    def take(self, fields: dict[str, Any]) -> None:
        """Raises:
        Refused: a value that cannot be.
        """
        for name, value in fields.items():
            if name in CHOICES:
                if value not in CHOICES[name]:
                    said = ", ".join(CHOICES[name])
                    raise Refused(422, "request", f"'{name}' is one of: {said}.", option=name)
            elif name == "inch_step":
                if isinstance(value, bool) or value not in (8, 16, 32, 64, 128):
                    raise Refused(422, "request", "'inch_step' is 8, 16, 32, 64 or 128.")
            elif name == "printer":
                if value is not None and (not isinstance(value, str) or len(value) > 80):
                    raise Refused(422, "request", "'printer' is a printer's name or null.")
            else:
                raise Refused(422, "request", f"There is no setting '{name[:40]}'.")
        for name, value in fields.items():
            setattr(self, name, value)

    def told(self) -> dict[str, Any]:
        """As plain values."""
        return {
            "units": self.units,
            "inch_step": self.inch_step,
            "paper": self.paper,
            "printer": self.printer,
            "tour": self.tour,
            "look": self.look,
        }


@dataclass
class Bench:
    """The server's parts."""

    options: Options
    hub: Hub = field(default_factory=Hub)
    made: Shelf = field(default_factory=Shelf)
    shorts: OrderedDict[Path, tuple[Any, dict[str, Any]]] = field(default_factory=OrderedDict)

    def __post_init__(self) -> None:
        self.jobs = WorkingFolder(self.options.folder)
        self.phones = Phones()
        self.measuring = Worker("measuring", ("profiler.web.tasks.checking",))
        self.drawing = Worker("drawing", ("profiler.web.tasks.drawing",))
        # begun with the first glance: a bench without a phone has no need of it
        self.looking = Worker("looking", ("profiler.web.tasks.glancing",))
        self.settings = self._settings()

    @property
    def printers_file(self) -> Path:
        """Where printers are kept."""
        return self.options.data_folder / "printers.json"

    def keep_settings(self) -> None:
        """Raises:
        OutputError: the disk refuses.
        """
        folder = self.options.data_folder
        folder.mkdir(parents=True, exist_ok=True)
        write_atomically(folder / SETTINGS_NAME, record_bytes(self.settings.told()), overwrite=True)

    def own_file(self, name: str) -> bytes:
        """A file of the bench's own mat or cards.

        Raises:
            Refused: there is none yet.
        """
        try:
            return (self.options.folder / name).read_bytes()
        except OSError:
            raise missing(name) from None

    def close(self) -> None:
        """End the worker processes and let the pages go."""
        self.hub.close()
        self.measuring.close()
        self.drawing.close()
        self.looking.close()

    def _settings(self) -> Settings:
        settings = Settings()
        try:
            text = (self.options.data_folder / SETTINGS_NAME).read_text(encoding="utf-8")
            found = json.loads(text)
            settings.take({k: v for k, v in found.items() if k in settings.told()})
        except (OSError, ValueError, AttributeError, TypeError, Refused):
            return Settings()
        return settings
