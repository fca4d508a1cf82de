"""The push switch over the cell: flap, foam frame, clear tape, paper dot, and where the two tapes end in it.

In:    the battery's mark, the direction of the hinge, where the two end runs lie, the parts.
Out:   a `Switch`: outlines in card millimetres, lengths of the tape on the flap.
Fails: ValueError for a direction or a height that makes no switch.

Seen from above; `towards` points from the cell's middle to the hinge, along (u) is measured that way and across (v)
to its right:

      u = half + 10  tab   half + 4  ramp  half         lid        -half
              +--------------+--------------+
              |              |              +-- foam -- foam -- foam --.
     + tape ==|==============|==============|==========================|   over the lid, round the free end,
              |              |              |  foam  (   cell   ) foam |   back under it to past the middle
     - tape ==|--------------|--------------|------------====          |   on the card, copper up; bare ==
              |              |              +-- foam -- foam -- foam --'
              +--------------+--------------+                        free end

The side view, with the rise taken by an easy bend of the ramp:

        lid   =========================.
              foam |  cell   | foam     `.  ramp
     card ------------------------------  `======= tab, glued over the covered negative tape

Chosen where nothing else is said: worked out as plane geometry, not yet tried with paper.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from circuit.layout import BatteryMark, Layout, Point, Polyline, Traces
from circuit.settings import Settings

# The foam frame: its opening is the cell's size and this much play all round, its strips this wide.
CELL_PLAY_MM = 0.5
FOAM_STRIP_MM = 5.0
CORNER_CUT_MM = 6.0  # off each corner of lid and frame: the frame stays 2.8 mm wide there
# The tongue: seen from above the ramp takes this much for its rise and the tab this much to be glued by.
RAMP_MM = 6.0
TAB_MM = 4.0
TONGUE_WIDTH_MM = 16.0
TONGUE_BESIDE_LANE_MM = 3.0  # the tongue is at least this much wider than the lane, on each side
# Bare copper stays this far inside the rim: the can is positive and reaches round it, its lip is some 1.2 mm
# wide, the cell has 0.7 mm of play towards a corner, and a hand needs the rest.
BARE_INSIDE_RIM_MM = 2.5
LEAST_PAST_MIDDLE_MM = 3.0  # bare copper reaches this far to both sides of the cell's middle
MOST_PAST_MIDDLE_MM = 6.0
USUAL_PAST_MIDDLE_MM = 4.5
MOST_BESIDE_MIDDLE_MM = 4.0  # of a tape's centre line: farther out a press in the middle tips the cell
COVER_HAND_MM = 1.0  # the clear tape's edge is aimed this far inside its limit
COVER_BESIDE_TAPE_MM = 2.0
COVER_PAST_TAB_MM = 2.0
# The dot ends this far before the clear tape begins: on top of it the clear tape would carry the cell.
DOT_BEFORE_COVER_MM = 0.5
# Height of the foam above the cell's own where nobody says: both tapes, the dot and half a millimetre of air.
USUAL_OVER_CELL_MM = 0.8
NO_HINGE = -0.5  # cosine between two end runs: those that come from further apart share no side
SAME_POINT_MM = 1e-6  # arithmetic, not craft
FREE_END_MM = 0.4  # the flap's edge and the tape's own thickness, round which the tape goes


@dataclass(frozen=True, slots=True)
class SwitchShape:
    """What the parts alone decide, in millimetres along (u) and across (v) from the cell's middle.

    half_mm : of the lid. reach_mm : from the middle to the tab's outer edge, to which the end runs are straight.
    ramp_mm : where the ramp ends and the tab begins, from the middle. tongue_mm : the tongue's width.
    lid, outline : polygons, (u, v), not closed.
    """

    half_mm: float
    ramp_mm: float
    reach_mm: float
    tongue_mm: float
    lid: Polyline
    outline: Polyline


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
    first_point_mm : least and most that the traces begin beyond the middle, on the free end's side.
    end_run_mm : length of the straight end runs on the card's plan, from the first point to the tab's outer edge.
    rise_mm : from the card to the underside of the lid. ramp_flat_mm : the ramp's length in flat paper.
    wrap_mm : tape under the lid, from the free end to the tape's end.
    """

    centre: Point
    towards: Point
    shape: SwitchShape
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
    first_point_mm: tuple[float, float]
    end_run_mm: float
    rise_mm: float
    ramp_flat_mm: float
    wrap_mm: float

    @property
    def tongue_flat_mm(self) -> float:
        """The tongue in flat paper, as it is cut: the ramp's slope is longer than it looks from above."""
        return self.ramp_flat_mm + self.shape.reach_mm - self.shape.ramp_mm

    @property
    def beyond_trace_mm(self) -> float:
        """Positive tape that a trace's length on the card's plan leaves out: from its first point over the lid, round
        the free end and back under it, and what the ramp's slope takes more than it shows from above."""
        over_ramp = self.ramp_flat_mm - (self.shape.ramp_mm - self.shape.half_mm)
        start = self.end_run_mm - self.shape.reach_mm
        return self.shape.half_mm - start + FREE_END_MM + self.wrap_mm + over_ramp

    @property
    def tape_across_mm(self) -> float:
        """How far the positive tape's centre line lies right of the cell's middle, looking towards the hinge. [mm]"""
        return _Axes(self.centre, self.towards).back(self.over_mm[0])[1]

    @property
    def hinge_deg(self) -> float:
        """Direction from the cell's middle to the hinge, 0 = +x, 90 = down. [deg]"""
        return math.degrees(math.atan2(self.towards[1], self.towards[0]))

    @property
    def tape_on_flap_mm(self) -> float:
        """All positive tape from the tab's outer edge inwards: tongue, lid, round the free end, back under it."""
        return self.tongue_flat_mm + 2 * self.shape.half_mm + FREE_END_MM + self.wrap_mm


def shape_of(settings: Settings) -> SwitchShape:
    """The flap's shape for these parts, about the cell's middle."""
    half = settings.cell.diameter_mm / 2 + CELL_PLAY_MM + FOAM_STRIP_MM
    lane = settings.gap_mm + 2 * settings.tape_width_mm
    tongue = min(max(TONGUE_WIDTH_MM, lane + 2 * TONGUE_BESIDE_LANE_MM), 2 * half)
    ramp = half + RAMP_MM
    reach = ramp + TAB_MM
    beside = tongue / 2
    # A small cell's lid is hardly wider than the tongue: there the hinge side's corners are cut by less.
    far, near = half - CORNER_CUT_MM, max(half - CORNER_CUT_MM, beside)
    left = ((-half, -far), (-far, -half), (near, -half), (half, -near))
    lid = (*left, *((u, -v) for u, v in reversed(left)))
    tongue_left = ((half, -beside), (reach, -beside))
    side = _without_repeats((*left, *tongue_left))
    return SwitchShape(half, ramp, reach, tongue, lid, (*side, *((u, -v) for u, v in reversed(side))))


def first_point_range(settings: Settings, beside_mm: float) -> tuple[float, float]:
    """How far beyond the middle a tape may begin whose centre line passes `beside_mm` from it: least and most.
    The most is below the least where no bare copper long enough keeps clear of the rim."""
    bare = settings.cell.diameter_mm / 2 - BARE_INSIDE_RIM_MM
    corner = abs(beside_mm) + settings.tape_width_mm / 2
    most = math.sqrt(bare**2 - corner**2) if corner < bare else 0.0
    return LEAST_PAST_MIDDLE_MM, min(MOST_PAST_MIDDLE_MM, most)


def most_beside_mm(settings: Settings) -> float:
    """How far from the middle a tape's centre line may pass; 0 or less where no tape so wide suits the cell."""
    bare = settings.cell.diameter_mm / 2 - BARE_INSIDE_RIM_MM
    room = math.sqrt(max(bare**2 - LEAST_PAST_MIDDLE_MM**2, 0.0)) - settings.tape_width_mm / 2
    return min(MOST_BESIDE_MIDDLE_MM, room)


def beside_limit_mm(settings: Settings) -> float:
    """The same as a limit for both tapes. Where not even a lane through the cell's middle keeps it (small cells,
    wide tape), for the negative tape alone: it is then laid nearest to the middle."""
    return max(most_beside_mm(settings), 0.0)


def lane_at_range(settings: Settings) -> tuple[float, float]:
    """Where the lane's midline may pass, to the right of the cell's middle, looking towards the hinge with the
    positive tape on the left: least and most. [mm]

    Both tapes keep to `most_beside_mm` where they can; else the negative one alone does.
    """
    beside, offset = beside_limit_mm(settings), settings.trace_offset_mm
    return (offset - beside, beside - offset) if beside >= offset else (beside - offset, beside - offset)


def ramp_flat_mm(run_mm: float, rise_mm: float) -> float:
    """Paper that a ramp takes which rises by `rise_mm` over `run_mm` in two equal arcs, level at both ends. [mm]

    Each arc turns by 2 atan(rise / run): plane geometry. ValueError where it would be steeper than upright.
    """
    if run_mm <= 0 or rise_mm < 0 or not math.isfinite(rise_mm):
        raise ValueError(f"a ramp needs a run above 0 and a rise of 0 or more, got {run_mm} and {rise_mm}")
    if rise_mm == 0:
        return run_mm
    if rise_mm >= run_mm:  # upright between two bends: as long as going across and up
        return run_mm + rise_mm
    radius = (run_mm**2 + rise_mm**2) / (4 * rise_mm)
    return 4 * radius * math.atan(rise_mm / run_mm)


def switch_of(
    battery: BatteryMark,
    towards: Point,
    settings: Settings,
    *,
    lane_at_mm: float = 0.0,
    start_mm: float | None = None,
    positive_right: bool = False,
    rise_mm: float | None = None,
    clear_from_mm: float = math.inf,
) -> Switch:
    """The switch whose hinge lies in the direction `towards`.

    Parameters
    ----------
    towards : Point
        Vector from the cell's middle to the hinge; its length does not matter.
    lane_at_mm : float
        How far to the right of the cell's middle the lane's midline passes, looking towards the hinge. [mm]
    start_mm : float or None
        How far beyond the middle both tapes begin; None: in the middle of what is allowed. [mm]
    positive_right : bool
        The positive tape lies right of the negative, looking towards the hinge; the router lays it left.
    rise_mm : float or None
        Height of the foam frame; None: the cell's and `USUAL_OVER_CELL_MM`. [mm]
    clear_from_mm : float
        How far from the middle a light sits on the negative end run, where one does: no clear tape from there. [mm]

    Raises
    ------
    ValueError
        For a direction of length 0, or a figure that is not finite.
    """
    size = math.hypot(*towards)
    if not 0 < size < math.inf or not math.isfinite(lane_at_mm):
        raise ValueError(
            f"a switch needs a direction and a finite place of its lane, got {towards}, {lane_at_mm}"
        )
    shape = shape_of(settings)
    place = _Axes(battery.centre, (towards[0] / size, towards[1] / size))
    half, half_tape = shape.half_mm, settings.tape_width_mm / 2
    rise = settings.cell.height_mm + USUAL_OVER_CELL_MM if rise_mm is None else rise_mm
    side = 1.0 if positive_right else -1.0
    positive_at = lane_at_mm + side * settings.trace_offset_mm
    negative_at = lane_at_mm - side * settings.trace_offset_mm

    first = first_point_range(settings, negative_at)
    start = _usual(first) if start_mm is None else start_mm
    bare = _usual_cover(first, settings, negative_at)
    lid_range = first_point_range(settings, positive_at)
    lid_end, lid_bare = _usual(lid_range), _usual_cover(lid_range, settings, positive_at)
    cover_end = max(min(shape.reach_mm + COVER_PAST_TAB_MM, clear_from_mm), shape.ramp_mm)
    beside = shape.tongue_mm / 2
    wide = half_tape + COVER_BESIDE_TAPE_MM
    return Switch(
        centre=battery.centre,
        towards=place.towards,
        shape=shape,
        outline_mm=place.all(shape.outline),
        lid_mm=place.all(shape.lid),
        ramp_mm=place.box(half, shape.ramp_mm, -beside, beside),
        tab_mm=place.box(shape.ramp_mm, shape.reach_mm, -beside, beside),
        hinge_mm=(place.at(half, -beside), place.at(half, beside)),
        foam_mm=_foam(shape, place),
        opening_mm=place.box(-_inside(shape), _inside(shape), -_inside(shape), _inside(shape)),
        dot_mm=2 * max(bare - DOT_BEFORE_COVER_MM, 0.0),
        bare_mm=place.box(-start, bare, negative_at - half_tape, negative_at + half_tape),
        contact_mm=place.box(-lid_bare, lid_end, positive_at - half_tape, positive_at + half_tape),
        cover_mm=place.box(bare, cover_end, negative_at - wide, negative_at + wide),
        lid_cover_mm=place.box(-half, -lid_bare, positive_at - wide, positive_at + wide),
        over_mm=(place.at(shape.reach_mm, positive_at), place.at(-half, positive_at)),
        under_mm=(place.at(-half, positive_at), place.at(lid_end, positive_at)),
        first_point_mm=first,
        end_run_mm=start + shape.reach_mm,
        rise_mm=rise,
        ramp_flat_mm=ramp_flat_mm(shape.ramp_mm - half, rise),
        wrap_mm=half + lid_end,
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
    size = math.hypot(*towards)
    place = _Axes(battery.centre, (towards[0] / size, towards[1] / size))
    (_, positive), (past, negative) = place.back(start), place.back(other_start)
    half_body = settings.light.width_mm / 2
    seen = [place.back(light.centre) for light in layout.lights]
    # A light that the negative end run itself carries, past the tab.
    on_run = [
        along - half_body
        for along, across in seen
        if along > 0 and abs(across - negative) < settings.gap_mm * 2
    ]
    return switch_of(
        battery,
        towards,
        settings,
        lane_at_mm=(positive + negative) / 2,
        start_mm=max(-past, 0.0),
        positive_right=positive > negative,
        rise_mm=rise_mm,
        clear_from_mm=min(on_run, default=math.inf),
    )


def on_card(switch: Switch | None, positive: Polyline) -> Polyline:
    """What of the positive trace lies on the card: from the tab's outer edge on. All of it without a switch, or where
    it does not run straight to there."""
    if switch is None or len(positive) < 2:
        return positive
    place = _Axes(switch.centre, switch.towards)
    (begins, _), (ends, across) = place.back(positive[0]), place.back(positive[1])
    if not begins < switch.shape.reach_mm < ends:
        return positive
    return (place.at(switch.shape.reach_mm, across), *positive[1:])


def _first_run(line: Polyline) -> tuple[Point, Point] | None:
    """Where a trace begins, and its first run's direction."""
    for point in line[1:]:
        run = math.dist(line[0], point)
        if run > SAME_POINT_MM:
            return line[0], ((point[0] - line[0][0]) / run, (point[1] - line[0][1]) / run)
    return None


def _usual(allowed: tuple[float, float]) -> float:
    least, most = allowed
    return max(min(USUAL_PAST_MIDDLE_MM, most), least)


def _usual_cover(allowed: tuple[float, float], settings: Settings, beside_mm: float) -> float:
    """Where the clear tape is to begin, from the middle: a hand's error short of where it has to."""
    bare = settings.cell.diameter_mm / 2 - BARE_INSIDE_RIM_MM
    corner = abs(beside_mm) + settings.tape_width_mm / 2
    limit = math.sqrt(bare**2 - corner**2) if corner < bare else 0.0
    return max(limit - COVER_HAND_MM, min(allowed[0] + COVER_HAND_MM / 2, limit), allowed[0])


def _inside(shape: SwitchShape) -> float:
    return shape.half_mm - FOAM_STRIP_MM


def _foam(shape: SwitchShape, place: _Axes) -> tuple[Polyline, Polyline, Polyline, Polyline]:
    """Four strips, their corners cut like the lid's: the two across run the whole width, the others fit between."""
    half, inner = shape.half_mm, _inside(shape)
    (_, far), (near, _) = shape.lid[-1], shape.lid[2]
    strips: tuple[Polyline, ...] = (
        ((-half, -half), (-inner, -half), (-inner, half), (-half, half)),
        ((inner, -half), (half, -half), (half, half), (inner, half)),
        ((-inner, -half), (inner, -half), (inner, -inner), (-inner, -inner)),
        ((-inner, inner), (inner, inner), (inner, half), (-inner, half)),
    )
    # Beyond a cut corner |u| + |v| is more than along the cut.
    cuts = (
        (-1.0, -1.0, half + far),
        (-1.0, 1.0, half + far),
        (1.0, -1.0, half + near),
        (1.0, 1.0, half + near),
    )
    cut = []
    for strip in strips:
        for u, v, most in cuts:
            strip = _cut_off(strip, u, v, most)
        cut.append(place.all(strip))
    return (cut[0], cut[1], cut[2], cut[3])


def _cut_off(ring: Polyline, u: float, v: float, most: float) -> Polyline:
    """The part of a convex outline where u * along + v * across is `most` at most."""
    kept: list[Point] = []
    for (ax, ay), (bx, by) in zip((ring[-1], *ring[:-1]), ring, strict=True):
        over_a, over_b = u * ax + v * ay - most, u * bx + v * by - most
        if over_a * over_b < 0:
            share = over_a / (over_a - over_b)
            kept.append((ax + share * (bx - ax), ay + share * (by - ay)))
        if over_b <= 0:
            kept.append((bx, by))
    return tuple(kept)


def _without_repeats(ring: Polyline) -> Polyline:
    return tuple(point for i, point in enumerate(ring) if i == 0 or point != ring[i - 1])


@dataclass(frozen=True, slots=True)
class _Axes:
    """Places told from an origin: `along` a unit vector, `across` to its right. [mm]"""

    origin: Point
    towards: Point

    def at(self, along_mm: float, across_mm: float) -> Point:
        x, y = self.towards
        return (self.origin[0] + along_mm * x - across_mm * y, self.origin[1] + along_mm * y + across_mm * x)

    def back(self, point: Point) -> Point:
        """Along and across of a place on the card."""
        x, y = self.towards
        dx, dy = point[0] - self.origin[0], point[1] - self.origin[1]
        return (dx * x + dy * y, dy * x - dx * y)

    def all(self, ring: Polyline) -> Polyline:
        return tuple(self.at(along, across) for along, across in ring)

    def box(self, along_a: float, along_b: float, across_a: float, across_b: float) -> Polyline:
        return self.all(((along_a, across_a), (along_b, across_a), (along_b, across_b), (along_a, across_b)))
