"""The teacher's view of a class: the pupils' code, every card with its verdict, all sheets at once."""

from __future__ import annotations

import asyncio

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from circuit.errors import PencilampError
from cli.phone.addresses import Place, code_as_svg
from cli.phone.card import PhoneCard
from cli.phone.keys import Keys
from cli.phone.showing_pages import pass_of
from cli.phone.showing_pages import show as show_page
from cli.phone.views_cards import pdf_answer
from cli.phone.views_settings import wishes_in
from cli.phone.visitor import desk_of, drawer_of, lines_for

_COUNT_DIGITS = 6  # chosen: more cards than any drawer takes


def _require_teacher(request: Request) -> None:
    if pass_of(request).role != "teacher":
        raise HTTPException(404)


async def show(request: Request) -> Response:
    _require_teacher(request)
    keys: Keys = request.app.state.keys
    place: Place = request.app.state.place
    key = keys.by_role.get("pupil")
    address = None if key is None else place.address_for(key)
    return show_page(
        request,
        "class.html",
        here="class",
        lines=lines_for(request),
        address=address,
        code=None if address is None else code_as_svg(address),
        said=request.query_params.get("kept", "")[:_COUNT_DIGITS],
    )


async def sheets(request: Request) -> Response:
    _require_teacher(request)
    cards = await asyncio.to_thread(_cards, request)
    return pdf_answer(await desk_of(request).class_sheets(cards, wishes_in(request)), "sheets.pdf")


async def keep_all(request: Request) -> Response:
    """Keep every card that has been read, under its maker's name; what is kept already stays as it is."""
    _require_teacher(request)
    kept = 0
    for card in await asyncio.to_thread(_cards, request):
        if card.state == "ready" and card.kept is None:
            try:
                await desk_of(request).keep(card.id, card.name)
                kept += 1
            except PencilampError:  # one card's trouble does not stop the others; it stays unkept in the list
                continue
    return RedirectResponse(f"/class?kept={kept}", 303)


def _cards(request: Request) -> list[PhoneCard]:
    drawer = drawer_of(request)
    return [card for line in reversed(lines_for(request)) if (card := drawer.get(line.id)) is not None]
