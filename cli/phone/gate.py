"""Everything that is checked before a request reaches a page, and what is said to those who don't get in.

In:    a request as ASGI hands it over.
Out:   the same with the phone's `Pass` at `scope["state"]["pass"]`, its body counted and timed; or a plain refusal.
Fails: never; a refusal says no more than that the code must be scanned.

The address that is scanned ends in `/in/KEY`; the key is exchanged there for a cookie and is needed once only.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import HTMLResponse, PlainTextResponse, Response

from cli.phone.keys import COOKIE_DAYS, Keys, Pass, new_phone

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

IN = "/in/"
LARGEST_UPLOAD_BYTES = 60_000_000  # chosen: a phone's largest photos have some 40 MB
LARGEST_FORM_BYTES = 100_000  # chosen: the longest form, with all marks of a card, has some 3 kB
SLOWEST_PIECE_S = 20.0  # chosen: a phone at the edge of the network still sends something in this time
SLOWEST_BODY_S = 240.0  # chosen: 60 MB at 2 Mbit/s
_LONGEST_PATH = 200  # chosen: ours have some 60 characters
_LONGEST_QUERY = 4000  # chosen: 60 dark lights, or 200 letters of any script, coded, to find designs by
_MOST_DRAINED_BYTES = 4 * LARGEST_UPLOAD_BYTES
_METHODS = ("GET", "HEAD", "POST")
# Nothing from elsewhere, no script or style inside a page but those with the page's own number, no frames.
POLICY = (
    "default-src 'none'; img-src 'self' blob:; style-src 'self' 'nonce-{nonce}'; script-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "x-content-type-options": "nosniff",
    # Not no-referrer: with that, browsers send `Origin: null` along with our own forms.
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=(), camera=()",
}
NOT_IN = "Please scan the code on the computer's screen once more, or open the address that stands there.\n"
# Our own sentences alone go into it, never anything that was sent.
_PAGE = (
    '<!doctype html><html lang="en"><meta charset="utf-8">'
    '<meta name="viewport" content="width=device-width, initial-scale=1">'
    '<meta name="color-scheme" content="light dark">'
    '<title>{text}</title><style nonce="{nonce}">{style}</style><main><h1>{text}</h1></main></html>\n'
)
# The page's paper and ink, as in page.css, which only who is let in is given.
_STYLE = (
    "body{font:1rem/1.5 system-ui,sans-serif;max-width:26rem;margin:0 auto;padding:2rem 1rem;"
    "background:#f8f5ed;color:#26221f}h1{font-size:1.3rem;line-height:1.3}"
    "@media (prefers-color-scheme:dark){body{background:#1d1a17;color:#f1ebdf}}"
)


class BodyTooLargeError(Exception):
    """More was sent than may be; the gate answers it."""


class TooSlowError(Exception):
    """What was sent came too slowly; the gate answers it."""


@dataclass(frozen=True, slots=True)
class Doors:
    """What the gate goes by. `hosts`: this server's own names with the port, as a Host header has them."""

    keys: Keys
    hosts: frozenset[str]
    cookie_name: str
    upload_path: str
    new_nonce: Callable[[], str]


class Gate:
    """ASGI middleware round the whole page."""

    def __init__(self, app: ASGIApp, doors: Doors) -> None:
        self.app = app
        self.doors = doors

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        nonce = self.doors.new_nonce()
        send = _with(send, _HEADERS | {"content-security-policy": POLICY.format(nonce=nonce)})
        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        if refusal is not None:
            await _answer(headers, *refusal, nonce)(scope, receive, send)
            return
        scope.setdefault("state", {})["nonce"] = nonce
        scope["state"]["pass"] = self._pass_of(headers)
        if scope["path"].startswith(IN):
            send = self._let_in(scope, headers, send)
        if scope["state"]["pass"] is None:
            await _answer(headers, 403, NOT_IN, nonce)(scope, receive, send)
            return
        await self._onward(scope, headers, receive, send)

    def _refusal(self, scope: Scope, headers: Headers) -> tuple[int, str] | None:
        if _one(headers, "host") not in self.doors.hosts:
            return 421, NOT_IN
        if scope["method"] not in _METHODS:
            return 405, NOT_IN
        if len(scope["raw_path"]) > _LONGEST_PATH or len(scope["query_string"]) > _LONGEST_QUERY:
            return 414, NOT_IN
        if scope["method"] == "POST" and not self._own_page(headers):
            return 403, NOT_IN
        return None

    def _own_page(self, headers: Headers) -> bool:
        """Whether a form was sent from a page of ours. Every browser says where it was sent from by Origin or
        Sec-Fetch-Site; what says neither is no browser that somebody could be led astray with."""
        origin, site = _one(headers, "origin"), _one(headers, "sec-fetch-site")
        if origin is not None:
            return origin == f"http://{_one(headers, 'host')}"
        return site in (None, "same-origin")

    def _pass_of(self, headers: Headers) -> Pass | None:
        # Taken apart by hand: what other pages of this computer left in odd letters must not lock a phone out.
        for item in ";".join(headers.getlist("cookie")).split(";"):
            name, _, value = item.strip().partition("=")
            if name == self.doors.cookie_name:
                return self.doors.keys.pass_of(value)
        return None

    def _let_in(self, scope: Scope, headers: Headers, send: Send) -> Send:
        """Exchange the key in the address for a cookie; the page at the address is the first view itself, since a
        strict cookie is not sent along a redirect that another site's link began."""
        role = self.doors.keys.role_of(scope["path"].removeprefix(IN))
        if role is None or scope["method"] == "POST":
            scope["state"]["pass"] = None
            return send
        known: Pass | None = scope["state"]["pass"]
        holder = Pass(role, known.phone if known else new_phone())
        scope["state"]["pass"] = holder
        scope["path"] = scope["raw_path"] = "/"
        scope["raw_path"] = b"/"
        cookie = (
            f"{self.doors.cookie_name}={self.doors.keys.cookie_of(holder)}; Path=/; "
            f"Max-Age={COOKIE_DAYS * 86_400}; HttpOnly; SameSite=Strict"
        )
        return _with(send, {"set-cookie": cookie})

    async def _onward(self, scope: Scope, headers: Headers, receive: Receive, send: Send) -> None:
        limit = LARGEST_UPLOAD_BYTES if scope["path"] == self.doors.upload_path else LARGEST_FORM_BYTES
        body = _CountedBody(receive, limit)
        begun = False

        async def noting(message: Message) -> None:
            nonlocal begun
            begun = begun or message["type"] == "http.response.start"
            await send(message)

        try:
            if _length(headers) > limit:
                await body.drain()
                raise BodyTooLargeError
            await self.app(scope, body.receive, noting)
        except (BodyTooLargeError, TooSlowError) as error:
            if begun:
                raise
            await _answer(headers, *_body_refusal(error), scope["state"]["nonce"])(scope, receive, send)


def _body_refusal(error: Exception) -> tuple[int, str]:
    if isinstance(error, TooSlowError):
        return 408, "That came too slowly. Move nearer to the network and send it again.\n"
    return 413, (
        f"That is more than {LARGEST_UPLOAD_BYTES // 1_000_000} MB, too much for a photo of a card. "
        "Take the photo with the camera's usual settings.\n"
    )


class _CountedBody:
    """A request's body: no more than `limit` bytes, none of them too late."""

    def __init__(self, receive: Receive, limit: int) -> None:
        self._receive = receive
        self._limit = limit
        self._counted = 0
        self._ends_s = asyncio.get_running_loop().time() + SLOWEST_BODY_S
        self._over = False

    async def receive(self) -> Message:
        if self._over:  # what comes now is only the news that the phone has gone
            return await self._receive()
        left_s = self._ends_s - asyncio.get_running_loop().time()
        try:
            message = await asyncio.wait_for(self._receive(), min(SLOWEST_PIECE_S, max(left_s, 0.0)))
        except TimeoutError:
            raise TooSlowError from None
        self._counted += len(message.get("body", b""))
        self._over = message["type"] != "http.request" or not message.get("more_body", False)
        if self._counted > self._limit:
            raise BodyTooLargeError
        return message

    async def drain(self) -> None:
        """Take in what is too large and forget it: a browser shows an answer only once it has sent all."""
        self._limit = _MOST_DRAINED_BYTES
        while not self._over:
            await self.receive()


def _one(headers: Headers, name: str) -> str | None:
    """The header's value; None when it is missing, or there more than once."""
    found = headers.getlist(name)
    return found[0] if len(found) == 1 else None


def _length(headers: Headers) -> int:
    text = _one(headers, "content-length") or "0"
    return int(text) if text.isdecimal() and len(text) < 16 else _MOST_DRAINED_BYTES


def _with(send: Send, headers: Mapping[str, str]) -> Send:
    """Whatever is sent, with these headers."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            message.setdefault("headers", [])
            answer = MutableHeaders(scope=message)
            answer.setdefault("cache-control", "no-store")
            for name, value in headers.items():
                answer.append(name, value)
        await send(message)

    return sending


def _answer(asked: Headers, status: int, text: str, nonce: str) -> Response:
    """A sentence; for a browser as a page, since a phone shows bare text too small to be read."""
    close = {"connection": "close"}
    if "text/html" in (_one(asked, "accept") or ""):
        return HTMLResponse(_PAGE.format(text=text.strip(), style=_STYLE, nonce=nonce), status, close)
    return PlainTextResponse(text, status, close)
