"""What only the overlay says: its subtitle, its scale bar; all else is told by `circuit.telling`.

In:    a `Plan` and `Settings`.
Out:   plain text, lengths in the maker's units.
Fails: never.
"""

from __future__ import annotations

from circuit.layout import Card, Point
from circuit.lengths import MM_PER_INCH, format_length
from circuit.plan import Plan
from circuit.settings import Settings, Units
from circuit.telling import counted, doubts, verdict_after_moves
from circuit.whereabouts import place


def subtitle(plan: Plan, settings: Settings) -> str:
    """One line under the heading: what else there is, and what card this is."""
    fix, look = len(plan.must_fix), len(plan.problems) - len(plan.must_fix)
    parts = []
    if plan.corrected_from:
        parts.append(verdict_after_moves(plan))
    elif fix and look:
        parts.append(f"and {counted(look, 'thing')} to look at again")
    unsure = len(doubts(plan, settings.units))
    if unsure and (fix or look) and not plan.corrected_from:
        parts.append(f"{counted(unsure, 'doubt')} about the reading")
    parts.append(counted(len(plan.layout.lights), "light"))
    if plan.layout.battery is not None:
        parts.append(f"{settings.cell.name} cell")
    card = plan.layout.card
    width, height = (format_length(mm, settings.units) for mm in (card.width_mm, card.height_mm))
    # A line may break between the parts, not inside one.
    return " · ".join(part.replace(" ", "\u00a0") for part in [*parts, f"card {width} × {height}"])


def crossed_out_line(where_mm: Point, card: Card, units: Units) -> str:
    """That a struck-out dot was seen, and where."""
    return f"The crossed-out dot {place(*where_mm, card, units)} is left out."


def scale_length_mm(card_width_mm: float, units: Units) -> tuple[float, int]:
    """A round length for the scale bar, at most half the card's width, and its number of parts."""
    choices = ((50.0, 5), (20.0, 4), (10.0, 2), (5.0, 5), (1.0, 1))
    if units == "in":
        choices = (
            (2 * MM_PER_INCH, 4),
            (MM_PER_INCH, 4),
            (MM_PER_INCH / 2, 4),
            (MM_PER_INCH / 4, 2),
            (MM_PER_INCH / 32, 1),
        )
    for length_mm, parts in choices:
        if length_mm <= card_width_mm / 2:
            return length_mm, parts
    return choices[-1]


def round_length(mm: float, units: Units) -> str:
    """A length without an empty decimal: `50 mm`."""
    return format_length(mm, units).replace(".0 mm", " mm")
