"""Cards and traces made by hand, each one rule away from being right.

The card everything starts from: two lights above the battery on one straight lane, every rule kept.
"""

from __future__ import annotations

import math
from dataclasses import replace

from circuit.layout import BatteryMark, Card, Layout, LightMark, Point, Polyline, Traces

CARD = Card(107.95, 139.7, "quarter-letter")
BATTERY = BatteryMark(54.0, 110.0, 20.9)
LANE_X = 54.0
OFFSET = 2.5  # from the midline to a trace's centre line with the default parts


def lights_at(*places: Point, uncertainty_mm: float = 0.0) -> tuple[LightMark, ...]:
    return tuple(
        LightMark(f"L{i + 1}", x, y, uncertainty_mm=uncertainty_mm) for i, (x, y) in enumerate(places)
    )


def card_with(*places: Point, uncertainty_mm: float = 0.0) -> Layout:
    """The default card with its battery and lights at these places."""
    return Layout(CARD, lights_at(*places, uncertainty_mm=uncertainty_mm), BATTERY)


STRAIGHT_CARD = card_with((LANE_X, 60.0), (LANE_X, 40.0))
BEGIN_Y = 114.5  # 4.5 mm beyond the cell's middle
TOP_Y = 37.5  # where the last light's body ends
POSITIVE: Polyline = ((LANE_X - OFFSET, BEGIN_Y), (LANE_X - OFFSET, TOP_Y))
NEGATIVE: Polyline = ((LANE_X + OFFSET, BEGIN_Y), (LANE_X + OFFSET, TOP_Y))
STRAIGHT_TRACES = Traces(POSITIVE, NEGATIVE)


def positive_with_tail(*tail: Point) -> Traces:
    """The straight traces, the positive one going on past the last light."""
    return Traces((POSITIVE[0], *tail), NEGATIVE)


def turned(point: Point, by_deg: float, about: Point = (0.0, 0.0)) -> Point:
    """A point turned about another, 90 taking +x to +y (down)."""
    cos, sin = math.cos(math.radians(by_deg)), math.sin(math.radians(by_deg))
    x, y = point[0] - about[0], point[1] - about[1]
    return (about[0] + cos * x - sin * y, about[1] + sin * x + cos * y)


def quarter_turned(layout: Layout, traces: Traces | None) -> tuple[Layout, Traces | None]:
    """The card turned clockwise by a quarter, as one would lay it: its left edge becomes its top."""

    def turn(point: Point) -> Point:
        return (layout.card.height_mm - point[1], point[0])

    card = Card(layout.card.height_mm, layout.card.width_mm)
    return _mapped(layout, traces, card, turn)


def mirrored(layout: Layout, traces: Traces | None) -> tuple[Layout, Traces | None]:
    """The card as seen from behind."""

    def flip(point: Point) -> Point:
        return (layout.card.width_mm - point[0], point[1])

    return _mapped(layout, traces, layout.card, flip)


def _mapped(layout, traces, card, to):  # type: ignore[no-untyped-def]
    lights = tuple(
        replace(light, x_mm=to(light.centre)[0], y_mm=to(light.centre)[1]) for light in layout.lights
    )
    battery = layout.battery
    if battery is not None:
        x, y = to(battery.centre)
        battery = replace(battery, x_mm=x, y_mm=y)
    window = None if layout.window is None else tuple(to(point) for point in layout.window)
    moved = replace(layout, card=card, lights=lights, battery=battery, window=window)
    if traces is None:
        return moved, None
    return moved, replace(
        traces,
        positive=tuple(to(point) for point in traces.positive),
        negative=tuple(to(point) for point in traces.negative),
    )
