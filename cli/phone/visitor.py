"""Whose request it is, and which cards it may see.

In:    a request that the gate let through.
Out:   the drawer, the desk, the cards of this visitor.
Fails: HTTPException, 404, for a card that is not there or not the visitor's.
"""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.requests import Request

from cli.phone.card import CardLine, PhoneCard, is_id
from cli.phone.desk import Desk
from cli.phone.drawer import Drawer
from cli.phone.keys import Pass
from cli.phone.showing_pages import pass_of


def drawer_of(request: Request) -> Drawer:
    """The drawer that this server keeps its cards in."""
    drawer: Drawer = request.app.state.drawer
    return drawer


def desk_of(request: Request) -> Desk:
    """What this server has others work at."""
    desk: Desk = request.app.state.desk
    return desk


def lines_for(request: Request) -> list[CardLine]:
    """The cards that this visitor may see, the newest first."""
    holder = pass_of(request)
    return [line for line in drawer_of(request).lines() if may_see(holder, line.owner)]


def may_see(holder: Pass, owner: str) -> bool:
    """A pupil sees their own cards, everybody else all."""
    return holder.role != "pupil" or holder.phone == owner


def card_in(request: Request) -> PhoneCard:
    """The card that the address names; 404 where it is not this visitor's, just as where there is none."""
    card_id = request.path_params["card_id"]
    card = drawer_of(request).get(card_id) if is_id(card_id) else None
    if card is None or not may_see(pass_of(request), card.owner):
        raise HTTPException(404)
    return card
