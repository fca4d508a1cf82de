"""Where the battery could go: with the whole switch on the card, clear of lights and window.

In:    a layout (its own battery, if any, is not looked at), the maker's settings.
Out:   the centre of the cell, or None where it fits nowhere.
Fails: `UsageError` for a limit that no rule has.
"""

from __future__ import annotations

import math

import numpy as np
import shapely

from circuit.enclosed import enclosed
from circuit.layout import BatteryMark, Layout, Point
from circuit.rules import limit_of
from circuit.settings import Settings
from circuit.switch import switch_of

# Marks are pencilled by hand: a place on a grid of whole millimetres is as good as any: chosen. [mm]
_GRID_MM = 1.0
# What lies clear of the foam frame by the lane's width and a fold needs no more room: chosen. [mm]
_ENOUGH_MM = 12.0
# A place further away has to be this much roomier for each millimetre of tape it costs: chosen.
_ROOM_PER_MM = 0.1
# The hinge is tried this many ways, every 22.5 degrees: chosen.
_HINGE_SIDES = 16


def find_battery_place(layout: Layout, settings: Settings) -> Point | None:
    """The roomiest place for the cell, whole millimetres, near the lights where several are roomy.

    The whole switch fits there with its hinge some way. Room is the smallest distance from the battery zone to
    lights' bodies, the window and the card's edges. On a card without lights the place nearest the card's middle
    wins among equals.
    """
    card = layout.card
    ring = settings.battery_zone_radius_mm
    half = max(settings.light.length_mm, settings.light.width_mm) / 2
    xs, ys = np.arange(_GRID_MM, card.width_mm, _GRID_MM), np.arange(_GRID_MM, card.height_mm, _GRID_MM)
    places = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    if len(places) == 0:
        return None
    x, y = places.T
    room = np.minimum(np.minimum(x, card.width_mm - x), np.minimum(y, card.height_mm - y)) - ring
    way = np.hypot(x - card.width_mm / 2, y - card.height_mm / 2)
    if layout.lights:
        lights = np.array([light.centre for light in layout.lights])
        distances = np.hypot(*(places[:, None, :] - lights[None, :, :]).transpose(2, 0, 1))
        way = distances.min(axis=1)
        room = np.minimum(room, way - ring - half)
    if layout.window is not None:
        window = enclosed(layout.window).area
        clear = limit_of(settings, "cell-under-window")
        room = np.minimum(room, shapely.distance(shapely.points(places), window) - ring - clear)
    worth = np.where(room >= 0, np.minimum(room, _ENOUGH_MM) - _ROOM_PER_MM * way, -np.inf)
    for best in np.argsort(-worth, kind="stable"):
        if not np.isfinite(worth[best]):
            break
        place = (float(x[best]), float(y[best]))
        if _switch_fits(place, layout, settings):
            return place
    return None


def _switch_fits(place: Point, layout: Layout, settings: Settings) -> bool:
    """Whether the switch, its hinge in some direction, lies on the card and over no light and no window."""
    edge, half = (
        limit_of(settings, "switch-off-card"),
        max(settings.light.length_mm, settings.light.width_mm) / 2,
    )
    card = shapely.box(edge, edge, layout.card.width_mm - edge, layout.card.height_mm - edge)
    lights = shapely.MultiPoint([light.centre for light in layout.lights]).buffer(half * math.sqrt(2))
    window = enclosed(layout.window or ()).area
    battery = BatteryMark(*place, settings.cell.diameter_mm)
    for turn in np.arange(_HINGE_SIDES) * 2 * np.pi / _HINGE_SIDES:
        outline = shapely.Polygon(switch_of(battery, (math.cos(turn), math.sin(turn)), settings).outline_mm)
        if outline.within(card) and not outline.intersects(lights) and not outline.intersects(window):
            return True
    return False
