"""What a page's form may hold: no more and no longer than ours do.

In:    a request.
Out:   its form, to be opened with `async with`.
Fails: starlette's HTTPException, 400, for a form that holds more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from contextlib import AbstractAsyncContextManager

    from starlette.datastructures import FormData
    from starlette.requests import Request

_MOST_FIELDS = 30  # chosen: the largest form, what is built with, has some fifteen
_LONGEST_FIELD_BYTES = 2000  # chosen: a title of 200 letters of any script, coded


def form_in(request: Request, *, files: int = 0) -> AbstractAsyncContextManager[FormData]:
    """The form that came, with so many files at most."""
    return request.form(max_files=files, max_fields=_MOST_FIELDS, max_part_size=_LONGEST_FIELD_BYTES)
