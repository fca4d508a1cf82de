"""The paper push switch over the cell: where its flap, tab, foam and clear tape go.

In:    the battery's centre, the side its hinge is on, the two traces, the parts.
Out:   a `Flap`: outlines in card millimetres, how far the positive tape goes on round the free end.
Fails: ValueError where the numbers make no flap.

Seen from above, the hinge to the left (`axis_deg` points from the cell's centre to the hinge):

        tab    hinge line
       +-----+--------------------+
       |     | foam foam foam foam|      The negative tape lies on the card under tab and cell.
    ===|=====|======(cell)        |f     The positive tape climbs the tab, runs along the flap's
       |     |               foam |o     outer face, round the free end (right) and back under
       |     | foam foam foam foam|a     the flap, where it stops over the cell's centre.
       +-----+--------------------+m
                                free end
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from circuit.layout import BatteryMark, LightMark, Point, Polyline, Traces
from circuit.rules import limit_of
from circuit.settings import Settings

TAB_DEPTH_MM = 8.0  # chosen: holds with glue or tape; common practice, no source
LEAST_TAB_DEPTH_MM = 4.0  # chosen: the least that still holds when a light sits close behind it
TAB_CLEAR_OF_LIGHT_MM = 0.5  # chosen
CELL_PLAY_MM = 0.5  # chosen: room round the cell so that it drops between the foam
COVER_BEYOND_FACE_MM = 0.85  # chosen: how far the clear tape reaches in over the edge of the negative face
COVER_OUTSIDE_RIM_MM = 3.0  # chosen: the cell may be set down a little off its place
COVER_BESIDE_TAPE_MM = 2.0  # chosen: on each side of the tape


@dataclass(frozen=True, slots=True)
class Flap:
    """The push switch of one card, all outlines in card millimetres (4 points each, not closed).

    axis_deg : direction from the cell's centre to the hinge side. [deg]
    side_mm : length of the flap's sides, without the tab. [mm]
    over : the positive tape on the flap's outer face, from where the trace ends to the free end.
    under : the positive tape under the flap, from the free end to over the cell's centre.
    turn_on_flap_deg : turn of the positive tape where its trace ends, so that it meets the free end
        squarely; 0.0 where it goes straight on. Signed, positive is to the right as it is laid
        *away from* the cell's centre along the trace (the order of laying), as all turns here.
    rim_cover : where clear tape goes over the negative tape, as it passes the can's rim.
    """

    centre: Point
    axis_deg: float
    side_mm: float
    tab_depth_mm: float
    outline: Polyline
    tab: Polyline
    hinge: tuple[Point, Point]
    foam: tuple[Polyline, Polyline, Polyline]
    over: Polyline
    under: Polyline
    turn_on_flap_deg: float
    rim_cover: Polyline

    @property
    def wrap_mm(self) -> float:
        """Tape beyond the positive trace's end: over the flap, round its free end, back to the centre."""
        return math.dist(*self.over) + math.dist(*self.under)


def flap_of(
    battery: BatteryMark,
    traces: Traces,
    hinge_deg: float,
    settings: Settings,
    lights: Iterable[LightMark] = (),
) -> Flap:
    """The push switch for these traces.

    Parameters
    ----------
    battery : BatteryMark
        Its centre is the cell's; the cell itself comes from `settings`.
    traces : Traces
        First points at the battery.
    hinge_deg : float
        Direction from the cell's centre to the hinge side, 0 = +x, 90 = down. [deg]
    lights : iterable of LightMark
        Bodies that the tab must keep clear of; it is made shorter where one is near.

    Raises
    ------
    ValueError
        If `hinge_deg` is not a finite number.
    """
    if not math.isfinite(hinge_deg):
        raise ValueError(f"hinge_deg must be a finite number, got {hinge_deg}")
    cell_mm = settings.cell.diameter_mm / 2
    half_mm = cell_mm + limit_of(settings, "battery-zone.round-cell")
    place = _Axes(battery.centre, hinge_deg)
    depth_mm = _tab_depth(place, half_mm, settings, lights)

    inner_mm = cell_mm + CELL_PLAY_MM
    foam = (
        place.box(-half_mm, half_mm, -half_mm, -inner_mm),  # the free end, all across
        place.box(-half_mm, -inner_mm, -inner_mm, half_mm),
        place.box(inner_mm, half_mm, -inner_mm, half_mm),
    )

    # The trace's end can lie a little beside the axis; the tape runs on parallel to the axis.
    end_across, end_along = place.back(traces.positive[0])
    free_end = place.at(end_across, -half_mm)
    coming_deg = math.degrees(
        math.atan2(
            traces.positive[1][1] - traces.positive[0][1], traces.positive[1][0] - traces.positive[0][0]
        )
    )
    turn = (coming_deg - hinge_deg + 180.0) % 360.0 - 180.0
    return Flap(
        centre=battery.centre,
        axis_deg=hinge_deg,
        side_mm=2 * half_mm,
        tab_depth_mm=depth_mm,
        outline=place.box(-half_mm, half_mm, -half_mm, half_mm),
        tab=place.box(-half_mm, half_mm, half_mm, half_mm + depth_mm),
        hinge=(place.at(-half_mm, half_mm), place.at(half_mm, half_mm)),
        foam=foam,
        over=(place.at(end_across, end_along), free_end),
        under=(free_end, place.at(end_across, 0.0)),
        turn_on_flap_deg=turn if abs(turn) > 1e-6 else 0.0,
        rim_cover=_rim_cover(battery.centre, traces, settings),
    )


def lights_under(flap: Flap, lights: Iterable[LightMark], settings: Settings) -> tuple[str, ...]:
    """Labels of the lights that flap or tab would lie on, where they are not trimmed: the battery zone
    is round and the flap is square, so its corners reach further."""
    half_mm = flap.side_mm / 2
    reach_mm = max(settings.light.length_mm, settings.light.width_mm) / 2
    place = _Axes(flap.centre, flap.axis_deg)
    covered = []
    for light in lights:
        across, along = place.back(light.centre)
        beside = abs(across) >= half_mm + reach_mm
        beyond = not -half_mm - reach_mm < along < half_mm + flap.tab_depth_mm + reach_mm
        if not beside and not beyond:
            covered.append(light.label)
    return tuple(covered)


def _tab_depth(place: _Axes, half_mm: float, settings: Settings, lights: Iterable[LightMark]) -> float:
    # A body may stand at any angle, so it counts as the disc round its corners.
    reach_mm = math.hypot(settings.light.length_mm, settings.light.width_mm) / 2 + TAB_CLEAR_OF_LIGHT_MM
    depth = TAB_DEPTH_MM
    for light in lights:
        across, along = place.back(light.centre)
        if along > half_mm and abs(across) < half_mm + reach_mm:
            depth = min(depth, along - reach_mm - half_mm)
    return max(depth, LEAST_TAB_DEPTH_MM)


def _rim_cover(centre: Point, traces: Traces, settings: Settings) -> Polyline:
    """A rectangle along the negative end run, about the place where it passes the cell's rim: from outside
    the can, which is positive, to inside the edge of its negative face."""
    cell_mm = settings.cell.diameter_mm / 2
    ring_mm = max(cell_mm - settings.cell.negative_face_mm / 2, 0.0)  # a part of one's own may not say
    inside_mm = ring_mm + COVER_BEYOND_FACE_MM
    start, towards = traces.negative[0], traces.negative[1]
    run_mm = math.dist(start, towards)
    ux, uy = (towards[0] - start[0]) / run_mm, (towards[1] - start[1]) / run_mm
    dx, dy = start[0] - centre[0], start[1] - centre[1]
    along = dx * ux + dy * uy
    beside = math.hypot(dx, dy) ** 2 - along**2
    # Where |start + s u - centre| = cell radius, going out; a run that starts outside has none.
    reach = cell_mm**2 - beside
    rim = -along + math.sqrt(reach) if reach > 0 else 0.0
    run = _Axes((start[0] + rim * ux, start[1] + rim * uy), math.degrees(math.atan2(uy, ux)))
    wide = traces.tape_width_mm / 2 + COVER_BESIDE_TAPE_MM
    return run.box(-wide, wide, -inside_mm, COVER_OUTSIDE_RIM_MM)


@dataclass(frozen=True, slots=True)
class _Axes:
    """Places told from an origin: `across` to the right of a heading, `along` it. [mm]"""

    origin: Point
    heading_deg: float

    def at(self, across_mm: float, along_mm: float) -> Point:
        c, s = math.cos(math.radians(self.heading_deg)), math.sin(math.radians(self.heading_deg))
        return (
            self.origin[0] + along_mm * c - across_mm * s,
            self.origin[1] + along_mm * s + across_mm * c,
        )

    def back(self, point: Point) -> Point:
        c, s = math.cos(math.radians(self.heading_deg)), math.sin(math.radians(self.heading_deg))
        dx, dy = point[0] - self.origin[0], point[1] - self.origin[1]
        return (-dx * s + dy * c, dx * c + dy * s)

    def box(self, across_a: float, across_b: float, along_a: float, along_b: float) -> Polyline:
        return (
            self.at(across_a, along_a),
            self.at(across_b, along_a),
            self.at(across_b, along_b),
            self.at(across_a, along_b),
        )
