"""What could be wrong, what to do about it and what to try first, in a maker's words.

In:    a `FaultRanking`, the card, the maker's units.
Out:   sentences.
Fails: never.
"""

from __future__ import annotations

from collections.abc import Sequence

from circuit.faults.possible import Fault
from circuit.faults.rank import FaultRanking, RankedFault
from circuit.faults.trials import Trial
from circuit.layout import Card
from circuit.settings import Units
from circuit.telling import counted, listed
from circuit.whereabouts import place

SOURCE = (
    "How common each fault is rests on common practice, not on a published figure; what each would do to the "
    "lights is worked out on this card's own circuit."
)
_MOST_TOLD = 4  # more are not read. Chosen
_LEAST_SHARE = 0.03  # of belief, to be told. Chosen
_ALL_DARK = (
    "If the cell gets warm, take it out at once: then the two tapes touch somewhere. Don't leave it in while you "
    "look."
)

# Of all the chance: how it is told. Chosen.
NEARLY_SURE, LIKELY, POSSIBLE = 0.9, 0.5, 0.15


def seen_words(ranking: FaultRanking) -> str:
    """`L3 stays dark and L5 is dim.`"""
    said = []
    if ranking.dark:
        said.append(f"{listed(ranking.dark)} {'stays' if len(ranking.dark) == 1 else 'stay'} dark")
    if ranking.dim:
        said.append(f"{listed(ranking.dim)} {'is' if len(ranking.dim) == 1 else 'are'} dim")
    return f"{' and '.join(said)}."


def told(ranking: FaultRanking) -> tuple[RankedFault, ...]:
    """The explanations that are worth telling, the likeliest first; at least one where there is any. Half of a pair
    that is told needs no telling of its own."""
    likely: list[RankedFault] = []
    for one in ranking.ranked:
        if one.share >= _LEAST_SHARE and not any(set(one.faults) < set(other.faults) for other in likely):
            likely.append(one)
    return tuple(likely[:_MOST_TOLD]) or ranking.ranked[:1]


def by_design_words(ranking: FaultRanking) -> str:
    """A sentence on lights that are weak with nothing wrong; empty where there are none."""
    weak = ranking.by_design
    if not weak:
        return ""
    gets, it = ("gets", "it") if len(weak) == 1 else ("get", "they")
    return (
        f"{listed(weak)} {gets} too little current on this card even with nothing wrong: the plan's problems say why, "
        f"and {it} can't tell of a fault."
    )


def fault_words(fault: Fault, card: Card, units: Units, lapped: bool = False) -> str:
    """What it is and what to do, a sentence or two."""
    where = place(*fault.places_mm[0], card, units)
    match fault.kind:
        case "tape":
            what = "has a lap without contact" if lapped else "is torn"
            more = len(fault.places_mm) - 1
            places = f"first of all {where}; {counted(more, 'further place')} on the way" if more else where
            return (
                f"The {fault.trace} tape {what} {_between(fault.between)}, {places}. Lay a piece of tape over it that "
                "touches bare copper on both sides."
            )
        case "joint":
            return (
                f"The branch's {fault.trace} tape doesn't touch the lane's at {fault.between[0]}, {where}. Press it "
                "down there; if that helps, fold its end under anew, copper outside, put conductive glue between and "
                "hold it down with clear tape."
            )
        case "touching" if fault.trace is not None:
            return (
                f"The branch's {fault.trace} tape touches the {_other(fault.trace)} one that it crosses, {where}: the "
                "clear tape between them has slipped or is pierced. Take the cell out first, then lift the branch "
                "there and lay new clear tape, 2 mm wider on all sides."
            )
        case "touching":
            return (
                "The two tapes touch somewhere, or bare negative tape touches the cell's rim, which is positive all "
                f"round. The tapes come nearest {where}. Take the cell out first, then part them and cover one with "
                "clear tape."
            )
        case "pads":
            return (
                f"{fault.light}'s pads don't touch the tape well, {where}. Press it down on both sides; if that helps, "
                "lay it anew on bare copper, without glue under its pads."
            )
        case "turned":
            return f"{fault.light} is the wrong way round, {where}. Lift it and turn it by half a turn."
        case "dead":
            return f"{fault.light} itself is dead, {where}. Put another light there."
        case "flap":
            return (
                "The flap's tape doesn't touch the cell well. Press harder in the middle of the cell; if that helps, "
                "take a thinner foam or lay a folded scrap of tape under the lid, over the cell."
            )
        case "cell-turned":
            return "The cell lies the wrong way round. Its + face belongs up, against the lid."
        case "cell-spent":
            return "The cell is spent. Put in a new one, and keep the old one out of reach of children."


def share_words(share: float) -> str:
    """`nearly sure`, `likely`, `possible`, `less likely`."""
    if share >= NEARLY_SURE:
        return "nearly sure"
    return "likely" if share >= LIKELY else "possible" if share >= POSSIBLE else "less likely"


def cautions(ranking: FaultRanking) -> tuple[str, ...]:
    """What to heed while looking; empty where nothing can get hot."""
    touching = any(fault.kind == "touching" for one in told(ranking) for fault in one.faults)
    return (_ALL_DARK,) if touching else ()


def unexplained_words(ranking: FaultRanking) -> str:
    """A sentence where neither one fault nor two explain it; else empty."""
    if ranking.explained:
        return ""
    return (
        "Neither one fault nor two explain this: look again which lights are dark while the lid is pressed down "
        "firmly, mend what you find, and ask again."
    )


def trial_words(trial: Trial, card: Card, units: Units, lapped: bool = False) -> str:
    """What to try, and what each answer means."""
    where = place(*trial.places_mm[0], card, units)
    match trial.kind:
        case "press" if trial.light is not None:
            return (
                f"While the lid is held down, press {trial.light} on to its tapes with a fingernail, one side, then "
                "the other. It comes on: its pads didn't touch. Nothing: lift it and turn it round."
            )
        case "press" if trial.trace is not None and not trial.between[1]:
            return (
                f"While the lid is held down, press the branch's {trial.trace} tape on to the lane's at "
                f"{trial.between[0]}, {where}. Lights come on: their copper didn't touch. Nothing: look farther down "
                "the list."
            )
        case "press" if trial.trace is not None:
            return (
                f"While the lid is held down, press the {trial.trace} tape's {_corner(lapped)} "
                f"{_between(trial.between)}, {where}. Lights come on: the copper is broken there. Nothing: look "
                "farther down the list."
            )
        case "press":
            return (
                "Press the lid down hard in the middle of the cell. Lights come on: the flap's tape didn't reach the "
                "cell. Nothing: look farther down the list."
            )
        case "bridge" if not trial.between[1]:
            return (
                f"While the lid is held down, lay a scrap of bare tape, copper down, over {trial.between[0]} of the "
                f"{trial.trace} tapes, {where}, and press it on to both; keep it off the other tape. Lights come on: "
                "the joint had no contact. Nothing: look farther down the list."
            )
        case "bridge":
            return (
                f"While the lid is held down, lay a scrap of bare tape, copper down, along the {trial.trace} tape "
                f"{_between(trial.between)}, {where}, and press on both its ends; keep it off the other tape. Lights "
                f"come on: the break is under it. Nothing: look at the {_other(trial.trace)} tape there."
            )
        case "lift-light":
            return (
                f"Lift {trial.light} off and hold it on the two tapes by hand, as it lay and then turned round. It "
                "lights as it lay: its pads didn't touch. Turned round: it was the wrong way round. Neither: put "
                "another light there."
            )
        case "cell-by-hand":
            return (
                "Open the lid, look which way the cell lies, and hold it by hand on the two tape ends, its + face on "
                "the positive tape. Lights come on: the lid doesn't press the tape on to the cell, or the cell lay the "
                "wrong way round. Nothing: see whether the tapes touch, then try a new cell."
            )
        case "new-cell":
            return "Put in a new cell. The lights come on clearly: the old one was spent."
        case "part-tapes":
            return (
                f"Take the cell out and look along both tapes for a place where they touch, first {where}; part them "
                "with a knife, and cover one with clear tape."
            )


def answer_words(trial: Trial) -> dict[str, str]:
    """Each answer of the trial as a person would give it."""
    if trial.kind == "lift-light":
        return {
            "lit-as-it-lay": "it lights as it lay",
            "lit-turned": "it lights turned round",
            "dark": "neither",
        }
    if trial.kind == "cell-by-hand":
        return {
            "lit": "the lights come on",
            "lit-but-it-lay-turned": "they come on, and the cell had lain the wrong way round",
            "dark": "nothing",
        }
    return {"brighter": "lights come on or get clearly brighter", "same": "nothing changes"}


def _between(between: Sequence[str]) -> str:
    before, after = between
    return f"between {before} and {after}" if before else f"between the cell and {after}"


def _corner(lapped: bool) -> str:
    return "laps" if lapped else "folds"


def _other(trace: str | None) -> str:
    return "negative" if trace == "positive" else "positive"
