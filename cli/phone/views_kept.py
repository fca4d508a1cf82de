"""Kept designs: keep a card, find, show, compare, photograph again."""

from __future__ import annotations

import base64
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from cli.phone.card import is_id
from cli.phone.forms import form_in
from cli.phone.showing_pages import pass_of
from cli.phone.showing_pages import show as show_page
from cli.phone.views_settings import wishes_in
from cli.phone.visitor import card_in, desk_of, drawer_of

_LONGEST_TEXT = 200
_MOST_DIGITS = 9


def require_keeper(request: Request) -> None:
    """Kept designs are the household's or the teacher's; a pupil finds nothing here. Raises
    HTTPException, 404."""
    if pass_of(request).role == "pupil":
        raise HTTPException(404)


async def keep(request: Request) -> Response:
    require_keeper(request)
    card = card_in(request)
    async with form_in(request) as form:
        title = str(form.get("title", ""))[:_LONGEST_TEXT]
    await desk_of(request).keep(card.id, title)
    return RedirectResponse(f"/cards/{card.id}/build?said", 303)


async def find(request: Request) -> Response:
    require_keeper(request)
    words = request.query_params.get("words", "")[:_LONGEST_TEXT]
    found = await desk_of(request).ask({"do": "kept-find", "words": words})
    return show_page(request, "kept.html", here="kept", words=words, **found)


async def show(request: Request) -> Response:
    require_keeper(request)
    number = _number(request.path_params["number"])
    design = await desk_of(request).ask({"do": "kept-show", "number": number})
    found = await desk_of(request).ask({"do": "kept-find", "words": ""})
    others = [other for other in found["designs"] if other["number"] != number]
    return show_page(request, "kept_one.html", here="kept", design=design, others=others)


async def overlay(request: Request) -> Response:
    require_keeper(request)
    job = {"do": "kept-overlay", "number": _number(request.path_params["number"])}
    return _png(await desk_of(request).ask(job))


async def compare(request: Request) -> Response:
    require_keeper(request)
    found = await desk_of(request).ask(_comparison(request))
    return show_page(
        request, "compared.html", here="kept", query=request.url.query, **_named(request), **found
    )


async def compared(request: Request) -> Response:
    require_keeper(request)
    return _png(await desk_of(request).ask({**_comparison(request), "picture": True}))


def _comparison(request: Request) -> dict[str, Any]:
    """A design against `with`, another's number, or against `card`, one in the drawer."""
    job: dict[str, Any] = {"do": "kept-compare", **_named(request), "units": wishes_in(request).units}
    card_id = request.query_params.get("card", "")
    if card_id:
        card = drawer_of(request).get(card_id) if is_id(card_id) else None
        if card is None or card.plan is None:
            raise HTTPException(404)
        return {**job, "plan": card.plan, "title": card.name or card.photo_name}
    return {**job, "with": _number(request.query_params.get("with", ""))}


def _named(request: Request) -> dict[str, int]:
    return {"number": _number(request.path_params["number"])}


def _number(text: object) -> int:
    """A design's number. 404 for what is none."""
    digits = str(text)
    if not (digits.isascii() and digits.isdecimal() and len(digits) <= _MOST_DIGITS):
        raise HTTPException(404)
    return int(digits)


def _png(answer: dict[str, Any]) -> Response:
    if not answer.get("png"):
        raise HTTPException(404)
    return Response(base64.b64decode(answer["png"]), media_type="image/png")
