"""What a maker builds with, remembered by each phone in a cookie of its own."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from circuit.errors import PencilampError
from circuit.parts import default_parts
from cli.phone.forms import form_in
from cli.phone.showing_pages import show as show_page
from cli.phone.wishes import COOKIE, COOKIE_DAYS, Wishes, cookie_of, wishes_from, wishes_of_cookie

_LONGEST_SAID = 60  # as the page's own fields take


def wishes_in(request: Request) -> Wishes:
    """What this phone builds with."""
    return wishes_of_cookie(request.cookies.get(COOKIE))


def choices(wishes: Wishes) -> dict[str, Any]:
    """What the forms offer, and what is chosen."""
    parts = default_parts()
    return {
        "said": asdict(wishes),
        "lights": list(parts.lights),
        "colours": list(parts.colours),
        "cells": list(parts.cells),
        "foams": [(foam.name, foam.thickness_mm) for foam in parts.foams.values()],
    }


async def show(request: Request) -> Response:
    saved = "saved" in request.query_params
    return show_page(
        request, "settings.html", here="settings", choices=choices(wishes_in(request)), saved=saved, sorry=""
    )


async def save(request: Request) -> Response:
    async with form_in(request) as form:
        said = {name: str(value) for name, value in form.items()}
    try:
        wishes = wishes_from(said)
    except PencilampError as error:
        return show_page(
            request,
            "settings.html",
            400,
            here="settings",
            choices=_as_typed(said),
            saved=False,
            sorry=str(error),
        )
    answer = RedirectResponse("/settings?saved", 303)
    answer.set_cookie(
        COOKIE, cookie_of(wishes), max_age=COOKIE_DAYS * 86_400, httponly=True, samesite="strict", path="/"
    )
    return answer


def _as_typed(said: dict[str, str]) -> dict[str, Any]:
    plain = asdict(Wishes())
    return {**choices(Wishes()), "said": {name: said.get(name, "")[:_LONGEST_SAID] for name in plain}}
