"""What the overlay says: the verdict, the problems with their numbers, moves, doubts.

In:    a `Plan` and `Settings`.
Out:   plain sentences, lengths in the maker's units.
Fails: never.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from circuit.layout import Card, Move, Point, Problem
from circuit.lengths import format_length, format_shift
from circuit.plan import Plan
from circuit.settings import Settings, Units
from circuit.whereabouts import place

READY = "Ready to tape"
_NAMED_MOVES = 3  # chosen: a heading names no more marks than this


def numbered_problems(plan: Plan) -> tuple[tuple[int, Problem], ...]:
    """The problems as the callouts number them: what must be fixed first, else in the plan's order."""
    ordered = sorted(plan.problems, key=lambda problem: problem.level != "must-fix")
    return tuple(enumerate(ordered, start=1))


def verdict(plan: Plan) -> str:
    """The heading: what the maker should do next."""
    fix, look = _counts(plan)
    moved = plan.corrected_from
    if moved:
        return f"If you move {listed(moved) if len(moved) <= _NAMED_MOVES else f'{len(moved)} marks'}"
    if fix:
        return f"{_things(fix)} to fix first"
    if look:
        return f"Look again at {_things(look)}"
    if unsure_marks(plan) or doubts(plan):
        return "Check what I read first"
    if not plan.layout.lights:
        return "No lights on this card yet"
    if plan.traces is None:
        return "No tape laid yet"
    return READY


def subtitle(plan: Plan, settings: Settings) -> str:
    """One line under the heading: what else there is, and what card this is."""
    fix, look = _counts(plan)
    parts = []
    if plan.corrected_from:
        parts.append(_afterwards(plan))
    elif fix and look:
        parts.append(f"and {_things(look)} to look at again")
    unsure = len(doubts(plan))
    if unsure and (fix or look) and not plan.corrected_from:
        parts.append("1 doubt about the reading" if unsure == 1 else f"{unsure} doubts about the reading")
    count = len(plan.layout.lights)
    parts.append(f"{count} light" if count == 1 else f"{count} lights")
    if plan.layout.battery is not None:
        parts.append(f"{settings.cell.name} cell")
    card = plan.layout.card
    width, height = (format_length(mm, settings.units) for mm in (card.width_mm, card.height_mm))
    # A line may break between the parts, not inside one.
    return " · ".join(part.replace(" ", "\u00a0") for part in [*parts, f"card {width} × {height}"])


def problem_lines(problem: Problem, units: Units) -> tuple[str, ...]:
    """The advice, and a line with the measured size where the advice does not state it."""
    # Milliamperes and the like are told by the advice alone: how they are rounded is its business.
    if problem.measured is None or problem.unit not in ("mm", "deg"):
        return (problem.advice,)
    measured = _amount(problem.measured, problem.unit, units)
    # Below nothing (one thing inside another) makes no sense as a bare number: leave it to the advice.
    if measured in problem.advice or problem.measured < 0:
        return (problem.advice,)
    line = f"Measured {measured}"
    give = _amount(problem.uncertainty, problem.unit, units)
    if give != _amount(0.0, problem.unit, units):
        line += f", give or take {give}"
    if problem.limit is not None:
        line += f"; the limit is {_amount(problem.limit, problem.unit, units)}"
    return (problem.advice, line + ".")


def move_line(move: Move, units: Units) -> str:
    """`Move L3 2.1 mm left.`, or with two directions where it goes aslant."""
    who = "the battery" if move.about == "battery" else move.about
    return f"Move {who} {format_shift(move.from_mm, move.to_mm, units)}."


def unsure_marks(plan: Plan) -> tuple[str, ...]:
    """Labels of the lights that the reading is not sure of, and "battery"."""
    names = [light.label for light in plan.layout.lights if not light.sure]
    if plan.layout.battery is not None and not plan.layout.battery.sure:
        names.append("battery")
    return tuple(names)


def doubts(plan: Plan) -> tuple[str, ...]:
    """Every doubt as a sentence, the label in front where it is about a labelled mark; an unsure mark
    that no sentence speaks of gets one."""
    said = list(plan.reading.doubts) if plan.reading is not None else []
    for name in unsure_marks(plan):
        about = _spoken_of(name, plan, said)
        if about is None:
            what = "the battery circle" if name == "battery" else f"the mark {name}"
            said.append(f"I'm not sure about {what}.")
        elif not _names(name, said[about]):
            said[about] = f"{'Battery' if name == 'battery' else name}: {said[about]}"
    if plan.reading is not None and not plan.reading.sure and not said:
        said.append("I'm not sure that I read every mark.")
    return tuple(said)


def _spoken_of(name: str, plan: Plan, said: Sequence[str]) -> int | None:
    """Which sentence is about that mark: by its name, or by its place in the words the reading uses."""
    layout = plan.layout
    mark = layout.battery if name == "battery" else layout.light(name)
    assert mark is not None
    places = [place(*mark.centre, layout.card, units) for units in ("mm", "in")]
    for i, sentence in enumerate(said):
        if _names(name, sentence) or any(words in sentence for words in places):
            return i
    return None


def _names(name: str, sentence: str) -> bool:
    # As a word of its own: a doubt about L12 says nothing about L1.
    return bool(re.search(rf"(?<!\w){re.escape(name.casefold())}(?!\w)", sentence.casefold()))


def other_ways(plan: Plan) -> tuple[str, ...]:
    """What else would mend the card: lights to leave out, other parts that were tried."""
    ways = (f"Without {listed(plan.leave_out)} the card can be laid.",) if plan.leave_out else ()
    return ways + plan.alternatives


def drawn_line_troubles(plan: Plan) -> tuple[str, ...]:
    """What is wrong with the lines that the maker pencilled, the worst first."""
    ordered = sorted(plan.drawn_problems, key=lambda problem: problem.level != "must-fix")
    return tuple(problem.advice for problem in ordered)


def listed(names: Sequence[str]) -> str:
    """`L1`, `L1 and L2`, `L1, L2 and the battery`."""
    said = ["the battery" if name == "battery" else name for name in names]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


def crossed_out_line(where_mm: Point, card: Card, units: Units) -> str:
    """That a struck-out dot was seen, and where."""
    return f"The crossed-out dot {place(*where_mm, card, units)} is left out."


def scale_length_mm(card_width_mm: float, units: Units) -> tuple[float, int]:
    """A round length for the scale bar, at most half the card's width, and its number of parts."""
    choices = ((50.0, 5), (20.0, 4), (10.0, 2), (5.0, 5), (1.0, 1))
    if units == "in":
        choices = ((50.8, 4), (25.4, 4), (12.7, 4), (6.35, 2), (25.4 / 32, 1))
    for length_mm, parts in choices:
        if length_mm <= card_width_mm / 2:
            return length_mm, parts
    return choices[-1]


def round_length(mm: float, units: Units) -> str:
    """A length without an empty decimal: `50 mm`."""
    return format_length(mm, units).replace(".0 mm", " mm")


def _counts(plan: Plan) -> tuple[int, int]:
    fix = len(plan.must_fix)
    return fix, len(plan.problems) - fix


def _afterwards(plan: Plan) -> str:
    fix, look = _counts(plan)
    if fix:
        return f"{_things(fix)} left to fix then"
    if look:
        return f"then look again at {_things(look)}"
    if doubts(plan):
        return "then it can be taped, if I read it rightly"
    return "then it can be taped"


def _things(count: int) -> str:
    return "1 thing" if count == 1 else f"{count} things"


def _amount(value: float, unit: str, units: Units) -> str:
    return f"{value:.0f}°" if unit == "deg" else format_length(value, units)
