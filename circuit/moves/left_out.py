"""Lights that stand in each other's way, and the fewest without which a lane goes through the rest.

In:    a layout, the router.
Out:   labels.
Fails: `UsageError` for a limit that no rule has.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from circuit.layout import Layout
from circuit.moves.needs import mark_needs
from circuit.moves.room import lane_room
from circuit.moves.router import Router
from circuit.settings import Settings

_GENEROUS_MM = 1.0  # who stands in whose way is judged with this much more room than a lane's least: chosen
_MOST_LEFT_OUT = 3  # a card that needs more left out is a card to be drawn again: chosen
_MOST_SINGLES = 6  # lights tried one at a time, those that lack most room: chosen


def fewest_left_out(layout: Layout, router: Router) -> tuple[str, ...]:
    """The fewest lights found without which the rest, as drawn, keeps every rule and has a lane."""
    router.left = max(router.left, _MOST_SINGLES + 2 * _MOST_LEFT_OUT)
    for left_out in in_the_way(layout, router.settings):
        rest = less(layout, left_out)
        if rest.lights and router.lane(rest) is not None:
            return left_out
    return ()


def in_the_way(layout: Layout, settings: Settings) -> list[tuple[str, ...]]:
    """Sets of lights to try without: one at a time those that lack most room, then two, then three."""
    short = lane_room(layout, settings, mark_needs(layout, settings), _GENEROUS_MM).short_mm
    labels = [light.label for light in layout.lights]
    ranked = [labels[k] for k in sorted(range(len(labels)), key=lambda k: -short[k])]
    sets: list[tuple[str, ...]] = [(label,) for label in ranked[:_MOST_SINGLES]]
    for size in range(2, min(_MOST_LEFT_OUT, len(labels) - 1) + 1):
        sets.append(tuple(ranked[:size]))
        sets.append(_one_by_one(layout, settings, size))
    return [left_out for k, left_out in enumerate(sets) if set(left_out) not in [set(s) for s in sets[:k]]]


def less(layout: Layout, left_out: Sequence[str]) -> Layout:
    """The layout without these lights."""
    return replace(layout, lights=tuple(light for light in layout.lights if light.label not in left_out))


def _one_by_one(layout: Layout, settings: Settings, size: int) -> tuple[str, ...]:
    """The light that lacks most room taken off, then the one that does so now, and so on."""
    out: list[str] = []
    for _ in range(size):
        rest = less(layout, out)
        short = lane_room(rest, settings, mark_needs(rest, settings), _GENEROUS_MM).short_mm
        worst = max(range(len(short)), key=lambda k: short[k])
        out.append(rest.lights[worst].label)
    return tuple(out)
