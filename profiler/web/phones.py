"""Phones on the local network: let in with a code that works once and not for long."""

from __future__ import annotations

import hmac
import io
import secrets
import time
from dataclasses import dataclass

from profiler.web.answers import Refused

CODE_S = 600.0
#: a phone that was not heard of for so long is a stranger again
SESSION_S = 12 * 3600.0
#: wrong codes from all over, before the code is thrown away
_MOST_WRONG = 10
_MOST_PHONES = 12
COOKIE = "profiler_phone"


@dataclass
class _Code:
    text: str
    number: int
    until: float


class Phones:
    """The code that is open, and the phones that have joined. In memory: ends with the server."""

    def __init__(self) -> None:
        self._code: _Code | None = None
        self._count = 0
        self._wrong = 0
        self._joined: dict[str, float] = {}

    def new_code(self) -> tuple[str, int]:
        """A fresh code, which makes the one before worthless, and its number."""
        self._count += 1
        self._wrong = 0
        self._code = _Code(secrets.token_urlsafe(18), self._count, time.monotonic() + CODE_S)
        return self._code.text, self._code.number

    def open_code(self, number: int) -> str:
        """The code of that number, while it is open.

        Raises:
            Refused: it is not.
        """
        code = self._code
        if code is None or code.number != number or time.monotonic() > code.until:
            raise Refused(404, "missing", "This code is used or too old. Make a new one.")
        return code.text

    def join(self, text: str) -> str:
        """Trade a code for a session.

        Raises:
            Refused: wrong, used or too old.
        """
        code = self._code
        refused = Refused(
            403, "code", "This code is wrong, used or too old. Make a new one at the bench."
        )
        if code is None or time.monotonic() > code.until:
            raise refused
        if not hmac.compare_digest(code.text.encode(), text.encode("utf-8", "replace")):
            self._wrong += 1
            if self._wrong >= _MOST_WRONG:
                self._code = None
            raise refused
        self._code = None
        if len(self._joined) >= _MOST_PHONES:
            del self._joined[min(self._joined, key=lambda k: self._joined[k])]
        session = secrets.token_urlsafe(24)
        self._joined[session] = time.monotonic()
        return session

    def knows(self, session: str | None) -> bool:
        """Whether a phone has joined."""
        now = time.monotonic()
        for key, seen in list(self._joined.items()):
            if now - seen > SESSION_S:
                del self._joined[key]
        for key in self._joined:
            if session is not None and hmac.compare_digest(key.encode(), session.encode()):
                self._joined[key] = now
                return True
        return False

    def forget_all(self) -> None:
        """No phone is known any more, no code is open."""
        self._joined.clear()
        self._code = None

    @property
    def count(self) -> int:
        """Phones that have joined."""
        return len(self._joined)


def qr_svg(text: str) -> bytes:
    """The text as a QR code (ISO/IEC 18004), black on white, as an SVG file."""
    import segno

    out = io.BytesIO()
    segno.make(text, error="m").save(
        out, kind="svg", scale=8, border=4, dark="#000", light="#fff", xmldecl=True, svgns=True
    )
    return out.getvalue()
