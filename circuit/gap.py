"""How a light lies on its two tapes: the gap that suits it, the tape under its ends, how far it may stray.

In:    the parts in use.
Out:   lengths in mm.
"""

from __future__ import annotations

from circuit.part_kinds import LightPart
from circuit.settings import Settings

# A 5 mm body over a 2.5 mm gap has 1.25 mm of tape under each pad row when it sits on the midline.
# The limits below let it stray by 40 % of that (0.5 mm) and keep 60 % (0.75 mm). A smaller body has
# less tape under it, so it may stray by the same share only: chosen.
_STRAY_SHARE = 0.4
_KEPT_SHARE = 0.6
OFF_MIDLINE_MM = 0.5
OVERLAP_MM = 0.75
LEAST_OVERLAP_MM = 0.5  # for any part: less is lost with a hand's slip. Chosen
LEAST_GAP_MM, _USUAL_GAP_MM = 1.5, 2.5
_USUAL_UNDER_MM = 2.5  # of a 5 mm body over the usual gap lies on tape, both ends together


def tape_under_pads_mm(settings: Settings) -> float:
    """Tape under one pad row of a light that sits on the midline: 1.25 mm for a 5 mm body over
    2.5 mm; 0 or less when the body does not reach across the gap. [mm]"""
    return min((settings.light.length_mm - settings.gap_mm) / 2, settings.tape_width_mm)


def best_gap_mm(light: LightPart) -> float:
    """The gap that suits a light best: as much tape under its ends as a 5 mm body has, no gap too narrow. [mm]"""
    return min(_USUAL_GAP_MM, max(LEAST_GAP_MM, light.length_mm - _USUAL_UNDER_MM))


def most_stray_mm(settings: Settings) -> float:
    """How far such a light may sit off the midline. [mm]"""
    under = tape_under_pads_mm(settings)
    return max(0.0, min(OFF_MIDLINE_MM, _STRAY_SHARE * under, under - least_overlap_mm(settings)))


def least_overlap_mm(settings: Settings) -> float:
    """How much tape must lie under each of its ends. [mm]"""
    return max(LEAST_OVERLAP_MM, min(OVERLAP_MM, _KEPT_SHARE * tape_under_pads_mm(settings)))
