"""'A light stays dark': tap the dark ones, read what to try first, say what came of it."""

from __future__ import annotations

from dataclasses import replace
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from cli.phone.showing_pages import show
from cli.phone.stage import spots_on, stage_of
from cli.phone.visitor import card_in, desk_of

_MOST_TRIED = 12


async def dark(request: Request) -> Response:
    card = card_in(request)
    if card.state != "ready":
        return RedirectResponse(f"/cards/{card.id}", 303)
    labels = {light["label"] for light in (card.plan or {}).get("lights", [])}
    asked = request.query_params
    dark_ones = [label for label in asked.getlist("dark") if label in labels]
    dim_ones = [label for label in asked.getlist("dim") if label in labels and label not in dark_ones]
    tried = asked.getlist("tried")[:_MOST_TRIED]
    found = None
    if dark_ones or dim_ones:
        job = {
            "do": "dark",
            "plan": card.plan,
            "wishes": card.wishes,
            "dark": dark_ones,
            "dim": dim_ones,
            "tried": tried,
            "frame": card.extra["frame"],
        }
        found = await desk_of(request).ask(job)
    so_far = [("dark", one) for one in dark_ones] + [("dim", one) for one in dim_ones]
    so_far += [("tried", one) for one in tried]
    faults = [] if found is None else found["faults"]
    if found is not None:  # names keep off these numbers, not off those of the plan's problems
        marks = [{**mark, "tag": tag} for mark, tag in zip(card.extra["marks"], found["marks"], strict=True)]
        card = replace(card, extra={**card.extra, "marks": marks})
    stage = stage_of(card)
    spots = [{**one, "number": k, "level": "look-again"} for k, one in enumerate(faults, 1)]
    stage["problems"] = spots_on(card.extra["frame"], spots)
    stage["questions"] = []
    return show(
        request,
        "dark.html",
        card=card,
        view={**card.extra, "questions": []},
        stage=stage,
        here="build",
        found=found,
        dark=dark_ones,
        dim=dim_ones,
        so_far=urlencode(so_far),
    )
