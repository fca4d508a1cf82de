"""The whole switch of one card, in card millimetres, and the switch that two traces ask for.

In:    the battery's mark, the direction of the hinge, how the end runs lie, the parts.
Out:   a `Switch`.
Fails: ValueError for a direction or a height that makes no switch.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from circuit.layout import BatteryMark, Layout, Point, Polyline, Tongue, Traces
from circuit.settings import Settings
from circuit.switch.axes import Axes, axes_towards
from circuit.switch.flap import FlapShape, shape_of
from circuit.switch.foam import foam_frame
from circuit.switch.tapes import EndRuns, switch_tapes

# Height of the foam above the cell's own where nobody says: both tapes, the dot and half a millimetre of air.
USUAL_OVER_CELL_MM = 0.8
NO_HINGE = -0.5  # cosine between two end runs: those that come from further apart share no side
SAME_POINT_MM = 1e-6  # arithmetic, not craft
FREE_END_MM = 0.4  # the flap's edge and the tape's own thickness, round which the tape goes


@dataclass(frozen=True, slots=True)
class Switch:
    """The push switch of one card. Outlines are in card millimetres, not closed, as seen from above.

    towards : unit vector from the cell's middle to the hinge.
    hinge_mm : where the lid ends and the ramp begins.
    foam_mm : the four pieces of the frame: free end, hinge side, and the two between them.
    opening_mm : the frame's inside. dot_mm : diameter of the paper dot under the negative tape, at the middle.
    bare_mm : the bare copper of the negative tape under the cell; contact_mm : of the positive tape under the lid.
    cover_mm, lid_cover_mm : clear tape over the negative tape on the card, and over the positive under the lid.
    over_mm : the positive tape's centre line on the flap's outer face, from the tab's outer edge to the free end.
    under_mm : the same under the lid, from the free end to its end past the middle.
    end_run_mm : length of the straight end runs on the card's plan, from the first point to the tab's outer edge.
    rise_mm : from the card to the underside of the lid. ramp_flat_mm : the ramp's length in flat paper.
    wrap_mm : tape under the lid, from the free end to the tape's end.
    """

    centre: Point
    towards: Point
    shape: FlapShape
    outline_mm: Polyline
    lid_mm: Polyline
    ramp_mm: Polyline
    tab_mm: Polyline
    hinge_mm: tuple[Point, Point]
    foam_mm: tuple[Polyline, Polyline, Polyline, Polyline]
    opening_mm: Polyline
    dot_mm: float
    bare_mm: Polyline
    contact_mm: Polyline
    cover_mm: Polyline
    lid_cover_mm: Polyline
    over_mm: tuple[Point, Point]
    under_mm: tuple[Point, Point]
    end_run_mm: float
    rise_mm: float
    ramp_flat_mm: float
    wrap_mm: float

    @property
    def tongue(self) -> Tongue:
        """How the flap comes down to the card; `upright` is the weaker way."""
        return self.shape.tongue

    @property
    def tongue_flat_mm(self) -> float:
        """The tongue in flat paper, as it is cut: the ramp's slope is longer than it looks from above."""
        return self.ramp_flat_mm + self.shape.reach_mm - self.shape.ramp_mm

    @property
    def past_middle_mm(self) -> float:
        """How far beyond the cell's middle the negative tape begins."""
        return self.end_run_mm - self.shape.reach_mm

    @property
    def beyond_trace_mm(self) -> float:
        """Positive tape that a trace's length on the card's plan leaves out: from its first point over the lid, round
        the free end and back under it, and what the ramp's slope takes more than it shows from above."""
        over_ramp = self.ramp_flat_mm - (self.shape.ramp_mm - self.shape.half_mm)
        return self.shape.half_mm - self.past_middle_mm + FREE_END_MM + self.wrap_mm + over_ramp

    @property
    def tape_across_mm(self) -> float:
        """How far the positive tape's centre line lies right of the cell's middle, looking towards the hinge. [mm]"""
        return Axes(self.centre, self.towards).back(self.over_mm[0])[1]

    @property
    def hinge_deg(self) -> float:
        """Direction from the cell's middle to the hinge, 0 = +x, 90 = down. [deg]"""
        return math.degrees(math.atan2(self.towards[1], self.towards[0]))

    @property
    def tape_on_flap_mm(self) -> float:
        """All positive tape from the tab's outer edge inwards: tongue, lid, round the free end, back under it."""
        return self.tongue_flat_mm + 2 * self.shape.half_mm + FREE_END_MM + self.wrap_mm


def switch_of(
    battery: BatteryMark,
    towards: Point,
    settings: Settings,
    *,
    runs: EndRuns | None = None,
    rise_mm: float | None = None,
    tongue: Tongue = "bent",
) -> Switch:
    """The switch whose hinge lies in the direction `towards`, a vector from the cell's middle of any length.

    `runs` None: the lane through the cell's middle. `rise_mm`: height of the foam frame; None: the cell's and
    `USUAL_OVER_CELL_MM`. ValueError for a direction of length 0, or a figure that is not finite.
    """
    shape = shape_of(settings, tongue)
    place = axes_towards(battery.centre, towards)
    tapes = switch_tapes(shape, runs or EndRuns(), settings)
    rise = settings.cell.height_mm + USUAL_OVER_CELL_MM if rise_mm is None else rise_mm
    half, inside, beside = shape.half_mm, shape.inside_mm, shape.tongue_mm / 2
    return Switch(
        centre=battery.centre,
        towards=place.towards,
        shape=shape,
        outline_mm=place.all(shape.outline),
        lid_mm=place.all(shape.lid),
        ramp_mm=place.box(half, shape.ramp_mm, -beside, beside),
        tab_mm=place.box(shape.ramp_mm, shape.reach_mm, -beside, beside),
        hinge_mm=(place.at(half, -beside), place.at(half, beside)),
        foam_mm=foam_frame(shape, place),
        opening_mm=place.box(-inside, inside, -inside, inside),
        dot_mm=tapes.dot_mm,
        bare_mm=place.box(*tapes.bare),
        contact_mm=place.box(*tapes.contact),
        cover_mm=place.box(*tapes.cover),
        lid_cover_mm=place.box(*tapes.lid_cover),
        over_mm=(place.at(shape.reach_mm, tapes.positive_v), place.at(-half, tapes.positive_v)),
        under_mm=(place.at(-half, tapes.positive_v), place.at(tapes.lid_end, tapes.positive_v)),
        end_run_mm=tapes.start + shape.reach_mm,
        rise_mm=rise,
        ramp_flat_mm=shape.ramp_flat_mm(rise),
        wrap_mm=half + tapes.lid_end,
    )


def switch_on(
    layout: Layout, traces: Traces | None, settings: Settings, rise_mm: float | None = None
) -> Switch | None:
    """The switch that these traces ask for; None without traces or a battery circle, or where the two tapes come
    to it from different sides. `rise_mm`: height of the foam frame, as in `switch_of`."""
    battery = layout.battery
    if traces is None or battery is None:
        return None
    runs = [_first_run(line) for line in (traces.positive, traces.negative)]
    if runs[0] is None or runs[1] is None:
        return None
    (start, one), (other_start, other) = runs[0], runs[1]
    if one[0] * other[0] + one[1] * other[1] < NO_HINGE:
        return None
    towards = (one[0] + other[0], one[1] + other[1])
    place = axes_towards(battery.centre, towards)
    (_, positive), (past, negative) = place.back(start), place.back(other_start)
    lies = EndRuns(
        lane_at_mm=(positive + negative) / 2,
        start_mm=max(-past, 0.0),
        positive_right=positive > negative,
        clear_from_mm=_light_on_run(layout, place, negative, settings),
    )
    return switch_of(battery, towards, settings, runs=lies, rise_mm=rise_mm, tongue=traces.tongue)


def on_card(switch: Switch | None, positive: Polyline) -> Polyline:
    """What of the positive trace lies on the card: from the tab's outer edge on. All of it without a switch, or where
    it does not run straight to there."""
    if switch is None or len(positive) < 2:
        return positive
    place = Axes(switch.centre, switch.towards)
    (begins, _), (ends, across) = place.back(positive[0]), place.back(positive[1])
    if not begins < switch.shape.reach_mm < ends:
        return positive
    return (place.at(switch.shape.reach_mm, across), *positive[1:])


def _light_on_run(layout: Layout, place: Axes, negative_v: float, settings: Settings) -> float:
    """How far from the middle the first light's body begins that the negative end run itself carries, past the tab;
    endless without one. [mm]"""
    seen = (place.back(light.centre) for light in layout.lights)
    on_run = (u for u, v in seen if u > 0 and abs(v - negative_v) < settings.gap_mm * 2)
    return min(on_run, default=math.inf) - settings.light.width_mm / 2


def _first_run(line: Polyline) -> tuple[Point, Point] | None:
    """Where a trace begins, and its first run's direction."""
    for point in line[1:]:
        run = math.dist(line[0], point)
        if run > SAME_POINT_MM:
            return line[0], ((point[0] - line[0][0]) / run, (point[1] - line[0][1]) / run)
    return None
