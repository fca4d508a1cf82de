"""Where the battery could go: clear of lights and window, with room for the lane to leave it.

In:    a layout (its own battery, if any, is not looked at), the maker's settings.
Out:   the centre of the cell, or None where it fits nowhere.
Fails: `UsageError` for a limit that no rule has.
"""

from __future__ import annotations

import numpy as np
import shapely

from circuit.layout import Layout, Point
from circuit.rules import limit_of
from circuit.settings import Settings

# Marks are pencilled by hand: a place on a grid of whole millimetres is as good as any: chosen. [mm]
_GRID_MM = 1.0
# What lies clear of the foam ring by the lane's width and a fold needs no more room: chosen. [mm]
_ENOUGH_MM = 12.0
# A place further away has to be this much roomier for each millimetre of tape it costs: chosen.
_ROOM_PER_MM = 0.1


def find_battery_place(layout: Layout, settings: Settings) -> Point | None:
    """The roomiest place for the cell, whole millimetres, near the lights where several are roomy.

    Room is the smallest distance from the foam ring to lights' bodies, the window and the card's
    edges. On a card without lights the place nearest the card's middle wins among equals.
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
        window = shapely.make_valid(shapely.Polygon(layout.window))
        clear = limit_of(settings, "cell-under-window")
        room = np.minimum(room, shapely.distance(shapely.points(places), window) - ring - clear)
    if room.max() < 0:
        return None
    worth = np.where(room >= 0, np.minimum(room, _ENOUGH_MM) - _ROOM_PER_MM * way, -np.inf)
    best = int(np.argmax(worth))
    return (float(x[best]), float(y[best]))
