"""The page's own styles and scripts, read once and handed out by their name; no folder is ever listed."""

from __future__ import annotations

from importlib import resources

from starlette.responses import PlainTextResponse, Response
from starlette.types import Receive, Scope, Send

_KINDS = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
_DAY_S = 86_400


class OwnFiles:
    """ASGI application for the few files in `static`."""

    def __init__(self) -> None:
        folder = resources.files("cli.phone").joinpath("static")
        self._files = {
            item.name: (item.read_bytes(), kind)
            for item in folder.iterdir()
            for ending, kind in _KINDS.items()
            if item.name.endswith(ending)
        }

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        name = scope["path"].rpartition("/static/")[2]
        found = self._files.get(name)
        if found is None:
            answer: Response = PlainTextResponse("Nothing here.\n", 404)
        else:
            answer = Response(
                found[0], media_type=found[1], headers={"cache-control": f"private, max-age={_DAY_S}"}
            )
        await answer(scope, receive, send)
