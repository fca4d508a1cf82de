"""What a plan has to say, in a maker's words and units: the one place where its values become sentences.

In:    moves, problems, doubts, whole plans; the maker's units.
Out:   text. A sentence ends with its full stop, a part of one has none.
Fails: never; of a doubt that this program does not know, its own words or its key are said.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from circuit.joint import joints_of
from circuit.layout import Card, Move, Problem
from circuit.lengths import FINEST_MM, format_length, format_shift, limit_length
from circuit.plan import Plan
from circuit.remarks import remark_words
from circuit.settings import Corners, Units
from circuit.whereabouts import from_edges

CORNER_WORDS: Mapping[Corners, str] = {"folded": "fold", "lapped": "lap"}  # what a corner of the tape is
READY = "Ready to tape"
# Chosen: a heading names no more marks than this.
_NAMED_MOVES = 3
_NAMED_MARKS = 5  # chosen: more labels than this in one sentence are not read
_WHOLE = 1e-6  # how far a number of steps may lie from a whole one: rounding alone
_LEAST_MOVE_MM = 0.05  # lengths are shown to a tenth; an older file's move says where to, not where from

# A rule's name -> its fault, several of them, as a list names them.
_KINDS: Mapping[str, str] = {
    "light-not-bridged": "lights that the tapes don't bridge",
    "traces-too-close": "tapes too close to each other",
    "trace-overlaps-itself": "a tape too close to itself",
    "trace-near-edge": "tape too near the card's edge",
    "battery-zone": "tape where the cell and its foam go",
    "switch-off-card": "a switch that juts over the card's edge",
    "switch-covers": "something under the switch's flap",
    "joint": "branches badly joined to the lane",
    "fold-near-light": "folds too near a light",
    "folds-too-close": "folds too sharp or too close together",
    "tape-under-light": "tape under a light",
}


def listed(names: Iterable[str], last: str = "and") -> str:
    """`L1`, `L1 and L2`, `L1, L2 and the battery circle`; "" for none. `last` stands before the last name."""
    said = [mark_name(name) for name in names]
    return f" {last} ".join([", ".join(said[:-1]), said[-1]] if len(said) > 1 else said)


def few_of(names: Sequence[str]) -> str:
    """The same; of many the first few, as `L1, L2, L3 and 14 more`."""
    most = _NAMED_MARKS
    return listed(names if len(names) <= most else [*names[: most - 2], f"{len(names) - most + 2} more"])


def mark_name(about: str) -> str:
    """A mark as a sentence names it: a light by its label."""
    return {"battery": "the battery circle", "window": "the window"}.get(about, about)


def counted(number: int, thing: str) -> str:
    """`1 light`, `2 lights`."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def sentence(text: str) -> str:
    """With a capital in front and a full stop behind."""
    return f"{text[:1].upper()}{text[1:]}."


def verdict(plan: Plan) -> str:
    """What the maker should do next, in a few words."""
    fix, look = len(plan.must_fix), len(plan.problems) - len(plan.must_fix)
    moved = plan.corrected_from
    if moved:
        return f"If you move {listed(moved) if len(moved) <= _NAMED_MOVES else f'{len(moved)} marks'}"
    if fix:
        return f"{counted(fix, 'thing')} to fix first"
    if look:
        return f"Look again at {counted(look, 'thing')}"
    if plan.doubtful:
        return "Check what I read first"
    if not plan.layout.lights:
        return "No lights on this card yet"
    return READY if plan.traces is not None else "No tape laid yet"


def verdict_after_moves(plan: Plan) -> str:
    """What a plan with its marks moved comes to, as its verdict goes on."""
    fix, look = len(plan.must_fix), len(plan.problems) - len(plan.must_fix)
    if fix:
        return f"{counted(fix, 'thing')} left to fix then"
    if look:
        return f"then look again at {counted(look, 'thing')}"
    return "then it can be taped, if I read it rightly" if plan.doubtful else "then it can be taped"


def numbered_problems(plan: Plan) -> tuple[tuple[int, Problem], ...]:
    """The problems as pictures and lists number them: what must be fixed first, else in the plan's order."""
    ordered = sorted(plan.problems, key=lambda problem: problem.level != "must-fix")
    return tuple(enumerate(ordered, start=1))


def problem_figures(problem: Problem, units: Units) -> str:
    """The measured size with its uncertainty and limit; "" where the advice states it already."""
    # Milliamperes and the like are told by the advice alone: how they are rounded is its business.
    if problem.measured is None or problem.unit not in ("mm", "deg"):
        return ""
    measured = amount(problem.measured, problem.unit, units)
    nothing = amount(0.0, problem.unit, units)
    # Below nothing (one thing inside another), and nothing itself, say little as bare numbers: leave it to the advice.
    if measured in problem.advice or problem.measured < 0 or measured == nothing:
        return ""
    text = f"Measured {measured}"
    give = amount(problem.uncertainty, problem.unit, units)
    if give != nothing:
        text += f", give or take {give}"
    if problem.limit is not None:
        text += f"; the limit is {amount(problem.limit, problem.unit, units)}"
    return f"{text}."


def amount(value: float, unit: str, units: Units) -> str:
    """A figure of a problem that is measured in millimetres or degrees."""
    return f"{value:.0f}°" if unit == "deg" else format_length(value, units)


def move_words(move: Move, units: Units) -> str:
    """`move L3 2.1 mm left and 0.4 mm down`."""
    if move.by_mm < _LEAST_MOVE_MM:
        return f"move {mark_name(move.about)} as the overlay shows"
    return f"move {mark_name(move.about)} {format_shift(move.from_mm, move.to_mm, units, least_mm=0.0)}"


def units_of_moves(plan: Plan, units: Units) -> Units:
    """The units that the suggested moves are told in where a page is in `units`: those whose finest lengths their steps
    are whole numbers of, since a move of 0.5 mm rounded to 1/32 in is not the one that was checked. As asked for where
    an older plan doesn't say."""
    step_mm = plan.moves_found.grid_mm if plan.moves_found is not None else 0.0
    of_both: tuple[Units, ...] = (units, "mm", "in")
    whole = (
        one for one in of_both if abs(step_mm / FINEST_MM[one] - round(step_mm / FINEST_MM[one])) < _WHOLE
    )
    return next(whole, units)


def how_small(plan: Plan, units: Units) -> str:
    """Whether smaller moves than those suggested would do, as a sentence; "" where none are suggested."""
    found = plan.moves_found
    if not plan.moves or found is None:  # an older plan doesn't say
        return ""
    if not found.least:
        return "These are the smallest moves I found; smaller ones may do."
    if found.grid_mm == 0:
        return "No smaller moves do."
    return f"No smaller moves do, tried in steps of {format_length(found.grid_mm, units)}."


def new_place(move: Move, card: Card, units: Units) -> str:
    """`to 31.0 mm from the left edge and 12.4 mm from the top`: where to pencil it, by a ruler. In
    inches to the nearest 1/32, while the move itself is a whole number of them."""
    return f"to {'about ' if units == 'in' else ''}{from_edges(move.to_mm, card, units)}"


def joint_or_moves(plan: Plan, units: Units) -> str:
    """What a maker can choose between where no single lane passes all lights; "" for a card that has one."""
    if plan.traces is None or not plan.branches:
        return ""
    # Each place has an `and` of its own.
    places = "; and ".join(from_edges(one.at_mm, plan.layout.card, units) for one in joints_of(plan.traces))
    joints = {1: "one joint", 2: "two joints"}.get(len(plan.branches), f"{len(plan.branches)} joints")
    join = f"make {joints}, {places}"
    if plan.moves:
        return f"No single lane passes all lights: either move {listed(move.about for move in plan.moves)}, or {join}."
    if plan.leave_out:
        return f"No single lane passes all lights: either leave {listed(plan.leave_out)} out, or {join}."
    return f"No single lane passes all lights: {join}."


def moves_heading(plan: Plan) -> str:
    """What stands over the suggested moves."""
    return "Or move these, and no joint is needed" if plan.branches else "Moves that mend it"


def other_ways(plan: Plan) -> tuple[str, ...]:
    """What else would mend the card: lights to leave out, where that is no choice told already, and other parts that
    were tried; and what was not looked for."""
    told = not plan.leave_out or bool(plan.branches)
    ways: tuple[str, ...] = (
        () if told else (f"Without {listed(plan.leave_out)} the rest can be taped as it is drawn.",)
    )
    if plan.branches_not_sought:
        ways += ("Side branches were not looked for, since such small moves mend the card.",)
    return ways + plan.alternatives


def own_lines(plan: Plan) -> str:
    """What kinds of fault the circuit lines that the maker pencilled would have as tape; "" for none."""
    found = Counter(problem.name for problem in plan.drawn_problems)
    if not found:
        return ""
    kinds = [f"{_KINDS.get(name, name)} ({number})" for name, number in found.most_common()]
    return f"Taped as you pencilled them, your own lines would have {listed(kinds)}: follow the traces drawn here."


def doubts(plan: Plan, units: Units) -> tuple[str, ...]:
    """Every doubt as a sentence, the label in front where it is about a light; an unsure mark that no doubt
    is about gets one."""
    reading = plan.reading
    remarks = reading.doubts if reading is not None else ()
    labels = {light.label for light in plan.layout.lights}
    said = []
    for remark in remarks:
        text = remark_words(remark, plan.layout.card, units)
        said.append(f"{remark.about}: {text}" if remark.about in labels else text)
    # Older files give sentences alone: there the unsure marks are among them.
    if all(remark.says.key != "as-said" for remark in remarks):
        about = {remark.about for remark in remarks}
        said += [f"I'm not sure about {mark_name(name)}." for name in plan.unsure_marks if name not in about]
    if reading is not None and not reading.sure and not said:
        said.append("I'm not sure that I read every mark.")
    return tuple(said)


def strip_words(trace_mm: float, units: Units) -> str:
    """The beginning of a sentence for a trace as wide as a whole tape, which most who say it mean; it goes on with how
    to say so."""
    trace, strip = limit_length(trace_mm, units), limit_length(2 * trace_mm, units)
    return f"Each trace is {trace} wide, so the strip is {strip} wide. If your tape is {trace} wide and you split it"
