"""Every dialog of the page, by the view that it opens from and the button that opens it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from playwright.sync_api import Locator, Page

from tests.web.chrome import marked, until


@dataclass(frozen=True)
class Dialog:
    """Attributes:
    name: for pictures.
    path: of the view; JOB and ENTRY stand for addresses of a job and of an archive entry.
    button: that opens it.
    """

    name: str
    path: str
    button: str


DIALOGS = (
    Dialog("keys", "JOB/look", "Keys"),
    Dialog("printer", "JOB/print", "Check a printer"),
    Dialog("keep", "JOB/print", "Keep in the archive"),
    Dialog("printer-on-the-bench", "/mat", "Check a printer"),
    Dialog("print-again", "ENTRY", "Print again"),
    Dialog("compare", "ENTRY", "Compare"),
    Dialog("change", "ENTRY", "Change …"),
)


def opened(page: Page, address: str, job: str, entry: str) -> Iterator[tuple[Dialog, Locator]]:
    """Each of them opened by its button; whoever asks for the next one has closed it."""
    for dialog in DIALOGS:
        path = dialog.path.replace("JOB", job).replace("ENTRY", entry)
        page.goto(address + path)
        if path.endswith("/look"):
            until(page, lambda: marked(page, "whole-photo"))
        button = page.get_by_role("button", name=re.compile(re.escape(dialog.button))).first
        until(page, lambda button=button: button.count() and button.is_enabled())
        button.focus()
        page.keyboard.press("Enter")
        until(page, lambda: page.locator("dialog[open]").count())
        until(page, lambda: page.locator("dialog [aria-busy=true]").count() == 0)
        page.wait_for_timeout(300)
        yield dialog, button
