"""Can tapes so far apart bridge such a light at all?"""

from __future__ import annotations

from circuit.gap import LEAST_GAP_MM, LEAST_OVERLAP_MM, best_gap_mm, tape_under_pads_mm
from circuit.lengths import format_length
from circuit.rules import limit_of
from circuit.settings import Settings


def gap_trouble(settings: Settings) -> tuple[str, str] | None:
    """What is wrong with tapes that can't bridge such a light at all, and what to do; None where they can."""
    light, best, units = settings.light, best_gap_mm(settings.light), settings.units
    gap = format_length(settings.gap_mm, units)
    least = format_length(LEAST_OVERLAP_MM, units)
    if min((light.length_mm - best) / 2, settings.tape_width_mm) < LEAST_OVERLAP_MM:
        return (
            f"A {light.name} light is {format_length(light.length_mm, units)} long, too small for this tape, whose "
            f"gap is {format_length(LEAST_GAP_MM, units)} or more: each end needs {least} of tape under it",
            "use longer lights",
        )
    use = f"use a gap of {format_length(best, units)}"
    if settings.gap_mm < max(
        limit_of(settings, "light-not-bridged.gap"), limit_of(settings, "traces-too-close")
    ):
        return f"A gap of {gap} between the tapes is too narrow, so they may touch", use
    under = tape_under_pads_mm(settings)
    if under < limit_of(settings, "light-not-bridged.overlap"):
        reach = f"only {format_length(under, units)} of tape lies" if under > 0 else "no tape lies"
        return (
            f"With a gap of {gap}, {reach} under each end of a {light.name} light, which needs {least}",
            use,
        )
    return None
