"""All the numbers behind one card at one call: electrics, life, glow, stack; their problems, their notes.

In:    a layout, its traces (or none), settings, what differs from them.
Out:   a `CardNumbers`: problems to add to the plan's, JSON values for its extras, sentences for the summary.
Fails: ValueError for a label that is not on the card; UsageError is the callers' (names of parts).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from circuit.electrics import (
    FRESH,
    HALF_USED,
    CardElectrics,
    Lifetime,
    Wiring,
    current_note,
    electrics_problems,
    electrics_to_dict,
    lifetime,
    lifetime_to_dict,
    solve_card,
)
from circuit.glow import (
    GlowField,
    GlowSettings,
    GlowSuggestion,
    glow_field,
    glow_to_dict,
    suggest_glow,
)
from circuit.layout import Layout, Problem, Traces
from circuit.parts import FoamPart, LightPart, Parts, default_parts
from circuit.settings import Settings
from circuit.stack import Stack, stack_note, stack_of, stack_problems, stack_to_dict


@dataclass(frozen=True, slots=True)
class CardNumbers:
    """`glow` and `life` are None for a card without lights, `glow` also where no foam is known."""

    fresh: CardElectrics
    half_used: CardElectrics
    life: Lifetime | None
    stack: Stack
    glow: GlowField | None
    glow_suggestion: GlowSuggestion | None
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]

    def to_extras(self) -> dict[str, Any]:
        """Plain JSON values, one key a part, for `Plan.extras`."""
        glow = glow_to_dict(self.glow)
        if glow is not None and self.glow_suggestion is not None:
            glow["suggestion"] = self.glow_suggestion.sentence
        return {
            "electrics": electrics_to_dict(self.fresh, self.half_used),
            "lifetime": lifetime_to_dict(self.life),
            "stack": stack_to_dict(self.stack),
            "glow": glow,
        }


def card_numbers(
    layout: Layout,
    traces: Traces | None,
    settings: Settings,
    lights: Mapping[str, LightPart] | None = None,
    foam: Sequence[FoamPart] | None = None,
    parts: Parts | None = None,
    wiring: Wiring | None = None,
    glow: GlowSettings | None = None,
) -> CardNumbers:
    """Work all of it out.

    Parameters
    ----------
    lights : label -> part, for lights that are not `settings.light`.
    foam : the layers that the maker uses; None: the ones that would do are chosen and told.
    parts : the list that foams are chosen from.
    """
    foams = tuple((parts or default_parts()).foams.values())
    fresh = solve_card(layout, traces, settings, lights, FRESH, wiring)
    half = solve_card(layout, traces, settings, lights, HALF_USED, wiring)
    life = lifetime(layout, traces, settings, lights, wiring)
    stack = stack_of(settings, foam, (lights or {}).values(), foams)
    field = glow_field(layout, fresh, stack.foam_mm, glow) if stack.foam else None
    suggestion = suggest_glow(layout, fresh, settings, stack.foam_mm, foams, glow) if stack.foam else None
    return CardNumbers(
        fresh=fresh,
        half_used=half,
        life=life,
        stack=stack,
        glow=field,
        glow_suggestion=suggestion,
        problems=(
            *electrics_problems(layout, traces, settings, lights, wiring),
            *stack_problems(stack, layout, settings),
        ),
        notes=tuple(_notes(layout, half, settings, life, stack, field, suggestion)),
    )


def _notes(
    layout: Layout,
    half: CardElectrics,
    settings: Settings,
    life: Lifetime | None,
    stack: Stack,
    field: GlowField | None,
    suggestion: GlowSuggestion | None,
) -> list[str]:
    """Ready sentences, the ones that a maker asks for first."""
    notes = []
    if life is not None:
        notes.append(life.sentence)
    if layout.lights and half.total_ma <= settings.cell.pulse_ma:  # beyond it, a problem says so already
        notes.append(current_note(half, settings))
    if field is not None:
        where = "window" if field.has_window else "part round the lights"
        per_cent = "under 1 %" if field.evenness < 0.01 else f"{100 * field.evenness:.0f} %"
        notes.append(
            f"Behind {field.foam_mm:.1f} mm of foam the darkest place of the {where} gets {per_cent} of its average "
            f"light; one light shows as a spot about {field.spot_mm:.0f} mm wide."
        )
    if suggestion is not None:
        notes.append(suggestion.sentence)
    notes.append(stack_note(stack, settings))
    return [note for note in notes if note]
