"""The problem that is told when no pair of traces can be laid.

In:    the layout, and what blocks it: one or more of the router's `Blocked` (labels, reason, proven).
Out:   one `no-lane` problem.
Fails: never; with nothing named, all lights are concerned.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from circuit.layout import Layout, Point, Problem
from circuit.polyline import middle_of
from circuit.rules import RULE_BY_NAME
from circuit.telling import listed


class BlockedLike(Protocol):
    """What the router says of a block: who, one plain sentence, and whether a measure proves it."""

    @property
    def labels(self) -> tuple[str, ...]: ...
    @property
    def reason(self) -> str: ...
    @property
    def proven(self) -> bool: ...


def no_lane_problem(layout: Layout, blocked: Sequence[BlockedLike]) -> Problem:
    """One problem that names every light that blocks the lane, and says whether that is proven.
    The reasons come with their lengths already in the maker's units."""
    labels: list[str] = []
    for block in blocked:
        labels += [label for label in block.labels if label not in labels]
    about = tuple(labels) or tuple(light.label for light in layout.lights)
    words = RULE_BY_NAME["no-lane"].words[_case(layout, blocked)]
    reasons = " ".join(_sentence(block.reason) for block in blocked)
    seen = words.seen.format(reason=reasons).strip()
    return Problem(
        name="no-lane",
        level="must-fix",
        about=about,
        where_mm=_middle(about, layout),
        measured=None,
        uncertainty=0.0,
        limit=None,
        advice=f"{seen} {words.do.format(who=_who(about, layout))}".strip(),
    )


def _case(layout: Layout, blocked: Sequence[BlockedLike]) -> str:
    if layout.battery is None:
        return "no-battery"
    if not layout.lights:
        return "no-lights"
    if blocked and not any(block.labels for block in blocked):
        return "parts"
    return "proven" if blocked and all(block.proven for block in blocked) else "not-found"


def _sentence(text: str) -> str:
    return text if text.rstrip().endswith((".", "!", "?")) else f"{text.rstrip()}."


def _who(about: tuple[str, ...], layout: Layout) -> str:
    if len(about) == len(layout.lights) and "battery" not in about:
        return "the lights"
    names = ["the battery" if name == "battery" else name for name in about]
    return listed(names, "or")


def _middle(about: tuple[str, ...], layout: Layout) -> Point:
    places = [light.centre for light in layout.lights if light.label in about]
    if layout.battery is not None and "battery" in about:
        places.append(layout.battery.centre)
    if not places:
        return (layout.card.width_mm / 2, layout.card.height_mm / 2)
    return middle_of(places)
