"""Where phones find this computer, and the code to scan.

In:    a port; whether only this computer may come in.
Out:   addresses of this computer in its networks; a code as text for the terminal or as an SVG for a page.
Fails: `PencilampError` with one sentence when the computer is in no network or the port is taken.
"""

from __future__ import annotations

import contextlib
import errno
import io
import socket
from dataclasses import dataclass

from circuit.errors import PencilampError
from cli.phone.gate import IN

PORT = 8765  # chosen: above those that need rights, registered for nothing that classrooms run
_PORTS_TRIED = 10  # chosen
HTTP_PORT = 80  # RFC 9110: the one that an address leaves out
# RFC 5737: addresses for documentation, which lead nowhere. Nothing is sent; the system only says by which of its
# own addresses it would send.
_NOWHERE = ("192.0.2.1", 9)
_BACKLOG = 256


class NetworkError(PencilampError):
    """The page can't be offered where it was asked for."""


@dataclass(frozen=True, slots=True)
class Place:
    """An open socket, and this computer's addresses under which phones reach it, the likeliest first."""

    listener: socket.socket
    port: int
    addresses: tuple[str, ...]

    @property
    def hosts(self) -> frozenset[str]:
        """What a browser's Host header may say."""
        names = {*self.addresses, "127.0.0.1", "localhost"}
        return frozenset(f"{name}:{self.port}" for name in names) | (
            names if self.port == HTTP_PORT else frozenset()
        )

    def address_for(self, key: str) -> str:
        """The likeliest address, with its key."""
        return f"http://{self.addresses[0]}:{self.port}{IN}{key}"


def open_place(port: int | None, only_here: bool) -> Place:
    """Take the port, or the next free one where none was named. Raises NetworkError."""
    addresses = ("127.0.0.1",) if only_here else own_addresses()
    if not addresses:
        raise NetworkError(
            "This computer is in no network that a phone could be in too. Join the same Wi-Fi, or say --only-here to "
            "use the page on this computer alone."
        )
    listener = _listener("127.0.0.1" if only_here else "0.0.0.0", port)
    return Place(listener, listener.getsockname()[1], addresses)


def _listener(host: str, port: int | None) -> socket.socket:
    wanted = range(PORT, PORT + _PORTS_TRIED) if port is None else (port,)
    for one in wanted:
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if hasattr(socket, "SO_EXCLUSIVEADDRUSE"):  # Windows, where the other option would share the port
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, one))
        except OSError as error:
            listener.close()
            if error.errno in (errno.EACCES, errno.EPERM):
                raise NetworkError(
                    f"Port {one} may not be used here; name one above 1023 with --port."
                ) from error
            continue
        listener.listen(_BACKLOG)
        return listener
    raise NetworkError(
        f"Port {wanted[0]} is taken: perhaps the page runs already. Stop it there with Ctrl-C, or name another with "
        f"--port {wanted[-1] + 1}."
    )


def own_addresses() -> tuple[str, ...]:
    """This computer's IPv4 addresses in its networks: the one that it would reach others by, then the rest."""
    found: list[str] = []
    # Without a way out of this computer by default it may have a network all the same.
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(_NOWHERE)
        found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        found += [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    useful = [one for one in found if not one.startswith(("127.", "0.", "169.254."))]
    return tuple(dict.fromkeys(useful))


def code_for_terminal(address: str) -> str:
    """The code as lines of half blocks."""
    import segno

    out = io.StringIO()
    segno.make(address, error="m", micro=False).terminal(out, compact=True, border=2)
    return out.getvalue()


def code_as_svg(address: str) -> str:
    """The code as an SVG, dark on white whatever the page's theme, as cameras want it."""
    import segno

    return str(
        segno.make(address, error="m", micro=False).svg_inline(
            border=4, dark="#000", light="#fff", omitsize=True
        )
    )
