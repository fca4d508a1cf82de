"""Run the page: uvicorn with limits on what a connection may do, until Ctrl-C.

In:    the application, an open listener.
Out:   nothing; returns once it has been stopped.
Fails: never by a visitor's doing.
"""

from __future__ import annotations

import asyncio
import contextlib
from typing import TYPE_CHECKING, Any

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

if TYPE_CHECKING:
    import socket

    from starlette.types import ASGIApp

SLOWEST_HEAD_S = 10.0  # chosen: a request's first lines are a few hundred bytes
MOST_CONNECTIONS = 400  # chosen: thirty phones with six each, and as many again that are still closing
_MOST_FROM_ONE = 60  # chosen: browsers open six; a few phones may share an address behind a repeater
_LONGEST_HEAD_BYTES = 16_384
_IDLE_S = 20
_STOPPING_S = 3


class _Impatient(H11Protocol):
    """A connection that must say what it wants within `SLOWEST_HEAD_S`, and that is one of few from its address."""

    _deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        same = sum(_from(one) == _from(self) for one in self.connections)
        if same > _MOST_FROM_ONE and not _from(self).startswith("127."):
            transport.abort()
            return
        self._deadline = self.loop.call_later(SLOWEST_HEAD_S, self._too_late)

    def data_received(self, data: bytes) -> None:
        asked = self.cycle
        super().data_received(data)
        if self.cycle is not asked and self._deadline is not None:  # a whole head has come
            self._deadline.cancel()
            self._deadline = None

    def on_response_complete(self) -> None:
        super().on_response_complete()
        # The idle limit counts until the next request's first byte only; from there on this one does.
        if self._deadline is None and not self.transport.is_closing():
            self._deadline = self.loop.call_later(_IDLE_S + SLOWEST_HEAD_S, self._too_late)

    def connection_lost(self, exc: Exception | None) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
        super().connection_lost(exc)

    def _too_late(self) -> None:
        self._deadline = None
        if self.cycle is None or self.cycle.response_complete:
            self.transport.abort()


def _from(connection: object) -> str:
    client = getattr(connection, "client", None)
    return str(client[0]) if client else ""


def serve(app: ASGIApp, listener: socket.socket) -> None:
    """Serve until Ctrl-C."""
    settings: dict[str, Any] = {
        "http": _Impatient,
        "ws": "none",
        "loop": "asyncio",
        "lifespan": "on",
        "log_config": None,
        "log_level": "critical",
        "access_log": False,
        "server_header": False,
        "proxy_headers": False,
        "limit_concurrency": MOST_CONNECTIONS,
        "h11_max_incomplete_event_size": _LONGEST_HEAD_BYTES,
        "timeout_keep_alive": _IDLE_S,
        "timeout_graceful_shutdown": _STOPPING_S,
    }
    with contextlib.suppress(KeyboardInterrupt):  # uvicorn hands the signal on once it has stopped
        uvicorn.Server(uvicorn.Config(app, **settings)).run(sockets=[listener])
