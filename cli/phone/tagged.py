"""Where on a card's picture the names of marks and the numbers of problems and doubts lie, as JSON for the page.

In:    a plan, what of the card's surroundings its picture shows, places that numbers speak of.
Out:   for each `{"at": where its middle lies, "to": where its line ends}`, in card millimetres.
Fails: never.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from circuit.layout import Point
from circuit.plan import Plan
from circuit.settings import Settings
from vision.drawing.box import Box
from vision.drawing.screen_tags import ScreenTag, tags_on_screen

# Chosen: more numbers than these find no room beside each other; what comes after lies at its own place.
_MOST_SPOTS = 30


def with_tags(
    view: Mapping[str, Any], plan: Plan, settings: Settings, frame: Mapping[str, float]
) -> dict[str, Any]:
    """The view with a "tag" at each mark, and at each problem and question that has a place."""
    spots = [one for name in ("problems", "questions") for one in view[name] if one["where"] is not None]
    tags = tags_on_screen(plan, settings, _box(frame), _places(spots))
    tagged = {id(one): _plain(tag) for one, tag in zip(spots, tags.spots, strict=False)}
    tagged |= {id(one): _plain(tag) for one, tag in zip(view["marks"], tags.marks, strict=True)}

    def each(name: str) -> list[dict[str, Any]]:
        return [{**one, "tag": tagged.get(id(one))} for one in view[name]]

    return {**view, **{name: each(name) for name in ("marks", "problems", "questions")}}


def tags_for(
    plan: Plan, settings: Settings, frame: Mapping[str, float], places: Sequence[Point]
) -> dict[str, list[dict[str, Any]]]:
    """The tags of the marks, and of some other places on the same picture."""
    tags = tags_on_screen(plan, settings, _box(frame), places)
    return {"marks": [_plain(tag) for tag in tags.marks], "spots": [_plain(tag) for tag in tags.spots]}


def _places(spots: Sequence[Mapping[str, Any]]) -> list[Point]:
    return [(one["where"][0], one["where"][1]) for one in spots[:_MOST_SPOTS]]


def _box(frame: Mapping[str, float]) -> Box:
    return Box(-frame["margin_mm"], -frame["margin_mm"], frame["width_mm"], frame["height_mm"])


def _plain(tag: ScreenTag) -> dict[str, Any]:
    return {"at": [round(value, 2) for value in tag.at], "to": [round(value, 2) for value in tag.to]}
