"""The application: routes, the gate round them, and what lives as long as the server does.

In:    an open drawer, keys, where the server listens.
Out:   an ASGI application.
Fails: never by a visitor's doing; a sentence is shown instead.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from functools import partial
from secrets import token_urlsafe
from typing import Any

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.types import ASGIApp

from circuit.errors import PencilampError
from cli.phone import views_cards, views_changes, views_class, views_dark, views_kept, views_settings
from cli.phone.addresses import Place
from cli.phone.crew import Crew
from cli.phone.desk import ChangedMeanwhileError, Desk
from cli.phone.drawer import REFUSAL_NAME, SMALL_NAME, STRAIGHT_NAME, Drawer
from cli.phone.gate import Doors, Gate
from cli.phone.keys import Keys
from cli.phone.showing_pages import Pages, sentence_page
from cli.phone.static_files import OwnFiles

_NONCE_BYTES = 12


def make_app(
    drawer: Drawer, keys: Keys, place: Place, *, in_class: bool, readers: int | None = None
) -> ASGIApp:
    """The whole page."""

    @asynccontextmanager
    async def alive(app: Starlette) -> AsyncIterator[None]:
        async with Crew(readers) as crew:
            app.state.crew = crew
            app.state.desk = Desk(drawer, crew)
            app.state.desk.start()
            try:
                yield
            finally:
                await app.state.desk.stop()

    # Browsers keep cookies by host alone, so two pages on one computer need two names.
    doors = Doors(
        keys, place.hosts, f"pencilamp-{place.port}", "/cards", partial(token_urlsafe, _NONCE_BYTES)
    )
    app = Starlette(
        routes=_routes(),
        lifespan=alive,
        exception_handlers={PencilampError: _sorry, HTTPException: _not_there, Exception: _mishap},
        middleware=[Middleware(Gate, doors=doors)],
    )
    app.state.drawer = drawer
    app.state.pages = Pages(in_class=in_class)
    app.state.keys = keys
    app.state.place = place
    return app


def _routes() -> list[Route | Mount]:
    def get(path: str, page: Callable[[Request], Any]) -> Route:
        return Route(path, page, methods=["GET"])

    def post(path: str, page: Callable[[Request], Any]) -> Route:
        return Route(path, page, methods=["POST"])

    card = "/cards/{card_id:str}"
    return [
        get("/", views_cards.photograph),
        post("/cards", views_cards.send),
        get(card, views_cards.look),
        get(f"{card}/waiting", views_cards.waiting),
        get(f"{card}/state", views_cards.state),
        get(f"{card}/mend", partial(views_cards.view, name="mend", here="mend")),
        get(f"{card}/paper", partial(views_cards.view, name="paper", here="mend")),
        get(f"{card}/build", partial(views_cards.view, name="build", here="build")),
        get(f"{card}/dark", views_dark.dark),
        get(f"{card}/card.jpg", partial(views_cards.picture, name=STRAIGHT_NAME, kind="image/jpeg")),
        get(f"{card}/small.jpg", partial(views_cards.picture, name=SMALL_NAME, kind="image/jpeg")),
        get(f"{card}/seen.png", partial(views_cards.picture, name=REFUSAL_NAME, kind="image/png")),
        get(f"{card}/{{page:str}}.pdf", views_cards.printed),
        post(f"{card}/change", views_changes.change),
        post(f"{card}/back", views_changes.take_back),
        post(f"{card}/parts", views_changes.other_parts),
        post(f"{card}/again", views_changes.read_again),
        post(f"{card}/turn", views_changes.turn),
        post(f"{card}/away", views_changes.take_out),
        post(f"{card}/keep", views_kept.keep),
        get("/kept", views_kept.find),
        get("/kept/{number:int}", views_kept.show),
        get("/kept/{number:int}/overlay.png", views_kept.overlay),
        get("/kept/{number:int}/compare", views_kept.compare),
        get("/kept/{number:int}/compared.png", views_kept.compared),
        get("/settings", views_settings.show),
        post("/settings", views_settings.save),
        get("/class", views_class.show),
        get("/class/sheets.pdf", views_class.sheets),
        post("/class/keep", views_class.keep_all),
        Mount("/static", OwnFiles()),
    ]


def _sorry(request: Request, error: Exception) -> Response:
    sentence = str(error).replace(str(request.app.state.drawer.folder), "the drawer")
    return sentence_page(request, sentence, status=409 if isinstance(error, ChangedMeanwhileError) else 400)


def _not_there(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 404
    sentence = (
        "What was sent can't be understood. Go back, and send it again."
        if status == 400
        else "There is nothing here. Go back to your cards."
    )
    return sentence_page(request, sentence, status=status)


def _mishap(request: Request, error: Exception) -> Response:
    return sentence_page(
        request, "Something went wrong on the computer; nothing was changed. Try again.", status=500
    )
