"""What a plan comes to, in a crafter's words: the verdict first, then each problem with what to do.

In:    a planned card and the files that were written.
Out:   lines of text, wrapped to the given width.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from circuit.cautions import summary_cautions
from circuit.layout import Problem
from circuit.lengths import format_length, limit_length
from circuit.plan import Plan
from circuit.settings import Settings
from circuit.telling import (
    CORNER_WORDS,
    counted,
    doubts,
    how_small,
    joint_or_moves,
    listed,
    move_words,
    moves_heading,
    numbered_problems,
    verdict,
)
from cli.screen import WIDEST, in_lines

_ITEM_INDENT = 6  # under an item's text, past its number of two digits


def plan_summary(
    plan: Plan,
    settings: Settings,
    name: str,
    notes: Sequence[str] = (),
    written: Sequence[Path] = (),
    width: int = WIDEST,
) -> str:
    """All that the command prints for one card.

    `notes` are further ready sentences (foam, how long the cell lasts, what was kept aside).
    """
    wrap = Wrapper(min(width, WIDEST))
    lines = [f"{name}: {verdict(plan)}.", *wrap.plain(f"{_card_line(plan, settings)}", "  ")]
    if plan.traces is not None:
        lines += wrap.plain(_tape_line(plan, settings), "  ")
    if plan.branches:
        lines += wrap.plain(joint_or_moves(plan, settings.units), "  ")
    numbered = numbered_problems(plan)
    for title, level in (("To fix:", "must-fix"), ("To look at again:", "look-again")):
        lines += _problem_block(wrap, title, [item for item in numbered if item[1].level == level])
    if plan.moves:
        how = how_small(plan, settings.units)
        lines += ["", *wrap.plain(f"{moves_heading(plan)}:", "  ")]
        lines += [
            line
            for move in plan.moves
            for line in wrap.item("-", f"{move_words(move, settings.units)} ({move.why})")
        ]
        lines += wrap.plain(how, "  ") if how else []
    unsure = doubts(plan, settings.units)
    if unsure:
        lines += ["", "  I'm not sure about this:"]
        lines += [line for doubt in unsure for line in wrap.item("?", doubt)]
    if notes:
        lines += ["", "  Good to know:"]
        lines += [line for note in notes for line in wrap.item("-", note)]
    if written:
        lines += ["", *_written_block(wrap, written)]
    return "\n".join(lines)


def _card_line(plan: Plan, settings: Settings) -> str:
    layout, units = plan.layout, settings.units
    card = layout.card
    size = f"{format_length(card.width_mm, units)} x {format_length(card.height_mm, units)}"
    words = [f"{card.size} card, {size}" if card.size else f"Card {size}"]
    words.append(counted(len(layout.lights), "light"))
    if layout.battery is not None:
        words.append(f"battery circle {format_length(layout.battery.diameter_mm, units)} across")
    if layout.window is not None:
        words.append("a window")
    text = ", ".join(words)
    reading = plan.reading
    if reading is not None:
        text += f". Places are good to {format_length(reading.uncertainty_mm, units)}" + (
            "" if units == "mm" else f" ({reading.uncertainty_mm:.1f} mm)"
        )
    return text + "."


def _tape_line(plan: Plan, settings: Settings) -> str:
    """The one length that matters at the table, the same as on the build sheet."""
    from circuit.tape_list import tape_list
    from vision.drawing.subject import subject_of

    assert plan.traces is not None
    tapes = tape_list(plan.traces, subject_of(plan, settings).switch, settings)
    wide = limit_length(tapes.strip_width_mm, settings.units)
    first, *others = (limit_length(mm, settings.units) for mm in tapes.strips_mm)
    strips = listed([f"one strip of {first}", *(f"one of {other}" for other in others)])
    plus, minus = (
        sum(path.folds for path in paths)
        for paths in (
            (tapes.positive, *(branch.positive for branch in tapes.branches)),
            (tapes.negative, *(branch.negative for branch in tapes.branches)),
        )
    )
    corner = CORNER_WORDS[settings.corners]
    folds = (
        f"{counted(plus, corner)} in each"
        if plus == minus
        else f"{counted(plus, corner)} in the +, {minus} in the −"
    )
    split = "split each lengthwise" if others else "split it lengthwise"
    return f"Tape: cut {strips}, {wide} wide, and {split}; {folds}."


def _problem_block(wrap: Wrapper, title: str, problems: Sequence[tuple[int, Problem]]) -> list[str]:
    if not problems:
        return []
    lines = ["", f"  {title}"]
    for number, problem in problems:
        lines += wrap.item(f"{number}.", f"{problem.advice} ({problem.name})")
    return lines


def _written_block(wrap: Wrapper, written: Sequence[Path]) -> list[str]:
    first, *others = written
    lines = wrap.plain(f"Look at {first}", "  ")
    if others:
        lines += wrap.plain("Also there: " + ", ".join(path.name for path in others) + ".", "  ")
    return lines


class Wrapper:
    """Text broken into lines of so many columns, 40 at least."""

    def __init__(self, width: int) -> None:
        self.width = width

    def plain(self, text: str, indent: str) -> list[str]:
        """Lines that all begin with `indent`."""
        return in_lines(text, self.width, indent)

    def item(self, bullet: str, text: str) -> list[str]:
        """Lines of a list's item, behind its bullet or number."""
        return in_lines(text, self.width, f"  {bullet:>3} ", " " * _ITEM_INDENT)


def cautions(width: int = WIDEST) -> str:
    """What is said once a run, below everything, wherever a cell comes into play."""
    wrap = Wrapper(min(width, WIDEST))
    lines = [line for caution in summary_cautions() for line in wrap.item("!", caution)]
    return "\n".join(["", *lines])
