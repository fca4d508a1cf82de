"""What the two tapes keep to along a lane, and a card without one."""

from __future__ import annotations

from circuit.gap import LEAST_GAP_MM, OFF_MIDLINE_MM, OVERLAP_MM, least_overlap_mm, most_stray_mm
from circuit.rules.kinds import Limit, Rule, RuleWords

# Every default limit below: chosen with makers of such cards, common practice, no source, unless a line says otherwise.
LANE_RULES: tuple[Rule, ...] = (
    Rule(
        "light-not-bridged",
        how="across the lane at each light: its centre to the midline, the gap and the tape under each "
        "pad row along the whole body, and how far both tapes run straight and side by side",
        limits=(
            Limit("light-not-bridged.off-midline", OFF_MIDLINE_MM, at_least=False, for_part=most_stray_mm),
            Limit("light-not-bridged.overlap", OVERLAP_MM, for_part=least_overlap_mm),
            Limit("light-not-bridged.gap", LEAST_GAP_MM),
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
)

NO_LANE = Rule(
    "no-lane",
    how="whether the search found any pair of traces",
    limits=(),
    words={
        "parts": RuleWords(
            "No lane can be laid with these parts. {reason}", "No light has to move for that."
        ),
        "proven": RuleWords("There is no lane here. {reason}", "Move {who}, or leave one or more out."),
        "not-found": RuleWords(
            "No lane was found. {reason}",
            "There may be one that the search missed: lay it by eye, or move {who} or leave one or more out.",
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
)
