"""What folds, tape beside lights and the joints of branches keep to."""

from __future__ import annotations

from circuit.polyline import SHARPEST_FOLD_DEG
from circuit.rules.kinds import Limit, Rule, RuleWords

# Every default limit below: chosen with makers of such cards, common practice, no source, unless a line says otherwise.
FOLD_RULES: tuple[Rule, ...] = (
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
                "join the branch {short} further away from the battery circle",
            ),
            "fold": RuleWords(
                "The joint is only {measured} from a fold, clear tape included; it needs {limit}",
                "join the branch {short} further away",
            ),
        },
        needs_traces=True,
    ),
)
