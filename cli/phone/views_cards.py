"""The views of a card: photograph, look, mend, build, and the changes that are made on them.

In:    a request that the gate let through.
Out:   a page, a picture, a PDF, or the way to the page that shows what came of it.
Fails: HTTPException, 404, for what is not there or not the visitor's; `UsageError` with one sentence.
"""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import Any

from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response

from circuit.errors import UsageError
from cli.phone.card import PhoneCard
from cli.phone.desk import wishes_of
from cli.phone.drawer import REFUSAL_NAME
from cli.phone.forms import form_in
from cli.phone.showing_pages import pass_of, show
from cli.phone.stage import stage_of
from cli.phone.views_settings import choices, wishes_in
from cli.phone.visitor import card_in, desk_of, drawer_of, lines_for

SEE_OTHER = 303
_LONGEST_NAME = 60  # chosen: a name and a table's number
_PAGES = ("sheet", "build")
_WAIT_AGAIN_S = 2  # chosen: without scripts the page asks so often whether the card has been read


async def photograph(request: Request) -> Response:
    again = _digits(request.query_params.get("again", ""))
    return show(request, "photograph.html", here="photograph", lines=lines_for(request), again=again)


async def send(request: Request) -> Response:
    """A photo comes in. A script gets the card's address, a plain form is led on to it."""
    async with form_in(request, files=2) as form:
        sent = [
            item
            for name in ("photo", "album")
            for item in form.getlist(name)
            if isinstance(item, UploadFile) and item.filename  # a browser sends a field without a file, too
        ]
        photo = next((item for item in sent if item.size), None)
        if photo is None and sent:
            raise UsageError(
                "The photo came empty. Open it once on the phone, so that all of it is there, and send it again."
            )
        if photo is None:
            raise UsageError("No photo came along. Choose one and send it again.")
        card = await desk_of(request).take_in(
            photo.file,
            _plain_name(photo.filename or "photo.jpg"),
            pass_of(request).phone,
            _line_of_text(form, "name"),
            wishes_in(request),
            again=_digits(_line_of_text(form, "again")),
        )
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"card": f"/cards/{card.id}", "state": f"/cards/{card.id}/state"})
    return RedirectResponse(f"/cards/{card.id}/waiting", SEE_OTHER)


def _digits(text: str) -> str:
    """A kept design's number, as it stands in an address; "" for anything else."""
    return text if text.isascii() and text.isdecimal() and len(text) < 10 else ""


def _plain_name(name: str) -> str:
    """What the phone called the photo, for people to read; it never becomes a path."""
    last = PurePosixPath(name.replace("\\", "/")).name
    return "".join(sign for sign in last if sign.isprintable())[-_LONGEST_NAME:] or "photo.jpg"


def _line_of_text(form: FormData, name: str) -> str:
    value = form.get(name)
    text = value if isinstance(value, str) else ""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())[:_LONGEST_NAME]


async def waiting(request: Request) -> Response:
    card = card_in(request)
    if card.state != "waiting":
        return RedirectResponse(f"/cards/{card.id}", SEE_OTHER)
    page = show(request, "waiting.html", card=card, here="look", queue=_queue_words(request, card))
    page.headers["refresh"] = str(_WAIT_AGAIN_S)
    return page


async def state(request: Request) -> Response:
    card = card_in(request)
    draft = bool(card.extra.get("draft"))
    return JSONResponse({"state": card.state, "words": _queue_words(request, card), "draft": draft})


def _queue_words(request: Request, card: PhoneCard) -> str:
    trouble = desk_of(request).trouble(card.id)
    if trouble:
        return trouble
    before = desk_of(request).before(card.id) if card.state == "waiting" else 0
    if not before:
        return "Reading your card"
    return "One card before yours" if before == 1 else f"{before} cards before yours"


async def look(request: Request) -> Response:
    card = card_in(request)
    if card.state == "waiting":
        return RedirectResponse(f"/cards/{card.id}/waiting", SEE_OTHER)
    if card.state == "refused":
        seen = (drawer_of(request).place(card.id) / REFUSAL_NAME).exists()
        return show(request, "refused.html", card=card, here="look", seen=seen)
    return _view(request, card, "look", "look")


async def view(request: Request, *, name: str, here: str) -> Response:
    """One of the views of a card that has been read."""
    card = card_in(request)
    if card.state != "ready":
        return RedirectResponse(f"/cards/{card.id}", SEE_OTHER)
    fields = {"choices": choices(wishes_of(card))} if name == "mend" else {}
    return _view(request, card, name, here, **fields)


def _view(request: Request, card: PhoneCard, name: str, here: str, **values: Any) -> Response:
    said = str(card.extra.get("said", "")) if "said" in request.query_params else ""
    return show(
        request,
        f"{name}.html",
        card=card,
        view={"again": "", "draft": False, **card.extra},
        stage=stage_of(card),
        said=said,
        here=here,
        **values,
    )


async def picture(request: Request, *, name: str, kind: str) -> Response:
    """One of a card's pictures; 404 where it has none of that name."""
    path = drawer_of(request).place(card_in(request).id) / name
    if not path.is_file():
        raise HTTPException(404)
    return FileResponse(path, media_type=kind, headers={"cache-control": "private, max-age=600"})


async def printed(request: Request) -> Response:
    """A page to print."""
    card = card_in(request)
    page = request.path_params["page"]
    if page not in _PAGES:
        raise HTTPException(404)
    data = await desk_of(request).page(card, page, wishes_in(request))
    return pdf_answer(data, f"{page}.pdf")


def pdf_answer(data: bytes, name: str) -> Response:
    """A PDF that the browser shows at once, under that name."""
    return Response(
        data, media_type="application/pdf", headers={"content-disposition": f'inline; filename="{name}"'}
    )
