"""A light stays dark: what it most likely is, and what to try first, as plain values for the page.

In:    a job: the plan, the labels of the dark and the dim lights, answers to what was tried.
Out:   ready sentences with their places on the card.
Fails: `UsageError` with one sentence.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from circuit.cautions import mending_cautions
from circuit.errors import UsageError
from circuit.plan_json import plan_from_dict
from cli.phone.wishes import options_of, wishes_from


def dark(job: Mapping[str, Any]) -> dict[str, Any]:
    """Rank what keeps lights of a job's plan dark, as JSON for the page. Raises UsageError where no tape is laid."""
    from circuit.faults import after_trial, rank_faults, tell
    from cli.phone.tagged import tags_for
    from cli.plan_options import settings_from

    plan, options = plan_from_dict(job["plan"]), options_of(wishes_from(job["wishes"]))
    settings = settings_from(options, plan.settings)
    if plan.traces is None:
        raise UsageError("No tape is laid on this card yet, so there is nothing that could be broken.")
    lights = plan.lights_from(options.parts)
    ranking = rank_faults(plan.layout, plan.traces, tuple(job["dark"]), tuple(job["dim"]), settings, lights)
    for answer in job["tried"]:
        if ranking.trial is None or answer not in ranking.trial.answers:
            raise UsageError("That is no answer to what was to be tried; begin again with the dark lights.")
        ranking = after_trial(ranking, answer)
    told = tell(ranking, plan.layout.card, settings.units)
    trial = told.test
    places = [one.places_mm[0] for one in told.faults]
    tags = tags_for(plan, settings, job["frame"], places)
    return {
        "seen": told.seen,
        "warnings": list(told.notes),
        "trial": None
        if trial is None
        else {"text": trial.text, "where": list(trial.places_mm[0]), "answers": dict(trial.answers)},
        "faults": [
            {"share": one.how_likely, "texts": list(one.texts), "where": list(place), "tag": tag}
            for one, place, tag in zip(told.faults, places, tags["spots"], strict=True)
        ],
        "marks": tags["marks"],
        "source": told.source,
        "cautions": list(mending_cautions()),
    }
