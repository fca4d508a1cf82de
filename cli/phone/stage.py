"""The picture of a card as a page lays it out: its frame, and what lies where on it.

In:    a card that has been read.
Out:   plain values for the templates; places in per cent of the picture, so that it can be shown at any size.
Fails: never.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from cli.phone.card import PhoneCard

_SAME_PLACE_MM = 4.0  # chosen: on a phone, spots nearer than that lie over each other
_NEAR_RIGHT_PERCENT = 70  # chosen: three spots side by side are as wide as the rest of a phone's picture
_NEAR_TOP_PERCENT = 8  # chosen: a spot's own height in the picture of a card that lies across
# A label on a card of A6 that is as wide as a phone: some 24 x 18 pixels at 2.5 pixels a millimetre.
_LABEL_WIDE_MM = 10.0
_LABEL_HIGH_MM = 7.0
_MOST_BESIDE = 4  # as many as the style sheet has places for


def stage_of(card: PhoneCard) -> dict[str, Any]:
    """The picture's frame, and where on it each thing lies in per cent."""
    view = card.extra
    frame = view["frame"]
    margin, wide, high = frame["margin_mm"], frame["width_mm"], frame["height_mm"]

    def at(place: Sequence[float]) -> dict[str, float]:
        return place_on(frame, place)

    return {
        "box": f"{-margin:.3f} {-margin:.3f} {wide:.3f} {high:.3f}",
        "wide": round(wide, 3),
        "high": round(high, 3),
        "marks": [
            {
                **mark,
                **at(mark["at"]),
                "size": round(mark["nearest_mm"] / wide * 100, 2),
                "side": _label_side(mark, view["marks"]),
            }
            for mark in view["marks"]
        ],
        "problems": side_by_side([{**problem, **at(problem["where"])} for problem in view["problems"]]),
        "questions": [
            {**question, **at(question["where"])}
            for question in view["questions"]
            if question["where"] is not None
        ],
    }


def _label_side(mark: Mapping[str, Any], marks: Iterable[Mapping[str, Any]]) -> str:
    """To which side a mark's label goes, so that it does not lie over its neighbour's; "" for below it."""
    x, y = mark["at"]
    near = [
        one["at"][0] - x
        for one in marks
        if 0 < abs(one["at"][0] - x) < _LABEL_WIDE_MM and abs(one["at"][1] - y) < _LABEL_HIGH_MM
    ]
    if not near or min(near) < 0 < max(near):
        return ""
    return "left" if near[0] > 0 else "right"


def side_by_side(spots: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Each numbered spot with how many lie at its place before it, so that none hides another, and whether it goes
    to the left of its place or below it because the picture ends there."""
    return [
        {
            **spot,
            "beside": min(
                sum(math.dist(spot["where"], one["where"]) < _SAME_PLACE_MM for one in spots[:k]),
                _MOST_BESIDE,
            ),
            "inward": spot["left"] > _NEAR_RIGHT_PERCENT,
            "lower": spot["top"] < _NEAR_TOP_PERCENT,
        }
        for k, spot in enumerate(spots)
    ]


def place_on(frame: Mapping[str, float], place: Sequence[float]) -> dict[str, float]:
    """Where on the picture a place of the card lies, in per cent."""
    return {
        "left": round((place[0] + frame["margin_mm"]) / frame["width_mm"] * 100, 3),
        "top": round((place[1] + frame["margin_mm"]) / frame["height_mm"] * 100, 3),
    }
