"""Where the battery could go: with the whole switch on the card, clear of lights and window.

In:    a layout (its own battery, if any, is not looked at), the maker's settings.
Out:   the centre of the cell, or None where it fits nowhere.
Fails: `UsageError` for a limit that no rule has.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.enclosed import enclosed
from circuit.layout import BatteryMark, Layout, Point, Polyline
from circuit.rules import limit_of
from circuit.settings import Settings
from circuit.switch import switch_of

Flags = NDArray[np.bool_]

# Marks are pencilled by hand: a place on a grid of whole millimetres is as good as any: chosen. [mm]
_GRID_MM = 1
# Larger cards than A3 get a coarser grid of no more places than this: chosen.
_MOST_PLACES = 130_000
# Places at which the whole switch is tried at once, the best first: chosen, some milliseconds' work.
_TRIED_AT_ONCE = 64
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
    step = max(_GRID_MM, math.ceil(math.sqrt(card.width_mm * card.height_mm / _MOST_PLACES)))
    xs, ys = np.arange(step, card.width_mm, step), np.arange(step, card.height_mm, step)
    places = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    if len(places) == 0:
        return None
    x, y = places.T
    room = np.minimum(np.minimum(x, card.width_mm - x), np.minimum(y, card.height_mm - y)) - ring
    way = np.hypot(x - card.width_mm / 2, y - card.height_mm / 2)
    if layout.lights:
        way = np.full(len(places), np.inf)
        for light in layout.lights:  # one by one: on a large card all at once would fill the memory
            way = np.minimum(way, np.hypot(x - light.x_mm, y - light.y_mm))
        room = np.minimum(room, way - ring - half)
    if layout.window is not None:
        clear = limit_of(settings, "cell-under-window")
        room = np.minimum(room, _to_window(places, layout.window) - ring - clear)
    worth = np.where(room >= 0, np.minimum(room, _ENOUGH_MM) - _ROOM_PER_MM * way, -np.inf)
    order = np.argsort(-worth, kind="stable")
    order = order[np.isfinite(worth[order])]
    for start in range(0, len(order), _TRIED_AT_ONCE):
        these = places[order[start : start + _TRIED_AT_ONCE]]
        fits = _switch_fits(these, layout, settings)
        if fits.any():
            return (float(these[fits.argmax()][0]), float(these[fits.argmax()][1]))
    return None


def _to_window(places: Floats, window: Polyline) -> Floats:
    """From each place to what the window encloses, 0 within it. [mm]"""
    area, edge = enclosed(window)
    corners = [shapely.get_coordinates(part) for part in shapely.get_parts(edge)]
    sides = np.concatenate([np.stack([ring[:-1], ring[1:]], axis=1) for ring in corners])
    # Only the sides near a place are measured: the edge of a window may have thousands.
    nearest = shapely.STRtree(shapely.linestrings(sides)).query_nearest(
        shapely.points(places), return_distance=True, all_matches=False
    )
    return np.where(shapely.contains_xy(area, places), 0.0, nearest[1])


def _switch_fits(places: Floats, layout: Layout, settings: Settings) -> Flags:
    """Where the switch, its hinge in some direction, lies on the card and over no light and no window."""
    edge, half = (
        limit_of(settings, "switch-off-card"),
        max(settings.light.length_mm, settings.light.width_mm) / 2,
    )
    card = shapely.box(edge, edge, layout.card.width_mm - edge, layout.card.height_mm - edge)
    lights = shapely.MultiPoint([light.centre for light in layout.lights]).buffer(half * math.sqrt(2))
    window = enclosed(layout.window or ()).area
    battery = BatteryMark(0.0, 0.0, settings.cell.diameter_mm)
    shapely.prepare([card, lights])
    turns = np.arange(_HINGE_SIDES) * 2 * np.pi / _HINGE_SIDES
    rings = [switch_of(battery, (math.cos(turn), math.sin(turn)), settings).outline_mm for turn in turns]
    outlines = shapely.polygons(np.array(rings)[None] + places[:, None, None, :])
    good = shapely.contains(card, outlines)
    good[good] &= ~shapely.intersects(lights, outlines[good]) & ~shapely.intersects(window, outlines[good])
    return np.asarray(good.any(axis=1))
