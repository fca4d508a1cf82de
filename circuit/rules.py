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
from circuit.settings import FOAM_RING_MM, Settings

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
class Advice:
    """What a maker reads: `seen` says what was measured, `do` what mends it.

    Both are templates. Every one may use {who}, {measured}, {limit}, {short} (by how much the
    limit is missed, rounded up to what a ruler shows) and the words its measuring function adds.
    """

    seen: str
    do: str


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of the table; `advice` maps a case of the rule to its words."""

    name: str
    how: str
    limits: tuple[Limit, ...]
    advice: Mapping[str, Advice]
    needs_traces: bool = False


# A 5 mm body over a 2.5 mm gap has 1.25 mm of tape under each pad row when it sits on the midline.
# The limits below let it stray by 40 % of that (0.5 mm) and keep 60 % (0.75 mm). A smaller body has
# less tape under it, so it may stray by the same share only: chosen.
_STRAY_SHARE = 0.4
_KEPT_SHARE = 0.6
_OFF_MIDLINE_MM = 0.5
_OVERLAP_MM = 0.75


def tape_under_pads_mm(settings: Settings) -> float:
    """Tape under one pad row of a light that sits on the midline: 1.25 mm for a 5 mm body over
    2.5 mm; 0 or less when the body does not reach across the gap. [mm]"""
    return min((settings.light.length_mm - settings.gap_mm) / 2, settings.tape_width_mm)


def _off_midline(settings: Settings) -> float:
    return max(0.0, min(_OFF_MIDLINE_MM, _STRAY_SHARE * tape_under_pads_mm(settings)))


def _overlap(settings: Settings) -> float:
    return max(0.0, min(_OVERLAP_MM, _KEPT_SHARE * tape_under_pads_mm(settings)))


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
            Limit("light-not-bridged.gap", 1.5),
            # Straight beside the whole body: its size along the lane.
            Limit("light-not-bridged.straight", 5.0, for_part=lambda settings: settings.light.width_mm),
            # Over a 5 mm body this changes the gap by 0.4 mm; gap and overlap are measured at both ends as well.
            Limit("light-not-bridged.lean-deg", 5.0, at_least=False, unit="deg"),
        ),
        advice={
            "missed": Advice(
                "{who} does not sit across the two tapes but {measured} off the middle between them",
                "lay the positive tape on one side of it and the negative on the other, {limit} off the middle at most",
            ),
            "off-midline": Advice(
                "{who} is {measured} off the middle between the two tapes; {limit} is allowed",
                "shift the tapes or the light by {short}",
            ),
            "straight": Advice(
                "Only {measured} of the tape beside {who} runs straight; its body needs {limit}",
                "keep both tapes straight past the whole light",
            ),
            "lean": Advice(
                "The two tapes are not side by side at {who}: they lean {measured} to each other, {limit} is allowed",
                "lay them parallel there",
            ),
            "gap": Advice(
                "The two tapes are only {measured} apart under {who}; they need {limit} or they may touch under it",
                "lay them {short} further apart there",
            ),
            "no-gap": Advice(
                "The two tapes touch under {who}; they need to be {limit} apart there",
                "lay them {short} further apart",
            ),
            "overlap": Advice(
                "Only {measured} of tape lies under one side of {who}; its pads need {limit}",
                "bring the {tape} tape {short} closer to the light's middle",
            ),
            "no-overlap": Advice(
                "The {tape} tape does not reach under {who}; its pads need {limit} of tape",
                "bring that tape {short} closer to the light's middle",
            ),
            "too-small": Advice(
                "The lights are {body} long and do not reach across the {gap} gap between the tapes",
                "choose a narrower gap or longer lights",
            ),
        },
        needs_traces=True,
    ),
    Rule(
        "traces-too-close",
        how="the smallest distance between the edges of the positive and the negative tape, outside the cell's circle",
        limits=(Limit("traces-too-close", 1.5),),
        advice={
            "close": Advice(
                "The positive and the negative tape are only {measured} apart here; they need {limit}",
                "lay one of them {short} further away",
            ),
            "touch": Advice(
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
        advice={
            "close": Advice(
                "The {tape} tape comes back to only {measured} from itself here; it needs {limit}",
                "lay it {short} further away from itself",
            ),
            "touch": Advice(
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
        advice={
            "close": Advice(
                "The {tape} tape is only {measured} from the card's {side} edge; it needs {limit}",
                "lay it {short} further in",
            ),
            "over": Advice(
                "The {tape} tape reaches {depth} over the card's {side} edge; it needs to stay {limit} inside",
                "lay it {short} further in",
            ),
        },
        needs_traces=True,
    ),
    Rule(
        "battery-zone",
        how="from the cell's edge to a light's body, to a fold and to any tape but the two end runs; from the cell's "
        "centre to each tape's end; the angle between the places where the tapes enter the zone",
        limits=(
            Limit("battery-zone.foam-ring", FOAM_RING_MM),
            Limit("battery-zone.end-from-centre", 6.0, at_least=False),
            Limit("battery-zone.entries-apart-deg", 90.0, at_least=False, unit="deg"),
        ),
        advice={
            "light": Advice(
                "{who} is only {measured} from the cell's edge; the foam ring needs {limit}",
                "move it or the battery {short} away",
            ),
            "light-over": Advice(
                "{who} reaches {depth} under the cell; the foam ring round the cell needs {limit} clear of lights",
                "move it or the battery {short} away",
            ),
            "fold": Advice(
                "The {tape} tape has a fold {measured} from the cell's edge; the foam ring needs {limit}",
                "fold it {short} further out",
            ),
            "tape": Advice(
                "The {tape} tape passes {measured} from the cell's edge; all but its straight end needs {limit}",
                "lay it {short} further away from the battery",
            ),
            "inside": Advice(
                "The {tape} tape passes or folds under the cell; all but its straight end must be {limit} clear of it",
                "lay it {short} further away from the battery",
            ),
            "end": Advice(
                "The {tape} tape ends {measured} from the cell's centre; it needs to come within {limit}",
                "make it {short} longer towards the centre",
            ),
            "entries": Advice(
                "The two tapes come to the battery {measured} apart round its circle; they need to come from one "
                "side, {limit} apart at most",
                "bring them in side by side, where the flap has its hinge",
            ),
        },
    ),
    Rule(
        "fold-near-light",
        how="along the tape, from a fold's point to where the light's body begins",
        limits=(Limit("fold-near-light", 1.5),),
        advice={
            "close": Advice(
                "The {tape} tape has a fold only {measured} from the body of {who}; it needs {limit}",
                "fold it {short} further away from the light",
            ),
            "under": Advice(
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
            Limit("folds-too-close.turn-deg", 135.0, at_least=False, unit="deg"),
        ),
        advice={
            "close": Advice(
                "Two folds of the {tape} tape are only {measured} apart; they need {limit}",
                "spread them {short} further apart",
            ),
            "turn": Advice(
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
        advice={
            "under": Advice(
                "The {tape} tape reaches {measured} under {who} where it does not belong",
                "lay that part of it {short} away",
            ),
        },
        needs_traces=True,
    ),
    Rule(
        "lights-too-close",
        how="between the centres of two lights",
        limits=(Limit("lights-too-close", 7.0),),
        advice={
            "close": Advice(
                "{who} are {measured} apart, centre to centre; they need {limit}",
                "move one of them {short} away",
            ),
        },
    ),
    Rule(
        "light-near-edge",
        how="from the light's body to the card's edge",
        limits=(Limit("light-near-edge", 5.0),),
        advice={
            "close": Advice(
                "{who} is only {measured} from the card's {side} edge, measured from its body; it needs {limit}",
                "move it {short} {inwards}",
            ),
            "over": Advice(
                "The body of {who} reaches {depth} over the card's {side} edge; it needs to be {limit} inside",
                "move it {short} {inwards}",
            ),
        },
    ),
    Rule(
        "light-outside-window",
        how="from the light's centre to the window's outline, inside counted as above 0",
        limits=(Limit("light-outside-window", 0.0),),
        advice={
            "outside": Advice(
                "{who} is {depth} outside the window, so it won't shine through it", "move it {short} inwards"
            ),
            "edge": Advice(
                "{who} is only {measured} inside the window's outline",
                "move it inwards if it should shine through the window",
            ),
        },
    ),
    Rule(
        "cell-under-window",
        how="from the edge of the cell's foam ring to the window's outline, outside counted as above 0",
        limits=(Limit("cell-under-window", 0.0),),
        advice={
            "under": Advice(
                "The cell with its foam ring reaches {depth} into the window, where it would show",
                "move the battery {short} away from the window",
            ),
            "edge": Advice(
                "The cell's foam ring is only {measured} from the window",
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
        advice={
            "narrow": Advice(
                "The circle is {measured} across, too small for a {cell}: a pencil round one ({cell_size}) leaves "
                "{limit} or more",
                "{fits}",
            ),
            "wide": Advice(
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
        advice={
            "proven": Advice("No lane can be laid here. {reason}", "Move {who}, or leave one out."),
            "not-found": Advice(
                "No lane was found. {reason}",
                "There may be one that the search missed: lay it by eye, or move {who} or leave one out.",
            ),
            "no-battery": Advice(
                "There is no battery circle on this card.",
                "Trace once round the coin cell, where the press point on the front will be.",
            ),
            "no-lights": Advice(
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


def require_known_limits(settings: Settings) -> None:
    """UsageError when one of the maker's own limits has a name the table lacks, or is below 0 or endless."""
    for key, value in settings.limits.items():
        if key not in LIMITS:
            raise UsageError(
                f"There is no rule limit called {key!r}. Known are: {', '.join(sorted(LIMITS))}."
            )
        if not 0 <= value < math.inf:
            raise UsageError(f"The limit {key} must be 0 or more, not {value}.")
