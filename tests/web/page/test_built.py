"""The built page that travels in the package was made from the sources beside it."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

from tests.web.chrome import ROOT

FRONT = ROOT / "profiler" / "web" / "front"
STATIC = ROOT / "profiler" / "web" / "static"
AGAIN = "build the page again: npm ci && npm run build in profiler/web/front"


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _listed() -> list[str]:
    """What vite.config.ts counts as a source."""
    config = (FRONT / "vite.config.ts").read_text(encoding="utf-8")
    found = re.search(r"const SOURCES = (\[[^\]]*\])", config)
    assert found
    return [str(name) for name in json.loads(found.group(1))]


def sources_hash(front: Path) -> str:
    """The same over names and contents as vite.config.ts forms it."""
    files: list[Path] = []
    for name in _listed():
        path = front / name
        files += [p for p in path.rglob("*") if p.is_file()] if path.is_dir() else [path]
    names = sorted(file.relative_to(front).as_posix() for file in files)
    lines = [f"{name} {_sha256((front / name).read_bytes())}\n" for name in names]
    return _sha256("".join(lines).encode())


def test_built_from_these_sources() -> None:
    built = json.loads((STATIC / "built.json").read_text(encoding="utf-8"))
    assert built["sources"] == sources_hash(FRONT), AGAIN
    found = {
        file.relative_to(STATIC).as_posix(): _sha256(file.read_bytes())
        for file in STATIC.rglob("*")
        if file.is_file() and file.name != "built.json"
    }
    assert built["files"] == found, AGAIN


def test_nothing_from_outside() -> None:
    """No address of another machine is in the page, and no script or style stands inside it."""
    for file in STATIC.rglob("*"):
        if file.suffix not in {".js", ".css", ".html", ".svg"}:
            continue
        text = file.read_text(encoding="utf-8")
        addresses = set(re.findall(r"(?:https?:)?//[a-z0-9.-]+\.[a-z]{2,}[^\s\"'`)]*", text))
        # names of XML languages are addresses that nobody asks
        assert not {a for a in addresses if "www.w3.org/" not in a}, file.name
    index = (STATIC / "index.html").read_text(encoding="utf-8")
    assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\bstyle=|\bon[a-z]+=", index)


def test_lock_file_names_no_registry() -> None:
    lock = (FRONT / "package-lock.json").read_text(encoding="utf-8")
    assert '"resolved"' not in lock and "http" not in lock.replace('"url": "https', "")
