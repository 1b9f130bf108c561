"""The door: who may ask what. In front of every route, before a body is read."""

from __future__ import annotations

import ipaddress
import logging
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from profiler.web.answers import Refused, error_answer
from profiler.web.phones import COOKIE

if TYPE_CHECKING:
    from profiler.web.bench import Bench

log = logging.getLogger("profiler.web")

CSP = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:;"
    " font-src 'self'; connect-src 'self'; manifest-src 'self'; base-uri 'none';"
    " form-action 'none'; frame-ancestors 'none'"
)
#: on every answer
HEADERS = (
    (b"content-security-policy", CSP.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"geolocation=(), microphone=(), camera=(self)"),
)
SAFE = ("GET", "HEAD")
LOCAL_NAMES = ("localhost", "127.0.0.1", "[::1]")
#: what a phone may fetch before it has joined
OPEN_TO_STRANGERS = ("/join", "/static/", "/api/join", "/favicon")
LONGEST_PATH = 2000


class Door:
    """Checks host, origin and session, and puts the safety headers on every answer."""

    def __init__(self, app: ASGIApp, bench: Bench) -> None:
        self._app = app
        self._bench = bench
        port = bench.options.port
        names = (*LOCAL_NAMES, *(_in_url(a) for a in bench.options.addresses))
        self._hosts = {f"{name}:{port}" for name in names}
        if port == 80:
            self._hosts |= set(names)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":  # no other protocol is spoken here
            await send({"type": "websocket.close", "code": 1008})
            return

        async def headed(message: Message) -> None:
            if message["type"] == "http.response.start":
                given = {name.lower() for name, _ in message.get("headers", ())}
                more = [(n, v) for n, v in HEADERS if n not in given]
                message = {**message, "headers": [*message.get("headers", ()), *more]}
            await send(message)

        try:
            self._check(scope)
        except Refused as refused:
            log.info("refused at the door: %s %s", refused.code, scope["method"])
            await error_answer(refused)(scope, receive, headed)
            return
        await self._app(scope, receive, headed)

    def _check(self, scope: Scope) -> None:
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        # a foreign name that leads here is how a page from outside would get in (rebinding)
        if len(hosts) != 1 or hosts[0].lower() not in self._hosts:
            raise Refused(421, "host", "This server does not go by that name.")
        if scope["method"] not in (*SAFE, "POST", "PUT", "PATCH", "DELETE"):
            raise Refused(405, "request", "That is not asked here.")
        if len(scope["path"]) > LONGEST_PATH:
            raise Refused(414, "request", "The address is too long.")
        path: str = scope["path"]
        self._check_origin(headers, scope["method"], hosts[0].lower(), path.startswith("/api"))
        client = scope.get("client")
        local = client is not None and is_loopback(client[0])
        scope.setdefault("state", {})
        scope["state"]["local"] = local
        if local or path.startswith(OPEN_TO_STRANGERS):
            return
        if not self._bench.options.lan or not self._bench.phones.knows(_session(headers)):
            raise Refused(
                401, "join", "This phone is not let in. Scan the code on the bench's screen."
            )

    def _check_origin(self, headers: Headers, method: str, host: str, api: bool) -> None:
        origins = headers.getlist("origin")
        foreign = any(origin.lower() != f"http://{host}" for origin in origins)
        site = headers.get("sec-fetch-site", "none")
        if foreign or (api and site not in ("same-origin", "none")):
            raise Refused(403, "origin", "A page from elsewhere may not ask here.")
        if method not in SAFE and headers.get("x-profiler") != "1":
            raise Refused(
                403, "origin", "Changes are asked by the page itself (header X-Profiler: 1)."
            )


def _session(headers: Headers) -> str | None:
    try:
        cookies = SimpleCookie(headers.get("cookie", "")[:4000])
    except CookieError:
        return None
    found = cookies.get(COOKIE)
    return None if found is None else found.value


def is_loopback(host: str) -> bool:
    """Whether a peer is on this machine."""
    try:
        address = ipaddress.ip_address(host.partition("%")[0])
    except ValueError:
        return False
    if isinstance(address, ipaddress.IPv6Address) and address.ipv4_mapped is not None:
        return address.ipv4_mapped.is_loopback
    return address.is_loopback


def _in_url(address: str) -> str:
    return f"[{address}]" if ":" in address else address
