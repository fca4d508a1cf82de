"""What the archive's commands print: tables, one design in full, what `check` found; in a crafter's words.

In:    designs and reports.
Out:   lines no wider than asked for.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import chain, islice
from typing import TYPE_CHECKING

from circuit.lengths import format_length
from cli.archive.kept_design import Design, Facts
from cli.screen import in_lines

if TYPE_CHECKING:
    from circuit.plan import Plan
    from circuit.settings import Units
    from cli.archive.health import Health

LEAST_WIDTH, MOST_WIDTH = 30, 110  # chosen
NARROW = 72  # chosen: below it a table's title would be a few letters, so each design takes two lines
_HEADS = ("No.", "Title", "Lights", "Card", "Cell", "State", "Kept")
_RIGHT = (True, False, True, False, False, False, False)  # numbers stand at the right of their column
_TITLE = 1
_END_PART = 3  # chosen: of a title that is cut, a third is its end
_GAP = "  "
_FIRST = 200  # chosen
_LEAST_TITLE = 12  # chosen: letters; a word or two
_HASH_LETTERS = 12  # chosen: of a SHA-256, enough to find the file by
_KB = 1000  # as drives and networks count
_TO_WHOLE_KB = 999_500  # from here on it rounds to 1000 kB, which is 1.0 MB
_NAMED = 3  # chosen: designs named for one damaged file


def table(designs: Iterable[Design], width: int) -> Iterator[str]:
    """One line a design; the title takes what the other columns leave. The first of them settle how
    wide the columns are, so that ten thousand need not be in memory."""
    if width < NARROW:
        yield from _narrow(designs, width)
        return
    coming = iter(designs)
    first = [_HEADS, *(_row(design) for design in islice(coming, _FIRST))]
    widths = [max(_wide(row[i]) for row in first) for i in range(len(_HEADS))]
    others = sum(widths) - widths[_TITLE] + len(_GAP) * (len(_HEADS) - 1)
    widths[_TITLE] = min(widths[_TITLE], max(_LEAST_TITLE, min(width, MOST_WIDTH) - others))
    for row in chain(first, map(_row, coming)):
        yield _line(row, widths)


def _narrow(designs: Iterable[Design], width: int) -> Iterator[str]:
    """For a small terminal: number and title, and under them the rest."""
    for design in designs:
        number, title, lights, card, cell, state, kept = _row(design)
        yield _cut(f"{number}  {title}", width)
        said = ", ".join((count(int(lights), "light"), card, cell, state, kept))
        yield from (_cut(line, width) for line in wrapped(said, width, "    ", "    "))


def _row(design: Design) -> tuple[str, ...]:
    facts = design.facts
    return (
        str(design.number),
        design.title,
        str(facts.lights),
        card_words(facts),
        facts.cell or "-",
        state_words(facts),
        day(design.kept),
    )


def card_words(facts: Facts) -> str:
    """The card's everyday name, or its sides in millimetres."""
    return facts.card_size or f"{facts.card_width_mm:.0f} x {facts.card_height_mm:.0f} mm"


def state_words(facts: Facts) -> str:
    """Whether the card can be taped as it is."""
    if facts.must_fix:
        return f"{facts.must_fix} to fix"
    if facts.look_again:
        return f"look at {facts.look_again}"
    return "not sure" if facts.doubts else "ready"


def day(when: datetime) -> str:
    """The day as the maker's calendar had it."""
    return when.astimezone().strftime("%Y-%m-%d")


def one_line(design: Design) -> str:
    """`number 12, Harbour (3 lights, CR2032, quarter-letter, ready)`."""
    facts = design.facts
    words = [count(facts.lights, "light"), *([facts.cell] if facts.cell else [])]
    return f"number {design.number}, {design.title} ({', '.join([*words, card_words(facts), state_words(facts)])})"


def _lights_words(plan: Plan, lights: int) -> str:
    """`9, 5050 white, L3 blue`: single lights' own colours are told, too."""
    common = f"{lights}, {plan.settings.get('light', '?')} {plan.settings.get('colour', '')}".strip()
    asked = plan.source.asked if plan.source else None
    single = [text.replace("=", " ") for text in (asked.colours if asked else ()) if "=" in text]
    return ", ".join([common, *single])


def design_lines(design: Design, plan: Plan, units: Units, width: int) -> list[str]:
    """One design in full."""
    from circuit.telling import doubts, numbered_problems, verdict

    facts = design.facts
    card = f"{format_length(facts.card_width_mm, units)} x {format_length(facts.card_height_mm, units)}"
    tape = "no traces" if facts.tape_mm is None else f"{format_length(facts.tape_mm, units)} of traces in all"
    binned = "" if design.removed is None else f", in the bin since {day(design.removed)}"
    lines = [f"{design.number}  {design.title}", ""]
    about = [
        ("Card", f"{facts.card_size}, {card}" if facts.card_size else card),
        ("Lights", _lights_words(plan, facts.lights)),
        ("Cell", facts.cell or "not told"),
        ("Tape", tape),
        ("Tags", ", ".join(design.tags) or "none"),
        ("Kept", day(design.kept) + binned),
        ("Files", ", ".join(f"{file.name} ({size_words(file.size)})" for file in design.files)),
    ]
    for name, text in about:
        lines += wrapped(f"{name + ':':8}{text}", width, "  ", " " * 10)
    if design.note:
        lines.append("")
        for part in design.note.splitlines():
            lines += wrapped(part, width, "  ", "  ")
    lines += ["", *wrapped(f"{verdict(plan)}.", width, "  ", "  ")]
    for _, problem in numbered_problems(plan):
        lines += wrapped(f"{problem.advice} ({problem.name}, {problem.level})", width, "   - ", "     ")
    for doubt in doubts(plan, units):
        lines += wrapped(doubt, width, "   ? ", "     ")
    return lines


def health_lines(health: Health, width: int) -> list[str]:
    """What `check` found: what is bad first, then what was left lying about."""
    said = []
    for bad in health.bad:
        named = [f"{design.title} (number {design.number})" for design in bad.designs[:_NAMED]]
        more = len(bad.designs) - len(named)
        who = ", ".join(named) + (f" and {more} more" if more else "")
        said.append(f"{bad.file.name} of {who} is {bad.state} ({bad.file.sha256[:_HASH_LETTERS]}).")
    lines = [line for one in said for line in wrapped(one, width, "", "  ")]
    lines += slip_lines(health.bad_slips, width)
    outcome = (
        f"{health.files - len(health.bad)} sound, {len(health.bad)} not. If you have a spare copy of them anywhere, "
        "`pencilamp archive mend --look-in FOLDER` puts them back."
        if health.bad
        else "all sound."
    )
    whole = f"{count(health.designs, 'design')}, {count(health.files, 'file')}, {size_words(health.size)}: {outcome}"
    lines += wrapped(whole, width, "", "")
    if health.leftovers:
        left = f"An interrupted job left {count(health.leftovers, 'thing')} lying about, which does no harm"
        lines += wrapped(f"{left}; `pencilamp archive mend` tidies up.", width, "", "")
    return lines


def slip_lines(bad_slips: Sequence[tuple[int, str]], width: int) -> list[str]:
    """Designs that can't be shown, one line each."""
    said = "The slip of design number {} is damaged ({}); `pencilamp archive mend` sees to it."
    return [line for one in bad_slips for line in wrapped(said.format(*one), width, "", "  ")]


def size_words(size: int) -> str:
    """A file's size: `934 kB`, `4.1 MB`."""
    if size < _KB:
        return count(size, "byte")
    if size < _TO_WHOLE_KB:
        return f"{size / _KB:.0f} kB"
    return f"{size / 1e6:.1f} MB" if size < _TO_WHOLE_KB * _KB else f"{size / 1e9:.1f} GB"


def count(number: int, thing: str) -> str:
    """`1 design`, `2 designs`."""
    return f"{number:,} {thing}" if number == 1 else f"{number:,} {thing}s"


def wrapped(text: str, width: int, first: str, then: str) -> list[str]:
    """Lines of a sentence; a path in it stays in one piece, so that it can be copied."""
    return in_lines(text, max(LEAST_WIDTH, min(width, MOST_WIDTH)), first, then)


def _line(row: Iterable[str], widths: Sequence[int]) -> str:
    cells = []
    for text, wide, right in zip(row, widths, _RIGHT, strict=True):
        cut = _cut(text, wide)
        pad = " " * (wide - _wide(cut))
        cells.append(pad + cut if right else cut + pad)
    return _GAP.join(cells).rstrip()


def _cut(text: str, wide: int) -> str:
    """As much of a text's two ends as fits: several kept at once have one title, and differ at its end."""
    if _wide(text) <= wide:
        return text
    start, end = text[: wide - 1], text[-wide:]  # no sign is narrower than a column
    while end and _wide(end) > (wide - 1) // _END_PART:
        end = end[1:]
    end = end.lstrip()
    while start and _wide(start) > wide - 1 - _wide(end):
        start = start[:-1]
    return f"{start.rstrip()}…{end}"


def _wide(text: str) -> int:
    """Columns that a text takes on a terminal."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(ch) else 2 if unicodedata.east_asian_width(ch) in "WF" else 1
        for ch in text
    )
