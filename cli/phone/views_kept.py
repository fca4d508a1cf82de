"""Kept designs: keep a card, find, show, compare."""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response


async def keep(request: Request) -> Response:
    raise HTTPException(404)


async def find(request: Request) -> Response:
    raise HTTPException(404)


async def show(request: Request) -> Response:
    raise HTTPException(404)


async def overlay(request: Request) -> Response:
    raise HTTPException(404)


async def compare(request: Request) -> Response:
    raise HTTPException(404)


async def compared(request: Request) -> Response:
    raise HTTPException(404)
