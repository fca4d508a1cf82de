"""From one measured number to a problem in plain words, or to nothing.

In:    a `Finding`: what a measuring function saw, whether it holds or not.
Out:   a `Problem`, or None where the limit is kept beyond doubt.
Fails: KeyError when a finding names a case or a limit that its rule does not have.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from circuit.arrays import Floats
from circuit.layout import Level, Point, Problem
from circuit.lengths import FINEST_MM, HAND_STEP_MM, format_length, limit_length
from circuit.rules import LIMITS, limit_of
from circuit.rules.kinds import Rule
from circuit.settings import Settings, Units
from circuit.telling import listed

# A nanometre's worth of rounding must not turn "exactly at the limit" into a problem. [mm or deg]
EXACT = 1e-6
# A drawn line's direction, or its corner's angle, is as sure as its points are over this much of it: chosen. [mm]
ARM_MM = 10.0


@dataclass(frozen=True, slots=True)
class Finding:
    """One measure of one rule at one place.

    `limit_key` is the limit's key in the table; `case` the key of the words. `limit` is given only
    where the number to compare with is not the limit itself (a band round the cell's diameter).
    `lengths` and `words` fill further places in the words: lengths are written in the maker's units.
    """

    limit_key: str
    case: str
    about: tuple[str, ...]
    where_mm: Point
    measured: float
    uncertainty: float = 0.0
    limit: float | None = None
    at_least: bool | None = None
    lengths: Mapping[str, float] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)


def place_of(vector: Floats) -> Point:
    """A (2,) vector as a place. [mm]"""
    return (float(vector[0]), float(vector[1]))


def in_quadrature(*bounds: float) -> float:
    """The bound on a difference of independent marks, from the bound on each. [mm]

    A mark's bound holds in any direction, so it holds along the measured one.
    """
    return math.hypot(*bounds)


def shortfall(finding: Finding, settings: Settings) -> float:
    """By how much the limit is missed; below 0 where it is kept. [mm or deg]"""
    limit, at_least = _limit(finding, settings)
    return limit - finding.measured if at_least else finding.measured - limit


def level_of(finding: Finding, settings: Settings) -> Level | None:
    """must-fix: missed beyond the uncertainty; look-again: kept or missed within it; None: kept."""
    missed_by = shortfall(finding, settings)
    if missed_by - finding.uncertainty > EXACT:
        return "must-fix"
    if missed_by + finding.uncertainty > EXACT:
        return "look-again"
    return None


def judge(rule: Rule, finding: Finding, settings: Settings, *, drawn: bool = False) -> Problem | None:
    """The problem that a finding amounts to, with its advice; None where the limit is kept. `drawn`: the tape is the
    maker's own, who can lay it elsewhere."""
    level = level_of(finding, settings)
    if level is None:
        return None
    limit, _ = _limit(finding, settings)
    unit = "deg" if LIMITS[finding.limit_key].unit == "deg" else "mm"
    return Problem(
        name=rule.name,
        level=level,
        about=finding.about,
        where_mm=finding.where_mm,
        measured=finding.measured,
        uncertainty=finding.uncertainty,
        limit=limit,
        advice=_advice(rule, finding, settings, level, unit, drawn=drawn),
        unit=unit,
    )


def _limit(finding: Finding, settings: Settings) -> tuple[float, bool]:
    entry = LIMITS[finding.limit_key]
    limit = limit_of(settings, finding.limit_key) if finding.limit is None else finding.limit
    return limit, entry.at_least if finding.at_least is None else finding.at_least


def _advice(rule: Rule, finding: Finding, settings: Settings, level: Level, unit: str, *, drawn: bool) -> str:
    limit, _ = _limit(finding, settings)
    missed_by = max(0.0, shortfall(finding, settings))
    units = settings.units
    if unit == "deg":
        measured, limit_text, short = (f"{value:.0f}°" for value in (finding.measured, limit, missed_by))
    else:
        measured = _measured_text(finding.measured, limit, units)
        limit_text, short = limit_length(limit, units), _to_go(missed_by, finding.uncertainty, units)
    words = {
        "who": who_text(finding.about),
        "measured": measured,
        "limit": limit_text,
        "short": short,
        "tape": next((name for name in finding.about if name in ("positive", "negative")), ""),
        **{name: format_length(value, units) for name, value in finding.lengths.items()},
        **finding.words,
    }
    advice = rule.words[finding.case]
    seen = _sentence(advice.seen.format_map(words))
    if level == "must-fix":
        told = advice.own if advice.own and not drawn else advice.do
        do = told.format_map(words)
        if "{short}" in told and unit == "mm" and _shows(finding.uncertainty):
            do += f" (the reading is good to {length_up(finding.uncertainty, units)} here)"
        return f"{seen}. {do[:1].upper()}{do[1:]}." if ": " in seen else f"{seen}: {do}."
    if advice.look:
        return advice.look.format_map(words)
    good_to = f"{finding.uncertainty:.0f}°" if unit == "deg" else length_up(finding.uncertainty, units)
    return f"{seen}. The reading is good to {good_to} here, so it is too close to call: measure it before you tape."


def who_text(about: tuple[str, ...]) -> str:
    """'L1 and L2', 'the battery'; tapes are named by the words round it."""
    names = [name for name in about if name not in ("positive", "negative", "card")]
    names = [f"the {name}" if name in ("battery", "window") else name for name in names]
    return listed(names)


def length_up(mm: float, units: Units) -> str:
    """A length rounded up to what its unit shows, so that who follows it does not fall short."""
    step = FINEST_MM[units]
    return format_length(max(1, math.ceil(mm / step - EXACT)) * step, units)


def _to_go(missed_by: float, uncertainty: float, units: Units) -> str:
    """How far something has to go until its limit is kept beyond doubt. Rounded to what is nearest, as moves are, so
    that none is told as less than this; up where that would fall short of the limit itself. Of what was read off a
    photo never less than a hand can do."""
    step = FINEST_MM[units]
    if uncertainty > 0 and missed_by + uncertainty < HAND_STEP_MM[units]:
        return f"at least {format_length(HAND_STEP_MM[units], units)}"
    nearest = round((missed_by + uncertainty) / step) * step
    if nearest < missed_by or nearest == 0:
        return length_up(missed_by, units)
    return f"{'at least ' * _shows(uncertainty)}{format_length(nearest, units)}"


def _shows(uncertainty_mm: float) -> bool:
    """Is it told as more than nothing?"""
    return uncertainty_mm >= FINEST_MM["mm"] / 2


def _measured_text(measured: float, limit: float, units: Units) -> str:
    text = format_length(measured, units)
    if limit == 0 and measured > 0 and text == format_length(0.0, units):
        return f"{format_length(FINEST_MM[units], units)} or less"  # not 'just over 0.0 mm'
    if measured != limit and text == format_length(limit, units):
        return f"{'just under' if measured < limit else 'just over'} {text}"
    return text


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] if text.startswith("the ") else text
