"""Running the server: sockets, limits, ending."""

from __future__ import annotations

import asyncio
import ipaddress
import logging
import os
import socket
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Any

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from profiler.errors import RequestError
from profiler.web.app import make_app
from profiler.web.bench import Options
from profiler.web.guarding import is_loopback

#: s: a connection that has not asked for anything by then is closed
FIRST_REQUEST_S = 15.0
KEEP_ALIVE_S = 20
#: connections at once
MOST_CONNECTIONS = 120
#: of them from other machines, and from one of those: the bench itself always gets through
MOST_FOREIGN, MOST_OF_ONE = 80, 20
LOOPBACK = "127.0.0.1"


class PatientProtocol(H11Protocol):
    """HTTP as uvicorn speaks it, but a connection on which no request comes is not kept."""

    _deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        super().connection_made(transport)
        if self._too_many():
            transport.abort()
            return
        self._wait()

    def data_received(self, data: bytes) -> None:
        if self._idle() and self._deadline is None:
            self._wait()
        super().data_received(data)
        if not self._idle():
            self._stop_waiting()

    def connection_lost(self, exc: Exception | None) -> None:
        self._stop_waiting()
        super().connection_lost(exc)

    def _too_many(self) -> bool:
        """Whether other machines, or this one of them, hold all that they may hold."""
        if self.client is None or is_loopback(self.client[0]):
            return False
        foreign = [
            other.client[0]
            for other in self.connections
            if isinstance(other, PatientProtocol)
            and other is not self
            and other.client
            and not is_loopback(other.client[0])
        ]
        return len(foreign) >= MOST_FOREIGN or foreign.count(self.client[0]) >= MOST_OF_ONE

    def _idle(self) -> bool:
        """Whether no request is being answered."""
        cycle: Any = self.cycle
        return cycle is None or bool(cycle.response_complete)

    def _wait(self) -> None:
        loop = asyncio.get_running_loop()
        self._deadline = loop.call_later(FIRST_REQUEST_S, self._give_up)

    def _stop_waiting(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None

    def _give_up(self) -> None:
        self._deadline = None
        if self._idle():  # headers come in drops, or not at all
            self.transport.close()


class PortTaken(RequestError):
    """Something else listens there."""

    def __init__(self, port: int, why: str) -> None:
        self.port = port
        super().__init__(
            f"Port {port} cannot be used: {why}. Is 'profiler serve' running already? Otherwise"
            f" take another one, as --port {port + 1}."
        )


def lan_addresses() -> tuple[str, ...]:
    """This machine's addresses on its local networks, that of the way out first."""
    found: list[str] = []
    for target in ("192.0.2.1", "10.255.255.255"):  # nothing is sent: it only asks for the route
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            try:
                probe.connect((target, 9))
                found.append(probe.getsockname()[0])
            except OSError:
                continue
    with suppress(OSError):
        found += [str(i[4][0]) for i in socket.getaddrinfo(socket.gethostname(), None)]
    kept = []
    for address in found:
        try:
            known = ipaddress.ip_address(address.partition("%")[0])
        except ValueError:
            continue
        # global addresses are not for a workshop's page; link-local ones need a zone
        if known.version == 4 and known.is_private and not known.is_loopback:
            kept.append(str(known))
    return tuple(dict.fromkeys(kept))


def listening(port: int, addresses: Sequence[str] = ()) -> list[socket.socket]:
    """Bound sockets: on loopback, and on each of these addresses; no other network is listened to.

    Args:
        port: 0 takes a free one, the same for all.

    Raises:
        PortTaken: see there.
    """
    found: list[socket.socket] = []
    for address in (LOOPBACK, *addresses):
        one = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        found.append(one)
        try:
            if os.name != "nt":  # there it would let two programs share the port
                one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            one.bind((address, port))
        except OSError as error:
            for other in found:
                other.close()
            raise PortTaken(port, (error.strerror or str(error)).lower()) from None
        port = one.getsockname()[1]
    return found


def serve(options: Options, bound: list[socket.socket], ready: Callable[[], None]) -> None:
    """Serve until stopped.

    Args:
        options: of the bench.
        bound: from `listening`.
        ready: called once requests are answered.
    """
    config = uvicorn.Config(
        make_app(options),
        http=PatientProtocol,
        ws="none",
        lifespan="on",
        log_level="warning",
        access_log=False,
        proxy_headers=False,
        server_header=False,
        date_header=False,
        limit_concurrency=MOST_CONNECTIONS,
        timeout_keep_alive=KEEP_ALIVE_S,
        timeout_graceful_shutdown=3,
        h11_max_incomplete_event_size=16_384,
    )
    server = _Server(config, ready)
    logging.getLogger("profiler.web").setLevel(logging.WARNING)
    server.run(sockets=bound)


class _Server(uvicorn.Server):
    """Tells when it is ready, and lets listening pages go when it is to end."""

    def __init__(self, config: uvicorn.Config, ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._ready()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        app: Any = self.config.app
        app.state.bench.hub.close()
        await super().shutdown(sockets)
