"""Fill the templates: what every page needs, and the plain page that says one sentence."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from cli.phone.keys import Pass
from cli.phone.static_files import folder_address

_TEMPLATES = Path(__file__).parent / "templates"


class Pages:
    """The templates, loaded once."""

    def __init__(self, *, in_class: bool) -> None:
        self.in_class = in_class
        self._environment = Environment(
            loader=FileSystemLoader(_TEMPLATES),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            auto_reload=False,
        )
        self._environment.globals["files"] = folder_address()

    def fill(self, name: str, values: Mapping[str, Any]) -> str:
        return self._environment.get_template(name).render(values)


def show(request: Request, name: str, status: int = 200, **values: Any) -> HTMLResponse:
    """One page; `values` are the template's."""
    pages: Pages = request.app.state.pages
    holder = pass_of(request)
    common = {
        "nonce": request.scope["state"]["nonce"],
        "role": holder.role,
        "in_class": pages.in_class,
        "card": None,
        "here": "",
    }
    return HTMLResponse(pages.fill(name, {**common, **values}), status)


def sentence_page(request: Request, sentence: str, status: int) -> Response:
    """One sentence and the way back; plain values for a script that asks for them."""
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"sorry": sentence}, status)
    if "pass" not in request.scope.get("state", {}):
        return HTMLResponse("", status)
    return show(request, "sentence.html", status, sentence=sentence)


def pass_of(request: Request) -> Pass:
    """Who asks; the gate lets nobody else through."""
    holder: Pass = request.scope["state"]["pass"]
    return holder
