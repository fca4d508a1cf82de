"""What is changed on a card: marks, parts, how it lies, read again, taken out.

In:    a request that the gate let through, with a form.
Out:   the way to the page that shows what came of it.
Fails: HTTP 404 for a card that is not there or not the visitor's; `PencilampError` with one sentence.
"""

from __future__ import annotations

import asyncio
import math
from dataclasses import replace
from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from circuit.errors import UsageError
from circuit.lengths import parse_length
from cli.phone.card import PhoneCard
from cli.phone.desk import wishes_of
from cli.phone.forms import form_in
from cli.phone.views_cards import SEE_OTHER
from cli.phone.views_settings import wishes_in
from cli.phone.visitor import card_in, desk_of, drawer_of
from cli.phone.wishes import turned, wishes_from

_SIZES = ("card", "square", "printed")


async def change(request: Request) -> Response:
    card = card_in(request)
    async with form_in(request) as form:
        done = await desk_of(request).change(card.id, _change_in(form, card), seen=_seen(form))
        return _back_to(form, done)


def _seen(form: FormData) -> str:
    return str(form.get("seen", ""))


def _change_in(form: FormData, card: PhoneCard) -> dict[str, Any]:
    """The change that a form asks for, as `cli.phone.changes` takes it. Raises UsageError."""
    said = {name: str(value) for name, value in form.items()}
    what: dict[str, Any] = {"kind": said.get("kind", ""), "about": said.get("about", "")}
    if "question" in said:
        what["question"] = said["question"]
    if said.get("across") or said.get("down"):
        units = str(card.extra.get("units", "mm"))
        what["to"] = [_millimetres(said.get("across", ""), units), _millimetres(said.get("down", ""), units)]
    return what


def _millimetres(text: str, units: str) -> float:
    try:
        value = parse_length(text, units)
    except ValueError as error:
        raise UsageError(f"{error}.") from error
    if not math.isfinite(value):
        raise UsageError("That is no place on the card.")
    return value


def _back_to(form: FormData, card: PhoneCard) -> Response:
    """The view that a form was on, showing what was said of the change."""
    view = str(form.get("view", "look"))
    step = {"mend": "/mend", "build": "/build", "paper": "/paper"}.get(view, "")
    return RedirectResponse(f"/cards/{card.id}{step}?said", SEE_OTHER)


async def take_back(request: Request) -> Response:
    card = card_in(request)
    async with form_in(request) as form:
        return _back_to(form, await desk_of(request).take_back(card.id, _seen(form)))


async def other_parts(request: Request) -> Response:
    """The same marks, built with other parts."""
    card = card_in(request)
    async with form_in(request) as form:
        said = {name: str(value) for name, value in form.items() if name != "turn"}
        wishes = wishes_from({**card.wishes, **said})
        return _back_to(form, await desk_of(request).change(card.id, None, wishes))


async def read_again(request: Request) -> Response:
    """Read a photo again: with what is said of its sizes, else with this phone's settings, which were changed. Raises
    UsageError for sizes that say nothing."""
    card = card_in(request)
    async with form_in(request) as form:
        said = {name: str(form[name]) for name in _SIZES if name in form}
    if said and not any(value.strip() for value in said.values()):
        raise UsageError("Write down what you measured first, as in '101 x 133 mm' or '39.4 mm'.")
    if said:
        wishes = wishes_from({**card.wishes, **said})
    else:
        wishes = replace(wishes_in(request), turn=wishes_of(card).turn)
    await desk_of(request).read_again(card.id, wishes)
    return RedirectResponse(f"/cards/{card.id}/waiting", SEE_OTHER)


async def turn(request: Request) -> Response:
    """Read a photo again, its card a quarter further round."""
    card = card_in(request)
    async with form_in(request) as form:
        wishes = turned(wishes_of(card), str(form.get("way", "")))
    await desk_of(request).read_again(card.id, wishes)
    return RedirectResponse(f"/cards/{card.id}/waiting", SEE_OTHER)


async def take_out(request: Request) -> Response:
    card = card_in(request)
    await asyncio.to_thread(drawer_of(request).take_out, card.id)
    return RedirectResponse("/", SEE_OTHER)
