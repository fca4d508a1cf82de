"""The problem that is told when no pair of traces can be laid.

In:    the layout, and what blocks it: one or more of the router's `Blocked` (labels, reason, proven).
Out:   one `no-lane` problem.
Fails: never; where nobody is named, the problem is about no light, and lies amid them all, beside any.
"""

from __future__ import annotations

import math
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
    @property
    def of_parts(self) -> bool: ...


def no_lane_problem(layout: Layout, blocked: Sequence[BlockedLike]) -> Problem:
    """One problem that names every light that blocks the lane, and says whether that is proven.
    The reasons come with their lengths already in the maker's units."""
    labels: list[str] = []
    for block in blocked:
        labels += [label for label in block.labels if label not in labels]
    about = tuple(labels)
    words = RULE_BY_NAME["no-lane"].words[_case(layout, blocked)]
    reasons = " ".join(_sentence(block.reason) for block in blocked)
    seen = words.seen.format(reason=reasons).strip()
    return Problem(
        name="no-lane",
        level="must-fix",
        about=about,
        where_mm=_where(about, layout),
        measured=None,
        uncertainty=0.0,
        limit=None,
        advice=f"{words.do.format(who=_who(about, layout))} {seen}".strip(),
    )


def _case(layout: Layout, blocked: Sequence[BlockedLike]) -> str:
    if layout.battery is None:
        return "no-battery"
    if not layout.lights:
        return "no-lights"
    if blocked and all(block.of_parts for block in blocked):
        return "parts"
    return "proven" if blocked and all(block.proven for block in blocked) else "not-found"


def _sentence(text: str) -> str:
    return text if text.rstrip().endswith((".", "!", "?")) else f"{text.rstrip()}."


def _who(about: tuple[str, ...], layout: Layout) -> str:
    if not about:
        return "some of the lights"
    if len(about) == len(layout.lights) and "battery" not in about:
        return "the lights"
    names = ["the battery" if name == "battery" else name for name in about]
    return listed(names, "or")


def _where(about: tuple[str, ...], layout: Layout) -> Point:
    """The mark named that lies nearest to the middle of those named. Where none is, a place amid the lights that is
    clear of each of them, so that none is taken for the culprit."""
    lights = [light.centre for light in layout.lights]
    named = [light.centre for light in layout.lights if light.label in about]
    if layout.battery is not None and "battery" in about:
        named.append(layout.battery.centre)
    if not (named or lights):
        return (layout.card.width_mm / 2, layout.card.height_mm / 2)
    middle = middle_of(named or lights)
    return min(named or _clear_places(lights, middle, layout), key=lambda place: math.dist(place, middle))


_CLEAR_MM = 8.0  # from a light's middle: chosen, beside its body and its label's usual place
_STEP_MM = 2.0  # chosen: places tried, so far apart


def _clear_places(lights: Sequence[Point], middle: Point, layout: Layout) -> list[Point]:
    """Places of the card clear of all lights, from the middle on in steps; the middle itself if there are none."""
    sides = ((middle[0], layout.card.width_mm), (middle[1], layout.card.height_mm))
    across, down = (
        [here % _STEP_MM + _STEP_MM * k for k in range(int(long / _STEP_MM))] for here, long in sides
    )
    places = [(x, y) for x in across for y in down]
    return [p for p in places if all(math.dist(p, light) >= _CLEAR_MM for light in lights)] or [middle]
