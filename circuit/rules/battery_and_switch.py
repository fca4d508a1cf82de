"""What the cell, its zone and the push switch over it keep to."""

from __future__ import annotations

from circuit.rules.kinds import Limit, Rule, RuleWords
from circuit.settings import ROUND_CELL_MM
from circuit.switch import (
    LEAST_PAST_MIDDLE_MM,
    MOST_BESIDE_MIDDLE_MM,
    MOST_PAST_MIDDLE_MM,
    beside_limit_mm,
    shape_of,
)

# Every default limit below: chosen with makers of such cards, common practice, no source, unless a line says otherwise.
SWITCH_RULES: tuple[Rule, ...] = (
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
                "lay it {short} further away from the battery circle",
            ),
            "inside": RuleWords(
                "The {tape} tape passes or folds under the cell; all but its straight end must be {limit} clear of it",
                "lay it {short} further away from the battery circle",
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
                "The two tapes lean {measured} to each other where they come to the cell; {limit} is allowed, "
                "because both go straight under the flap's hinge",
                "lay them side by side there",
            ),
            "entries": RuleWords(
                "The two tapes come to the cell {measured} apart round its circle; they need to come from one side",
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
                "move the battery circle {short} {inwards}, or let the tapes come to it from another side",
            ),
            "over": RuleWords(
                "The switch's flap sticks out {depth} over the card's {side} edge; it needs to be {limit} inside",
                "move the battery circle {short} {inwards}, or let the tapes come to it from another side",
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
                "move it or the battery circle {short} away",
            ),
            "light-near": RuleWords(
                "{who} is only {measured} from the switch's flap",
                "move it a little away from the battery circle",
            ),
            "window": RuleWords(
                "The switch's flap reaches {depth} into the window, where it would show",
                "move the battery circle {short} away from the window",
            ),
            "window-near": RuleWords(
                "The switch's flap is only {measured} from the window",
                "move the battery circle a little away from the window",
            ),
            "tape": RuleWords(
                "The {tape} tape comes {depth} under the switch's flap beside its straight end",
                "lay it {short} further away from the battery circle",
            ),
            "tape-near": RuleWords(
                "The {tape} tape is only {measured} from the switch's flap",
                "lay it a little further away from the battery circle",
            ),
        },
    ),
)
