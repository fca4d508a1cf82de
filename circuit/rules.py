"""The rules of a light-up card, in one table: name, limits, unit, how measured, what to tell the maker.

In:    nothing; the table is data. `limit_of` takes the maker's `Settings`.
Out:   `RULES`, one `Rule` per name; `limit_of(settings, key)`, the limit in force.
Fails: `UsageError` for a limit of the maker's own that no rule has, or that is no length;
       KeyError for a key that the table does not know (a programming mistake).

Limits are edge to edge in millimetres unless the key says degrees. A maker's own limits come in
as `Settings.limits`, keyed like the table: "rule" for a rule's single limit, "rule.part" where
a rule has several.

Adding a rule: one entry in `RULES`, and one in `circuit.check.measures`, which says what measures it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from circuit.errors import UsageError
from circuit.layout import Tongue
from circuit.lengths import format_length
from circuit.part_kinds import LightPart
from circuit.polyline import SHARPEST_FOLD_DEG
from circuit.settings import ROUND_CELL_MM, Settings
from circuit.switch import (
    LEAST_PAST_MIDDLE_MM,
    MOST_BESIDE_MIDDLE_MM,
    MOST_PAST_MIDDLE_MM,
    beside_limit_mm,
    shape_of,
)

LimitUnit = Literal["mm", "deg", "tape widths"]


@dataclass(frozen=True, slots=True)
class Limit:
    """One number of a rule. `key` is what a maker overrides; `at_least` False: an upper bound.

    `for_part`, where there is one, gives the default for the parts in use (small lights).
    """

    key: str
    default: float
    at_least: bool = True
    unit: LimitUnit = "mm"
    for_part: Callable[[Settings], float] | None = None


@dataclass(frozen=True, slots=True)
class RuleWords:
    """What a maker reads: `seen` says what was measured, `do` what mends it; `look` is said in place of both where the
    limit lies within the uncertainty for another reason than the reading's.

    All are templates. Every one may use {who}, {measured}, {limit}, {short} (by how much the
    limit is missed, rounded up to what a ruler shows) and the words its measuring function adds.
    """

    seen: str
    do: str
    look: str = ""


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of the table; `words` maps a case of the rule to its words."""

    name: str
    how: str
    limits: tuple[Limit, ...]
    words: Mapping[str, RuleWords]
    needs_traces: bool = False


# A 5 mm body over a 2.5 mm gap has 1.25 mm of tape under each pad row when it sits on the midline.
# The limits below let it stray by 40 % of that (0.5 mm) and keep 60 % (0.75 mm). A smaller body has
# less tape under it, so it may stray by the same share only: chosen.
_STRAY_SHARE = 0.4
_KEPT_SHARE = 0.6
_OFF_MIDLINE_MM = 0.5
_OVERLAP_MM = 0.75
LEAST_OVERLAP_MM = 0.5  # for any part: less is lost with a hand's slip. Chosen
_LEAST_GAP_MM, _USUAL_GAP_MM = 1.5, 2.5
_USUAL_UNDER_MM = 2.5  # of a 5 mm body over the usual gap lies on tape, both ends together


def tape_under_pads_mm(settings: Settings) -> float:
    """Tape under one pad row of a light that sits on the midline: 1.25 mm for a 5 mm body over
    2.5 mm; 0 or less when the body does not reach across the gap. [mm]"""
    return min((settings.light.length_mm - settings.gap_mm) / 2, settings.tape_width_mm)


def best_gap_mm(light: LightPart) -> float:
    """The gap that suits a light best: as much tape under its ends as a 5 mm body has, no gap too narrow. [mm]"""
    return min(_USUAL_GAP_MM, max(_LEAST_GAP_MM, light.length_mm - _USUAL_UNDER_MM))


def gap_trouble(settings: Settings) -> tuple[str, str] | None:
    """What is wrong with tapes that can't bridge such a light at all, and what to do; None where they can."""
    light, best, units = settings.light, best_gap_mm(settings.light), settings.units
    gap = format_length(settings.gap_mm, units)
    least = format_length(LEAST_OVERLAP_MM, units)
    if min((light.length_mm - best) / 2, settings.tape_width_mm) < LEAST_OVERLAP_MM:
        return (
            f"A {light.name} light is {format_length(light.length_mm, units)} long, too small for this tape, whose "
            f"gap is {format_length(_LEAST_GAP_MM, units)} or more: each end needs {least} of tape under it",
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


def _off_midline(settings: Settings) -> float:
    under = tape_under_pads_mm(settings)
    return max(0.0, min(_OFF_MIDLINE_MM, _STRAY_SHARE * under, under - _overlap(settings)))


def _overlap(settings: Settings) -> float:
    return max(LEAST_OVERLAP_MM, min(_OVERLAP_MM, _KEPT_SHARE * tape_under_pads_mm(settings)))


# Every default limit below: chosen with makers of such cards, common practice, no source, unless a
# line says otherwise.
RULES: tuple[Rule, ...] = (
    Rule(
        "light-not-bridged",
        how="across the lane at each light: its centre to the midline, the gap and the tape under each "
        "pad row along the whole body, and how far both tapes run straight and side by side",
        limits=(
            Limit("light-not-bridged.off-midline", _OFF_MIDLINE_MM, at_least=False, for_part=_off_midline),
            Limit("light-not-bridged.overlap", _OVERLAP_MM, for_part=_overlap),
            Limit("light-not-bridged.gap", _LEAST_GAP_MM),
            # Straight beside the whole body: its size along the lane.
            Limit("light-not-bridged.straight", 5.0, for_part=lambda settings: settings.light.width_mm),
            # Over a 5 mm body this changes the gap by 0.4 mm; gap and overlap are measured at both ends as well.
            Limit("light-not-bridged.lean-deg", 5.0, at_least=False, unit="deg"),
        ),
        words={
            "missed": RuleWords(
                "{who} does not sit across the two tapes but {measured} off the middle between them",
                "lay the positive tape on one side of it and the negative on the other, {limit} off the middle at most",
            ),
            "off-midline": RuleWords(
                "{who} is {measured} off the middle between the two tapes; {limit} is allowed",
                "shift the tapes or the light by {short}",
            ),
            "straight": RuleWords(
                "Only {measured} of the tape beside {who} runs straight; its body needs {limit}",
                "keep both tapes straight past the whole light",
            ),
            "lean": RuleWords(
                "The two tapes are not side by side at {who}: they lean {measured} to each other, {limit} is allowed",
                "lay them parallel there",
            ),
            "gap": RuleWords(
                "The two tapes are only {measured} apart under {who}; they need {limit} or they may touch under it",
                "lay them {short} further apart there",
            ),
            "no-gap": RuleWords(
                "The two tapes touch under {who}; they need to be {limit} apart there",
                "lay them {short} further apart",
            ),
            "overlap": RuleWords(
                "Only {measured} of tape lies under one side of {who}; its pads need {limit}",
                "bring the {tape} tape {short} closer to the light's middle",
            ),
            "no-overlap": RuleWords(
                "The {tape} tape does not reach under {who}; its pads need {limit} of tape",
                "bring that tape {short} closer to the light's middle",
            ),
            "unsuited": RuleWords("{trouble}", "{remedy}"),
        },
        needs_traces=True,
    ),
    Rule(
        "traces-too-close",
        how="the smallest distance between the edges of the positive and the negative tape, outside the cell's circle",
        limits=(Limit("traces-too-close", 1.5),),
        words={
            "close": RuleWords(
                "The positive and the negative tape are only {measured} apart here; they need {limit}",
                "lay one of them {short} further away",
            ),
            "touch": RuleWords(
                "The positive and the negative tape touch or cross here, which drains the cell; they need {limit}",
                "lay one of them another way",
            ),
        },
        needs_traces=True,
    ),
    Rule(
        "trace-overlaps-itself",
        how="the smallest distance between the edges of two parts of one tape that are more than so many tape widths "
        "apart along it; the two arms of one fold are exempt",
        limits=(
            Limit("trace-overlaps-itself", 1.0),
            Limit("trace-overlaps-itself.along-widths", 3.0, unit="tape widths"),
        ),
        words={
            "close": RuleWords(
                "The {tape} tape comes back to only {measured} from itself here; it needs {limit}",
                "lay it {short} further away from itself",
            ),
            "touch": RuleWords(
                "The {tape} tape crosses or touches itself here and cuts out what lies between; it needs {limit}",
                "lay it another way",
            ),
        },
        needs_traces=True,
    ),
    Rule(
        "trace-near-edge",
        how="from the tape's edge, corners of folds included, to the card's edge",
        limits=(Limit("trace-near-edge", 3.0),),
        words={
            "close": RuleWords(
                "The {tape} tape is only {measured} from the card's {side} edge; it needs {limit}",
                "lay it {short} further in",
            ),
            "over": RuleWords(
                "The {tape} tape reaches {depth} over the card's {side} edge; it needs to stay {limit} inside",
                "lay it {short} further in",
            ),
        },
        needs_traces=True,
    ),
    Rule(
        "battery-zone",
        how="from the cell's edge to any tape but the two end runs; along each end run from the cell's middle to where "
        "it begins on the far side and to its first fold, which is past the tab; how far beside the middle it "
        "passes; the angle between the two end runs",
        limits=(
            Limit("battery-zone.round-cell", ROUND_CELL_MM),
            Limit("battery-zone.least-past-middle", LEAST_PAST_MIDDLE_MM),
            Limit("battery-zone.most-past-middle", MOST_PAST_MIDDLE_MM, at_least=False),
            Limit(
                "battery-zone.beside-middle", MOST_BESIDE_MIDDLE_MM, at_least=False, for_part=beside_limit_mm
            ),
            Limit("battery-zone.straight", 25.5, for_part=lambda settings: shape_of(settings).reach_mm),
            Limit("battery-zone.lean-deg", 2.0, at_least=False, unit="deg"),
        ),
        words={
            "tape": RuleWords(
                "The {tape} tape passes {measured} from the cell's edge; all but its straight end needs {limit}",
                "lay it {short} further away from the battery",
            ),
            "inside": RuleWords(
                "The {tape} tape passes or folds under the cell; all but its straight end must be {limit} clear of it",
                "lay it {short} further away from the battery",
            ),
            "begins": RuleWords(
                "The {tape} tape reaches only {measured} beyond the cell's middle; it needs {limit}",
                "make it {short} longer there",
            ),
            "stops-short": RuleWords(
                "The {tape} tape stops {depth} short of the cell's middle; it has to reach {limit} beyond it",
                "make it {short} longer there",
            ),
            "too-far": RuleWords(
                "The {tape} tape reaches {measured} beyond the cell's middle; past {limit} it comes too near the rim, "
                "which is positive",
                "begin it {short} nearer to the middle",
            ),
            "beside": RuleWords(
                "The {tape} tape passes {measured} beside the cell's middle; {limit} is the most",
                "lay both tapes {short} to that side",
            ),
            "fold": RuleWords(
                "The {tape} tape folds {measured} from the cell's middle; up to the outer edge of the flap's tab, "
                "{limit} from the middle, it has to be straight",
                "fold it {short} further out",
            ),
            "lean": RuleWords(
                "The two tapes lean {measured} to each other where they come to the battery; {limit} is allowed, "
                "because both go straight under the flap's hinge",
                "lay them side by side there",
            ),
            "entries": RuleWords(
                "The two tapes come to the battery {measured} apart round its circle; they need to come from one side",
                "bring them in side by side, where the flap has its hinge",
            ),
        },
        needs_traces=True,
    ),
    Rule(
        "switch-off-card",
        how="from the outline of the switch's flap, seen from above, to the card's edge; without traces, from the "
        "lid's sides, wherever the hinge may be",
        limits=(Limit("switch-off-card", 1.0),),
        words={
            "close": RuleWords(
                "The switch's flap is only {measured} from the card's {side} edge; it needs {limit}",
                "move the battery {short} {inwards}, or let the tapes come to it from another side",
            ),
            "over": RuleWords(
                "The switch's flap sticks out {depth} over the card's {side} edge; it needs to be {limit} inside",
                "move the battery {short} {inwards}, or let the tapes come to it from another side",
            ),
        },
    ),
    Rule(
        "switch-covers",
        how="from the outline of the switch's flap to lights' bodies, the window, and any tape but the two end "
        "runs, below 0 where it covers them",
        limits=(Limit("switch-covers", 0.0),),
        words={
            "light": RuleWords(
                "The switch's flap would lie {depth} over {who}",
                "move it or the battery {short} away",
            ),
            "light-near": RuleWords(
                "{who} is only {measured} from the switch's flap", "move it a little away from the battery"
            ),
            "window": RuleWords(
                "The switch's flap reaches {depth} into the window, where it would show",
                "move the battery {short} away from the window",
            ),
            "window-near": RuleWords(
                "The switch's flap is only {measured} from the window",
                "move the battery a little away from the window",
            ),
            "tape": RuleWords(
                "The {tape} tape comes {depth} under the switch's flap beside its straight end",
                "lay it {short} further away from the battery",
            ),
            "tape-near": RuleWords(
                "The {tape} tape is only {measured} from the switch's flap",
                "lay it a little further away from the battery",
            ),
        },
    ),
    Rule(
        "fold-near-light",
        how="along the tape, from a fold's point to where the light's body begins",
        limits=(Limit("fold-near-light", 1.5),),
        words={
            "close": RuleWords(
                "The {tape} tape has a fold only {measured} from the body of {who}; it needs {limit}",
                "fold it {short} further away from the light",
            ),
            "under": RuleWords(
                "The {tape} tape has a fold under {who}; it needs to be {limit} clear of the light's body",
                "fold it {short} further away",
            ),
        },
        needs_traces=True,
    ),
    Rule(
        "folds-too-close",
        how="along the tape between the points of two folds in a row, bends included; the turn at one fold",
        limits=(
            Limit("folds-too-close", 4.0),
            Limit("folds-too-close.turn-deg", SHARPEST_FOLD_DEG, at_least=False, unit="deg"),
        ),
        words={
            "close": RuleWords(
                "Two folds of the {tape} tape are only {measured} apart; they need {limit}",
                "spread them {short} further apart",
            ),
            "turn": RuleWords(
                "The {tape} tape turns by {measured} in one fold; {limit} is the most that folds flat",
                "make two folds of it",
            ),
        },
        needs_traces=True,
    ),
    Rule(
        "tape-under-light",
        how="how far tape, but for the two runs that bridge it, would have to be pushed to be clear of a light's body",
        limits=(Limit("tape-under-light", 0.0, at_least=False),),
        words={
            "under": RuleWords(
                "The {tape} tape reaches {measured} under {who} where it does not belong",
                "lay that part of it {short} away",
            ),
            "beside": RuleWords(
                "The {tape} tape passes {beside} beside {who}, which it must not reach under",
                "lay that part of it {short} away",
            ),
        },
        needs_traces=True,
    ),
    Rule(
        "joint",
        how="where a branch is joined to the lane: how much tape lies on tape, how square it leaves, and from there, "
        "clear tape included, to lights' bodies and to folds",
        limits=(
            # A whole tape width on copper, which is what a right angle gives.
            Limit("joint.overlap", 2.5, for_part=lambda settings: settings.tape_width_mm),
            Limit("joint.askew-deg", 5.0, at_least=False, unit="deg"),
            # As far as a fold keeps: the copper lies double there, and a light on it would rock.
            Limit("joint.from-light", 1.5),
            Limit("joint.from-fold", 1.0),
            Limit("joint.from-switch", 1.0),
        ),
        words={
            "joined": RuleWords(
                "{on_it} {sits} on a branch that is joined to the lane here, with "
                "only {measured} of tape on tape; it needs {limit}",
                "begin both tapes of the branch at the far edge of the tape they are laid on",
                "{on_it} {sits} on a branch that is joined to the lane here, "
                "{joined} of tape on tape, its {crossing} tape crossing the {crossed} one over clear tape. Fold its "
                "tapes' ends under, so that copper meets copper, and try its lights before you fix them.",
            ),
            "askew": RuleWords(
                "The branch leaves the lane {measured} off a right angle; {limit} is allowed",
                "lay it square to the lane",
            ),
            "light": RuleWords(
                "The joint is only {measured} from the body of {light}, clear tape included; it needs {limit}",
                "join the branch {short} further away",
            ),
            "switch": RuleWords(
                "The joint is only {measured} from the switch's flap and its clear tape; it needs {limit}",
                "join the branch {short} further away from the battery",
            ),
            "fold": RuleWords(
                "The joint is only {measured} from a fold, clear tape included; it needs {limit}",
                "join the branch {short} further away",
            ),
        },
        needs_traces=True,
    ),
    Rule(
        "lights-too-close",
        how="between the centres of two lights",
        limits=(Limit("lights-too-close", 7.0),),
        words={
            "close": RuleWords(
                "{who} are {measured} apart, centre to centre; they need {limit}",
                "move one of them {short} away",
            ),
        },
    ),
    Rule(
        "light-near-edge",
        how="from the light's body to the card's edge",
        limits=(Limit("light-near-edge", 5.0),),
        words={
            "close": RuleWords(
                "{who} is only {measured} from the card's {side} edge, measured from its body; it needs {limit}",
                "move it {short} {inwards}",
            ),
            "over": RuleWords(
                "The body of {who} reaches {depth} over the card's {side} edge; it needs to be {limit} inside",
                "move it {short} {inwards}",
            ),
        },
    ),
    Rule(
        "light-outside-window",
        how="from the light's centre to the window's outline, inside counted as above 0",
        limits=(Limit("light-outside-window", 0.0),),
        words={
            "outside": RuleWords(
                "{who} is {depth} outside the window, so it won't shine through it", "move it {short} inwards"
            ),
            "edge": RuleWords(
                "{who} is only {measured} inside the window's outline",
                "move it inwards if it should shine through the window",
            ),
        },
    ),
    Rule(
        "cell-under-window",
        how="from the edge of the battery zone to the window's outline, outside counted as above 0",
        limits=(Limit("cell-under-window", 0.0),),
        words={
            "under": RuleWords(
                "The cell with its foam frame reaches {depth} into the window, where it would show",
                "move the battery {short} away from the window",
            ),
            "edge": RuleWords(
                "The cell's foam frame is only {measured} from the window",
                "move the battery a little away from the window",
            ),
        },
    ),
    Rule(
        "cell-mismatch",
        how="the diameter of the drawn circle against what a pencil round the chosen cell leaves",
        # Common practice, no source: a pencil's point stands 0.3-1.0 mm off the cell's edge, so the circle comes
        # out 0.5-2 mm wider than the cell; half a millimetre more on both sides for a shaky hand, or for a pencil
        # that leans in under the cell's rounded rim.
        limits=(
            Limit("cell-mismatch.narrower", 0.5, at_least=False),
            Limit("cell-mismatch.wider", 2.5, at_least=False),
        ),
        words={
            "narrow": RuleWords(
                "The circle is {measured} across, too small for a {cell}: a pencil round one ({cell_size}) leaves "
                "{limit} or more",
                "{fits}",
            ),
            "wide": RuleWords(
                "The circle is {measured} across, too big for a {cell}: a pencil round one ({cell_size}) leaves "
                "{limit} at most",
                "{fits}",
            ),
        },
    ),
    Rule(
        "no-lane",
        how="whether the search found any pair of traces",
        limits=(),
        words={
            "parts": RuleWords(
                "No lane can be laid with these parts. {reason}", "No light has to move for that."
            ),
            "proven": RuleWords("There is no lane here. {reason}", "Move {who}, or leave one out."),
            "not-found": RuleWords(
                "No lane was found. {reason}",
                "There may be one that the search missed: lay it by eye, or move {who} or leave one out.",
            ),
            "no-battery": RuleWords(
                "There is no battery circle on this card.",
                "Trace once round the coin cell, where the press point on the front will be.",
            ),
            "no-lights": RuleWords(
                "There are no lights on this card.",
                "Pencil in a filled dot, 2 to 5 mm across, for each light.",
            ),
        },
        needs_traces=True,
    ),
)

RULE_BY_NAME: Mapping[str, Rule] = {rule.name: rule for rule in RULES}
LIMITS: Mapping[str, Limit] = {limit.key: limit for rule in RULES for limit in rule.limits}
DEFAULT_LIMITS: Mapping[str, float] = {key: limit.default for key, limit in LIMITS.items()}


def limit_of(settings: Settings, key: str) -> float:
    """The limit in force for `key`: the maker's own, else the table's for the parts in use."""
    if settings.limits:
        require_known_limits(settings)
        if key in settings.limits:
            return settings.limits[key]
    limit = LIMITS[key]
    return limit.default if limit.for_part is None else limit.for_part(settings)


def straight_limit_mm(settings: Settings, tongue: Tongue) -> float:
    """`battery-zone.straight` for that form of the flap's tongue: the end runs are straight to its outer edge."""
    key = "battery-zone.straight"
    return limit_of(settings, key) if key in settings.limits else shape_of(settings, tongue).reach_mm


def require_known_limits(settings: Settings) -> None:
    """UsageError when one of the maker's own limits has a name the table lacks, or is below 0 or endless."""
    for key, value in settings.limits.items():
        if key not in LIMITS:
            raise UsageError(
                f"There is no rule limit called {key!r}. Known are: {', '.join(sorted(LIMITS))}."
            )
        if not 0 <= value < math.inf:
            raise UsageError(f"The limit {key} must be 0 or more, not {value}.")
