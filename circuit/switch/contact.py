"""How far the two tapes reach under and over the cell: bare copper long enough, yet clear of the rim.

In:    the parts, how far a tape's centre line passes beside the cell's middle.
Out:   lengths along the tape from the cell's middle, in millimetres.
Fails: never; a range whose most is below its least holds nothing.

The can is positive and reaches round the rim, so what is bare lies inside a circle; a tape is a strip across it, and
its corners decide.
"""

from __future__ import annotations

import math

from circuit.settings import Settings

# Bare copper stays this far inside the rim: the can is positive and reaches round it, its lip is some 1.2 mm
# wide, the cell has 0.7 mm of play towards a corner, and a hand needs the rest.
BARE_INSIDE_RIM_MM = 2.5
LEAST_PAST_MIDDLE_MM = 3.0  # bare copper reaches this far to both sides of the cell's middle
MOST_PAST_MIDDLE_MM = 6.0
USUAL_PAST_MIDDLE_MM = 4.5
MOST_BESIDE_MIDDLE_MM = 4.0  # of a tape's centre line: farther out a press in the middle tips the cell
COVER_HAND_MM = 1.0  # the clear tape's edge is aimed this far inside its limit


def first_point_range(settings: Settings, beside_mm: float) -> tuple[float, float]:
    """How far beyond the middle a tape may begin whose centre line passes `beside_mm` from it: least and most.
    The most is below the least where no bare copper long enough keeps clear of the rim."""
    return LEAST_PAST_MIDDLE_MM, min(MOST_PAST_MIDDLE_MM, _room_along(settings, beside_mm))


def most_beside_mm(settings: Settings) -> float:
    """How far from the middle a tape's centre line may pass; 0 or less where no tape so wide suits the cell."""
    bare = _bare_radius(settings)
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


def usual_end_mm(settings: Settings, beside_mm: float) -> float:
    """How far beyond the middle a tape ends where nobody says: in the middle of what is allowed."""
    least, most = first_point_range(settings, beside_mm)
    return max(min(USUAL_PAST_MIDDLE_MM, most), least)


def usual_cover_mm(settings: Settings, beside_mm: float) -> float:
    """How far from the middle the clear tape is to begin: a hand's error short of where it has to."""
    limit, least = _room_along(settings, beside_mm), LEAST_PAST_MIDDLE_MM
    return max(limit - COVER_HAND_MM, min(least + COVER_HAND_MM / 2, limit), least)


def _bare_radius(settings: Settings) -> float:
    return settings.cell.diameter_mm / 2 - BARE_INSIDE_RIM_MM


def _room_along(settings: Settings, beside_mm: float) -> float:
    """From the middle to where a tape's outer corner meets the circle in which copper may be bare."""
    bare, corner = _bare_radius(settings), abs(beside_mm) + settings.tape_width_mm / 2
    return math.sqrt(bare**2 - corner**2) if corner < bare else 0.0
