"""The picture of a card as a page lays it out: its frame, and what lies where on it.

In:    a card that has been read.
Out:   plain values for the templates; places in per cent of the picture, so that it can be shown at any size.
Fails: never.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from cli.phone.card import PhoneCard


def stage_of(card: PhoneCard) -> dict[str, Any]:
    """The picture's frame, and where on it each thing lies in per cent."""
    view = card.extra
    frame = view["frame"]
    margin, wide, high = frame["margin_mm"], frame["width_mm"], frame["height_mm"]
    return {
        "box": f"{-margin:.3f} {-margin:.3f} {wide:.3f} {high:.3f}",
        "wide": round(wide, 3),
        "high": round(high, 3),
        "marks": [
            {
                **mark,
                **_place_on(frame, mark["at"]),
                "size": round(mark["nearest_mm"] / wide * 100, 2),
                "label": _label_of(frame, mark),
            }
            for mark in view["marks"]
        ],
        "problems": spots_on(frame, view["problems"]),
        "questions": spots_on(frame, [one for one in view["questions"] if one["where"] is not None]),
    }


def spots_on(frame: Mapping[str, float], spots: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Each spot with where its number lies and the line from there to its place; a spot without a tag, of which there
    are too many or which an earlier version put down, lies at its place."""
    found = []
    for spot in spots:
        tag = spot.get("tag") or {"at": spot["where"], "to": spot["where"]}
        found.append({**spot, **_place_on(frame, tag["at"]), "line": _line(frame, tag["at"], tag["to"])})
    return found


def _label_of(frame: Mapping[str, float], mark: Mapping[str, Any]) -> dict[str, float] | None:
    """How far right of and below its mark a name lies, in per cent of the picture's width, and its line."""
    tag = mark.get("tag")
    if not tag:
        return None
    across, down = (tag["at"][k] - mark["at"][k] for k in (0, 1))
    return {
        "across": _share(frame, across),
        "down": _share(frame, down),
        **_line(frame, tag["at"], tag["to"]),
    }


def _line(frame: Mapping[str, float], at: Sequence[float], to: Sequence[float]) -> dict[str, float]:
    """From a tag's middle to where its line ends: per cent of the picture's width, and degrees from the right down."""
    across, down = to[0] - at[0], to[1] - at[1]
    return {
        "long": _share(frame, math.hypot(across, down)),
        "turn": round(math.degrees(math.atan2(down, across)), 1),
    }


def _share(frame: Mapping[str, float], mm: float) -> float:
    return round(mm / frame["width_mm"] * 100, 2)


def _place_on(frame: Mapping[str, float], place: Sequence[float]) -> dict[str, float]:
    """Where on the picture a place of the card lies, in per cent."""
    return {
        "left": round((place[0] + frame["margin_mm"]) / frame["width_mm"] * 100, 3),
        "top": round((place[1] + frame["margin_mm"]) / frame["height_mm"] * 100, 3),
    }
