"""The push switch over the cell: flap, foam frame, clear tape, paper dot, and where the two tapes end in it.

One value, `Switch`, serves router, checker, stack, tape list, electrics and every picture. Its parts:

    axes      places along and across the direction to the hinge
    flap      lid and tongue, bent or upright: outlines, flat paper
    contact   how far bare copper may and must reach under a round cell
    foam      the frame on four sides
    tapes     both tapes with their clear tape and the dot
    whole     all of them together on one card, and the switch that two traces ask for

Seen from above; `towards` points from the cell's middle to the hinge, along (u) is measured that way and across (v)
to its right; with the bent tongue:

      u = half + 10  tab   half + 4  ramp  half         lid        -half
              +--------------+--------------+
              |              |              +-- foam -- foam -- foam --.
     + tape ==|==============|==============|==========================|   over the lid, round the free end,
              |              |              |  foam  (   cell   ) foam |   back under it to past the middle
     - tape ==|--------------|--------------|------------====          |   on the card, copper up; bare ==
              |              |              +-- foam -- foam -- foam --'
              +--------------+--------------+                        free end
"""

from circuit.switch.contact import (
    LEAST_PAST_MIDDLE_MM,
    MOST_BESIDE_MIDDLE_MM,
    MOST_PAST_MIDDLE_MM,
    beside_limit_mm,
    first_point_range,
    lane_at_range,
    most_beside_mm,
)
from circuit.switch.flap import (
    CORNER_CUT_MM,
    FOAM_STRIP_MM,
    TONGUE_BESIDE_LANE_MM,
    FlapShape,
    bent_ramp_mm,
    shape_of,
)
from circuit.switch.tapes import COVER_BESIDE_TAPE_MM, COVER_PAST_TAB_MM, EndRuns
from circuit.switch.whole import NO_HINGE, Switch, on_card, switch_of, switch_on

__all__ = [
    "CORNER_CUT_MM",
    "COVER_BESIDE_TAPE_MM",
    "COVER_PAST_TAB_MM",
    "FOAM_STRIP_MM",
    "LEAST_PAST_MIDDLE_MM",
    "MOST_BESIDE_MIDDLE_MM",
    "MOST_PAST_MIDDLE_MM",
    "NO_HINGE",
    "TONGUE_BESIDE_LANE_MM",
    "EndRuns",
    "FlapShape",
    "Switch",
    "bent_ramp_mm",
    "beside_limit_mm",
    "first_point_range",
    "lane_at_range",
    "most_beside_mm",
    "on_card",
    "shape_of",
    "switch_of",
    "switch_on",
]
