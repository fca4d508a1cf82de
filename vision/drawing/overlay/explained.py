"""What the overlay says: the line under its heading; below the card problems, moves, doubts, the key.

Only what this card has, in the maker's units; its sentences are told by `circuit.telling`.
"""

from __future__ import annotations

from circuit import telling
from circuit.layout import Problem
from circuit.lengths import format_length
from circuit.plan import Plan
from circuit.settings import Settings
from circuit.whereabouts import place
from vision.drawing.draw_card import crossed_places
from vision.drawing.draw_signs import (
    callout_sign,
    draw_dot,
    draw_question,
    draw_struck_out,
    draw_trouble,
    move_sign,
)
from vision.drawing.key import key_rows
from vision.drawing.look import ON_PHOTO
from vision.drawing.rows import Row
from vision.drawing.subject import Subject

# Chosen: what fills three phone screens; every pair of thirty lights in one place is a problem, too.
MOST_PROBLEMS = 30


def listed_problems(plan: Plan) -> tuple[tuple[int, Problem], ...]:
    """The problems that the picture shows, with their numbers."""
    return telling.numbered_problems(plan)[:MOST_PROBLEMS]


def subtitle(plan: Plan, settings: Settings) -> str:
    """One line under the heading: what else there is, and what card this is."""
    fix, look = len(plan.must_fix), len(plan.problems) - len(plan.must_fix)
    parts = []
    if plan.corrected_from:
        parts.append(telling.verdict_after_moves(plan))
    elif fix and look:
        parts.append(f"and {telling.counted(look, 'thing')} to look at again")
    unsure = len(telling.doubts(plan, settings.units))
    if unsure and (fix or look) and not plan.corrected_from:
        parts.append(f"{telling.counted(unsure, 'doubt')} about the reading")
    parts.append(telling.counted(len(plan.layout.lights), "light"))
    if plan.layout.battery is not None:
        parts.append(f"{settings.cell.name} cell")
    card = plan.layout.card
    width, height = (format_length(mm, settings.units) for mm in (card.width_mm, card.height_mm))
    # A line may break between the parts, not inside one.
    return " · ".join(part.replace(" ", "\u00a0") for part in [*parts, f"card {width} × {height}"])


def explaining_rows(subject: Subject) -> tuple[Row, ...]:
    """The rows from the first problem to the last sample."""
    return (*_problems(subject), *_moves(subject), *_doubts(subject), *_own_lines(subject), *_key(subject))


def _problems(subject: Subject) -> list[Row]:
    plan = subject.plan
    # Not where the plan is shown for something else, such as a fault on the built card.
    asked = any(problem.name == "joint" for problem in plan.problems)
    rows = [Row(telling.joint_or_moves(plan, subject.settings.units), draw_dot)] if asked else []
    for number, problem in listed_problems(plan):
        measured = telling.problem_figures(problem, subject.settings.units)
        rows.append(Row(problem.advice, callout_sign(str(number), problem.level), measured))
    more = len(plan.problems) - MOST_PROBLEMS
    if more > 0:
        rows.append(
            Row(f"And {more} more, not listed here: mend these first and plan the card again.", draw_dot)
        )
    return rows


def _moves(subject: Subject) -> list[Row]:
    plan = subject.plan
    rows = [Row(way, draw_dot) for way in telling.other_ways(plan)]
    moves = []
    for move in plan.moves:
        way = (move.to_mm[0] - move.from_mm[0], move.to_mm[1] - move.from_mm[1])
        units = subject.settings.units
        where = telling.sentence(telling.new_place(move, plan.layout.card, units))
        moves.append(Row(telling.sentence(telling.move_words(move, units)), move_sign(way), where))
    title = "Without a joint" if plan.branches else "What would mend it"
    how = telling.how_small(plan, subject.settings.units)
    moves += [Row(how, draw_dot)] if moves and how else []
    return [Row(title, title=True), *moves, *rows] if moves or rows else []


def _doubts(subject: Subject) -> list[Row]:
    plan, units = subject.plan, subject.settings.units
    rows = [Row(doubt, draw_question) for doubt in telling.doubts(plan, units)]
    left_out = [
        Row(f"The crossed-out dot {place(*where_mm, plan.layout.card, units)} is left out.", draw_struck_out)
        for where_mm in plan.seen.crossed_out
    ]
    doubted = [Row("Where I'm not sure", title=True), *rows] if rows else []
    return [*doubted, *([Row("What does not count", title=True), *left_out] if left_out else [])]


def _own_lines(subject: Subject) -> list[Row]:
    plan = subject.plan
    told = telling.own_lines(plan)
    return (
        [Row("Your own lines", title=True), Row(told, draw_trouble if crossed_places(subject) else draw_dot)]
        if told
        else []
    )


def _key(subject: Subject) -> list[Row]:
    rows = key_rows(subject, ON_PHOTO, to_build=False)
    return [Row("What is drawn", title=True), *rows] if rows else []
