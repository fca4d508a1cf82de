"""What is said once below several planned cards: what to have for all of them, and how many are ready.

In:    each card's plan and settings; each one's exit code.
Out:   two sentences.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from circuit.lengths import limit_length, long_length
from circuit.plan import Plan
from circuit.settings import Settings, Units
from circuit.telling import counted

_STATES = {
    (0, False): "ready",
    (0, True): "to look at again",
    (1, False): "with something to fix",
    (2, False): "not planned as asked",
    (3, False): "not readable",
    (4, False): "with file trouble",
}


@dataclass(frozen=True, slots=True)
class Needed:
    """What one card takes. lights : each one's part and colour. strips_mm : the strips to cut, each as wide as both
    traces, as its summary tells them; none while there are no traces."""

    cell: str
    lights: tuple[tuple[str, str], ...]
    strips_mm: tuple[float, ...]
    strip_width_mm: float


def needed_for(plan: Plan, settings: Settings) -> Needed:
    """What the card of this plan takes."""
    from circuit.tape_list import tape_list
    from vision.drawing.subject import subject_of

    strips: tuple[float, ...] = ()
    if plan.traces is not None:
        strips = tape_list(plan.traces, subject_of(plan, settings).switch, settings).strips_mm
    lit = plan.electrics
    colours = {light.label: light.colour for light in lit.fresh.lights} if lit else {}
    lights = tuple(
        (settings.light.name, colours.get(light.label, settings.light.colour)) for light in plan.layout.lights
    )
    return Needed(settings.cell.name, lights, strips, 2 * settings.tape_width_mm)


def needed_line(cards: Sequence[Needed], units: Units) -> str:
    """What to have for all cards that have traces; "" where none has. Foam and clear tape stand on each build sheet."""
    # Loads NumPy, whose room a large photo needs until it is open.
    from circuit.supplies import spare_lights

    taped = [card for card in cards if card.strips_mm]
    if not taped:
        return ""
    widths = sorted({card.strip_width_mm for card in taped})
    strips = {
        wide: [mm for card in taped if card.strip_width_mm == wide for mm in card.strips_mm]
        for wide in widths
    }
    lights = Counter(light for card in taped for light in card.lights)
    cells = Counter(card.cell for card in taped)
    which = f"all {len(taped)}"
    if len(taped) < len(cards):
        which = "the one that has traces" if len(taped) == 1 else f"the {len(taped)} that have traces"
    told = [
        *(
            f"{long_length(math.fsum(all_mm), units)} of copper tape {limit_length(wide, units)} wide, "
            f"in {counted(len(all_mm), 'strip')}"
            for wide, all_mm in strips.items()
        ),
        *(
            f"{counted(count, f'{colour} {part} light')} and {spare_lights(count)} to spare"
            for (part, colour), count in lights.most_common()
        ),
        *(counted(count, f"{cell} cell") for cell, count in cells.most_common()),
    ]
    return f"To have for {which}: {'; '.join(told)}. Foam and clear tape stand on each build sheet."


def batch_line(outcomes: Iterable[tuple[int, bool]]) -> str:
    """The last line for several photos: how many are ready, to look at again, to fix, unreadable, in trouble. Each as
    its exit code, and whether there is something to look at again."""
    counts = Counter((code, look_again and code == 0) for code, look_again in outcomes)
    told = ", ".join(f"{counts[state]} {words}" for state, words in _STATES.items() if counts[state])
    return f"In all: {told}."
