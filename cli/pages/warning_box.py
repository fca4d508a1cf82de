"""The box on top of a build sheet that should not be built from as it is: why, and what to move.

In:    a `Build`, the room's width, how much may be said.
Out:   blocks; none for a card that is ready.
"""

from __future__ import annotations

from dataclasses import dataclass

from circuit import telling
from cli.pages import build_words
from cli.pages.build_data import Build
from cli.pages.flow import Block, gap
from vision.drawing.box import Box
from vision.drawing.colours import INK, PALE
from vision.drawing.lettering import BODY_PT, HEAD_PT, LABEL_PT, line_mm, wrapped
from vision.drawing.page_pen import PagePen
from vision.drawing.rows import write_lines

# Chosen by eye. [mm]
_SIDES_MM, _BAR_MM, _BESIDE_BAR_MM, _ABOVE_MM, _BELOW_BOX_MM = 8.0, 1.6, 5.0, 2.0, 5.0

_AIR_SHARE = 2.5  # of the air above: above, below, and a half between head and lines


@dataclass(frozen=True, slots=True)
class Most:
    """How much of each is told, in which size; the overlay shows them all."""

    problems: int
    moves: int
    doubts: int
    size_pt: float = BODY_PT


# From the fullest to the barest: a sheet that comes out longer than its two pages takes the next one. Chosen.
FULL, SHORT = Most(5, 4, 3), Most(2, 3, 1, LABEL_PT)
SHORTER, BARE = Most(1, 2, 1, LABEL_PT), Most(0, 2, 0, LABEL_PT)


def warning_box(build: Build, room: float, most: Most) -> list[Block]:
    """On top, in plain words: what must be fixed before this is worth building."""
    head = _head(build)
    if not head:
        return []
    inner, size = room - _SIDES_MM, most.size_pt
    head_lines = wrapped(head, HEAD_PT, inner, "bold")
    lines = [line for text in _texts(build, most) for line in wrapped(f"– {text}", size, inner)]
    height = len(head_lines) * line_mm(HEAD_PT) + len(lines) * line_mm(size) + _AIR_SHARE * _ABOVE_MM

    def draw(pen: PagePen, left: float, top: float) -> None:
        pen.shape([Box(left, top, room, height).corners], PALE)
        pen.shape([Box(left, top, _BAR_MM, height).corners], INK)
        x, y = left + _BESIDE_BAR_MM, top + _ABOVE_MM
        write_lines(pen, head_lines, x, y, HEAD_PT, weight="bold")
        write_lines(pen, lines, x, y + len(head_lines) * line_mm(HEAD_PT), size)

    return [Block(height, draw), gap(_BELOW_BOX_MM)]


def _head(build: Build) -> str:
    plan = build.plan
    if plan.traces is None:
        return "There is nothing to build from yet: no traces could be laid."
    if plan.must_fix:
        count = len(plan.must_fix)
        return f"Not ready to build: {'one thing' if count == 1 else f'{count} things'} must be fixed first."
    if plan.reading is not None and plan.reading.doubtful:
        return "Compare the picture with your card first: the reading is not sure of everything."
    if any(problem.level == "look-again" for problem in plan.problems):
        return "Look at this before you build."
    return ""


def _texts(build: Build, most: Most) -> list[str]:
    plan, units = build.plan, build.settings.units
    told = plan.must_fix or tuple(problem for problem in plan.problems if problem.level == "look-again")
    doubts = telling.doubts(plan, units)
    choice = telling.joint_or_moves(plan, units)
    texts = [choice] if choice else []
    texts += [build_words.problem_words(problem) for problem in told[: most.problems]]
    texts += build_words.move_lines(plan, units, most.moves)
    how = telling.how_small(plan, telling.units_of_moves(plan, units))
    texts += [how] if how and most.moves else []
    texts += doubts[: most.doubts]
    if plan.traces is None and not texts:
        return ["Draw lights and a battery circle, photograph the card and plan it again."]
    left_out = max(len(told) - most.problems, 0) + max(len(doubts) - most.doubts, 0)
    if left_out:
        others = "more" if len(texts) else ("thing" if left_out == 1 else "things")
        texts.append(f"{'And ' if texts else ''}{left_out} {others}: the overlay shows them all.")
    return texts
