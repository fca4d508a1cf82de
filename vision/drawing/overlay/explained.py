"""What the overlay says below its card: problems, moves, doubts, the key; only what this card has."""

from __future__ import annotations

from circuit import telling
from vision.drawing.draw_signs import callout_sign, draw_dot, draw_question, draw_struck_out, move_sign
from vision.drawing.key import key_rows
from vision.drawing.look import ON_PHOTO
from vision.drawing.overlay import words
from vision.drawing.rows import Row
from vision.drawing.subject import Subject

_MOST_DRAWN_TROUBLES = 4  # chosen: the picture is about the tape that it shows


def explaining_rows(subject: Subject) -> tuple[Row, ...]:
    """The rows from the first problem to the last sample."""
    return (*_problems(subject), *_moves(subject), *_doubts(subject), *_own_lines(subject), *_key(subject))


def _problems(subject: Subject) -> list[Row]:
    rows = []
    for number, problem in telling.numbered_problems(subject.plan):
        measured = telling.problem_figures(problem, subject.settings.units)
        rows.append(Row(problem.advice, callout_sign(str(number), problem.level), measured))
    return rows


def _moves(subject: Subject) -> list[Row]:
    plan = subject.plan
    rows = [Row(way, draw_dot) for way in telling.other_ways(plan)]
    moves = []
    for move in plan.moves:
        way = (move.to_mm[0] - move.from_mm[0], move.to_mm[1] - move.from_mm[1])
        moves.append(Row(telling.sentence(telling.move_words(move, subject.settings.units)), move_sign(way)))
    return [Row("What would mend it", title=True), *moves, *rows] if moves or rows else []


def _doubts(subject: Subject) -> list[Row]:
    plan, units = subject.plan, subject.settings.units
    rows = [Row(doubt, draw_question) for doubt in telling.doubts(plan, units)]
    left_out = [
        Row(words.crossed_out_line(where_mm, plan.layout.card, units), draw_struck_out)
        for where_mm in plan.seen.crossed_out
    ]
    doubted = [Row("Where I'm not sure", title=True), *rows] if rows else []
    return [*doubted, *([Row("What does not count", title=True), *left_out] if left_out else [])]


def _own_lines(subject: Subject) -> list[Row]:
    plan = subject.plan
    troubles = telling.own_line_troubles(plan) if plan.layout.drawn_lines else ()
    if not troubles:
        return []
    rows = [Row(trouble, draw_dot) for trouble in troubles[:_MOST_DRAWN_TROUBLES]]
    more = len(troubles) - _MOST_DRAWN_TROUBLES
    if more > 0:
        rows.append(Row(f"and {more} more like these, which the command lists.", draw_dot))
    return [Row("If you tape your own lines", title=True), *rows]


def _key(subject: Subject) -> list[Row]:
    rows = key_rows(subject, ON_PHOTO, to_build=False)
    return [Row("What is drawn", title=True), *rows] if rows else []
