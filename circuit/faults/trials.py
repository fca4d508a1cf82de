"""What a maker can try with bare hands and a scrap of tape, and how likely each fault gives each answer.

In:    the faults of a card.
Out:   `Trial`s with their answers; the chance of each answer on a card with one fault.
Fails: never.

How surely a trial answers: chosen, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from circuit.faults.possible import Fault, Kind
from circuit.layout import Point

TrialKind = Literal["press", "bridge", "lift-light", "cell-by-hand", "new-cell", "part-tapes"]

# Each trial's answers, the last one where nothing comes of it.
ANSWERS: dict[TrialKind, tuple[str, ...]] = {
    "press": ("brighter", "same"),
    "bridge": ("brighter", "same"),
    "lift-light": ("lit-as-it-lay", "lit-turned", "dark"),
    "cell-by-hand": ("lit", "lit-but-it-lay-turned", "dark"),
    "new-cell": ("brighter", "same"),
    "part-tapes": ("brighter", "same"),
}
# Of two trials that tell as much the easier one is told: lifting a stuck light may spoil it.
_EASE: dict[TrialKind, float] = {
    "press": 1.0,
    "cell-by-hand": 0.97,
    "bridge": 0.95,
    "part-tapes": 0.95,
    "new-cell": 0.95,
    "lift-light": 0.97,
}
_SINGLES_OUT: dict[Kind, tuple[TrialKind, ...]] = {
    "flap": ("press", "cell-by-hand"),
    "cell-turned": ("cell-by-hand",),
    "pads": ("press", "lift-light"),
    "turned": ("lift-light",),
    "dead": ("lift-light",),
    "tape": ("press", "bridge"),
    "joint": ("press", "bridge"),
    "touching": ("part-tapes",),
    "cell-spent": ("new-cell",),
}
_SURE = 0.95
_MOSTLY = 0.9
_TORN_PRESSED = 0.6  # a torn fold pressed together lights up at best while it is held
_CHANCE = 0.02  # an answer that comes by chance, or because the wrong thing was touched


@dataclass(frozen=True, slots=True)
class Trial:
    """One thing to try. `light`, `trace`, `between` as in `Fault`; `places_mm` where to do it."""

    kind: TrialKind
    light: str | None
    trace: Literal["positive", "negative"] | None
    between: tuple[str, str]
    places_mm: tuple[Point, ...]

    @property
    def ease(self) -> float:
        return _EASE[self.kind]

    @property
    def answers(self) -> tuple[str, ...]:
        return ANSWERS[self.kind]


def possible_trials(faults: Sequence[Fault]) -> tuple[Trial, ...]:
    """Each trial that would single out one of these faults, none twice."""
    return tuple(
        dict.fromkeys(
            Trial(kind, fault.light, fault.trace, fault.between, fault.places_mm)
            for fault in faults
            for kind in _SINGLES_OUT[fault.kind]
        )
    )


def answer_chances(trial: Trial, fault: Fault, lapped: bool) -> dict[str, float]:
    """How likely each answer of this trial is on a card with this fault."""
    told, how_surely = _told(trial, fault, lapped)
    others = [answer for answer in trial.answers if answer != told]
    rest = dict.fromkeys(others[:-1], _CHANCE)
    return {told: how_surely, **rest, others[-1]: 1 - how_surely - sum(rest.values())}


def _told(trial: Trial, fault: Fault, lapped: bool) -> tuple[str, float]:
    """The likeliest answer and how likely it is."""
    nothing = (trial.answers[-1], 1 - _CHANCE * (len(trial.answers) - 1))
    if (trial.light, trial.trace, trial.between) != (fault.light, fault.trace, fault.between):
        return nothing
    match trial.kind, fault.kind:
        case "press", "tape":
            return "brighter", _MOSTLY if lapped else _TORN_PRESSED
        case "press", "pads" | "flap" | "joint":
            return "brighter", _MOSTLY
        case ("bridge", "tape" | "joint") | ("new-cell", "cell-spent") | ("part-tapes", "touching"):
            return "brighter", _SURE
        case "lift-light", "pads":
            return "lit-as-it-lay", _SURE
        case "lift-light", "turned":
            return "lit-turned", _SURE
        case "cell-by-hand", "flap":
            return "lit", _SURE
        case "cell-by-hand", "cell-turned":
            return "lit-but-it-lay-turned", _SURE
    return nothing
