"""Changes that a maker makes to the marks of a card: move one, leave one out, add a light.

In:    a `Layout`, and what to change; text such as `L3 2mm left` or `battery 5mm up 1mm right`.
Out:   a new `Layout`; other marks keep their labels.
Fails: `UsageError` with one sentence for a mark that is not there or a place off the card.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

from circuit.errors import UsageError
from circuit.layout import Layout, LightMark, Move, Point
from circuit.lengths import parse_length

BATTERY = "battery"
_CELL = "cell"  # as some call it
ADDED_DIAMETER_MM = 3.0  # chosen: the middle of the dots that people pencil
_WAYS = {"left": (-1, 0), "right": (1, 0), "up": (0, -1), "down": (0, 1)}
_LENGTH_AND_WAY = re.compile(r"\s*(.+?)\s*(left|right|up|down)\b[\s,]*(?:and\b)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Shift:
    """One mark, a light's label or "battery", moved by so much, right and down. [mm]"""

    about: str
    by_mm: Point


@dataclass(frozen=True, slots=True)
class Changes:
    """What a maker wants changed; false where that is nothing.

    suggested : make the moves that the plan suggests. drop : lights to leave out, by label. add : places of
    new lights. [mm]
    """

    suggested: bool = False
    shifts: tuple[Shift, ...] = ()
    drop: tuple[str, ...] = ()
    add: tuple[Point, ...] = ()

    def __bool__(self) -> bool:
        return self != Changes()


def changed(layout: Layout, moves: Iterable[Move], changes: Changes) -> Layout:
    """The layout with all changes made, the plan's suggested `moves` first. Raises UsageError."""
    if changes.suggested:
        suggested = tuple(moves)
        if not suggested:
            raise UsageError(
                "There are no suggested moves to make; --apply-moves goes with a plan that has some."
            )
        layout = with_moves(layout, suggested)
    for shift in changes.shifts:
        layout = shifted(layout, shift)
    for label in changes.drop:
        layout = without_light(layout, label)
    for at_mm in changes.add:
        layout, _ = with_light_at(layout, at_mm)
    return layout


def shift_from(text: str, bare_unit: str = "mm") -> Shift:
    """`L3 2mm left`, `battery 5mm up and 1/8in right`; lengths without a unit are in `bare_unit`.

    Raises UsageError for anything else.
    """
    about, _, ways = text.strip().partition(" ")
    x = y = 0.0
    at = 0
    while found := _LENGTH_AND_WAY.match(ways, at):
        try:
            length = parse_length(found[1], bare_unit)
        except ValueError as error:
            raise UsageError(f"--move {text}: {error}.") from error
        across, down = _WAYS[found[2].lower()]
        x, y, at = x + across * length, y + down * length, found.end()
    if at == 0 or ways[at:].strip():
        raise UsageError(f"--move {text}: write it like 'L3 2mm left' or 'battery 5mm up 1mm right'.")
    return Shift(BATTERY if about.casefold() == _CELL else about, (x, y))


def shifted(layout: Layout, shift: Shift) -> Layout:
    """The layout with one mark moved. Raises UsageError."""
    x, y = _centre(layout, shift.about)
    return with_mark_at(layout, shift.about, (x + shift.by_mm[0], y + shift.by_mm[1]))


def with_moves(layout: Layout, moves: Iterable[Move]) -> Layout:
    """The layout with the suggested moves made. Raises UsageError."""
    for move in moves:
        layout = with_mark_at(layout, move.about, move.to_mm)
    return layout


def with_mark_at(layout: Layout, about: str, to_mm: Point) -> Layout:
    """The layout with a light or the battery circle at another place, its uncertainty as it was.

    Raises UsageError for a mark that is not there and a place off the card.
    """
    _require_on_card(layout, to_mm, about)
    x, y = to_mm
    if about.casefold() == BATTERY:
        _centre(layout, about)
        assert layout.battery is not None
        return replace(layout, battery=replace(layout.battery, x_mm=x, y_mm=y))
    moved = replace(_light(layout, about), x_mm=x, y_mm=y)
    return replace(
        layout, lights=tuple(moved if light.label == moved.label else light for light in layout.lights)
    )


def without_light(layout: Layout, label: str) -> Layout:
    """The layout with one light less; the others keep their labels. Raises UsageError."""
    left_out = _light(layout, label)
    return replace(layout, lights=tuple(light for light in layout.lights if light is not left_out))


def with_light_at(layout: Layout, at_mm: Point, uncertainty_mm: float = 0.0) -> tuple[Layout, str]:
    """The layout with one light more, and its label: the first that is free. Raises UsageError."""
    _require_on_card(layout, at_mm, "a new light")
    taken = {light.label for light in layout.lights}
    label = next(name for k in range(1, len(taken) + 2) if (name := f"L{k}") not in taken)
    light = LightMark(label, *at_mm, diameter_mm=ADDED_DIAMETER_MM, uncertainty_mm=uncertainty_mm)
    return replace(layout, lights=(*layout.lights, light)), label


def _centre(layout: Layout, about: str) -> Point:
    if about.casefold() != BATTERY:
        return _light(layout, about).centre
    if layout.battery is None:
        raise UsageError("There is no battery circle on this card.")
    return layout.battery.centre


def _light(layout: Layout, label: str) -> LightMark:
    for light in layout.lights:
        if light.label.casefold() == label.casefold():
            return light
    there = ", ".join(light.label for light in layout.lights) or "none"
    raise UsageError(f"There is no light {label} on this card; there are: {there}.")


def _require_on_card(layout: Layout, at_mm: Point, about: str) -> None:
    x, y = at_mm
    if not (0 <= x <= layout.card.width_mm and 0 <= y <= layout.card.height_mm):
        raise UsageError(f"{about} at {x:.1f}, {y:.1f} mm would lie off the card; give a place on it.")
