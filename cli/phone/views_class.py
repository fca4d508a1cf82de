"""The teacher's view of a class."""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response


async def show(request: Request) -> Response:
    raise HTTPException(404)


async def sheets(request: Request) -> Response:
    raise HTTPException(404)


async def keep_all(request: Request) -> Response:
    raise HTTPException(404)
