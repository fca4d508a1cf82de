"""The page's own styles and scripts, read once and handed out by their name; no folder is ever listed.

Their address names what they hold, so that a phone keeps them and still never shows a page of today with the looks
of an earlier version.
"""

from __future__ import annotations

import hashlib
from functools import cache
from importlib import resources

from starlette.responses import PlainTextResponse, Response
from starlette.types import Receive, Scope, Send

_KINDS = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
_YEAR_S = 31_536_000
_DIGITS = 12  # chosen: no two versions of a few files meet by chance


def folder_address() -> str:
    """Where today's files lie on the site; scripts that load each other stay within it."""
    named = hashlib.sha256()
    for name, (data, _) in sorted(_files().items()):
        named.update(name.encode() + data)
    return f"/static/{named.hexdigest()[:_DIGITS]}"


@cache
def _files() -> dict[str, tuple[bytes, str]]:
    folder = resources.files("cli.phone").joinpath("static")
    return {
        item.name: (item.read_bytes(), kind)
        for item in folder.iterdir()
        for ending, kind in _KINDS.items()
        if item.name.endswith(ending)
    }


class OwnFiles:
    """ASGI application for the few files in `static`."""

    def __init__(self) -> None:
        self._folder, self._files = folder_address(), _files()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        folder, _, name = scope["path"].rpartition("/")
        found = self._files.get(name) if folder == self._folder else None
        if found is None:
            answer: Response = PlainTextResponse("Nothing here.\n", 404)
        else:
            keep = {"cache-control": f"private, max-age={_YEAR_S}, immutable"}
            answer = Response(found[0], media_type=found[1], headers=keep)
        await answer(scope, receive, send)
