"""One server and one browser for all windows of a run."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from tests.web.chrome import browser, lay_out, served


@pytest.fixture(scope="session")
def chrome() -> Iterator[Browser]:
    with browser() as opened:
        yield opened


@pytest.fixture(scope="session")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with served(tmp_path_factory.mktemp("bench")) as address:
        lay_out(address)
        yield address
