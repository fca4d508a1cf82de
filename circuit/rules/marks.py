"""What the pencilled marks keep to, whatever tape is laid."""

from __future__ import annotations

from circuit.rules.kinds import Limit, Rule, RuleWords

# Every default limit below: chosen with makers of such cards, common practice, no source, unless a line says otherwise.
MARK_RULES: tuple[Rule, ...] = (
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
                "move the battery circle {short} away from the window",
            ),
            "edge": RuleWords(
                "The cell's foam frame is only {measured} from the window",
                "move the battery circle a little away from the window",
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
)
