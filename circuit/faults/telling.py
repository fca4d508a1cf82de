"""A ranking ready to be shown, on a terminal or a page: sentences, places, the test with its answers.

In:    a `FaultRanking`, the card, the maker's units.
Out:   a `DarkTold`.
Fails: never.
"""

from __future__ import annotations

from dataclasses import dataclass

from circuit.faults.rank import FaultRanking
from circuit.faults.words import (
    SOURCE,
    answer_words,
    by_design_words,
    cautions,
    fault_words,
    seen_words,
    share_words,
    told,
    trial_words,
    unexplained_words,
)
from circuit.layout import Card, Point
from circuit.settings import Units


@dataclass(frozen=True, slots=True)
class TrialTold:
    """What to try first, where, and its answers: (key for `after_trial`, words)."""

    text: str
    places_mm: tuple[Point, ...]
    answers: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class FaultTold:
    """One explanation: `likely`, `possible` ...; what it is and what to do, a text and a place for each fault in it."""

    how_likely: str
    texts: tuple[str, ...]
    places_mm: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class DarkTold:
    """What was seen; what to heed; the test; what it could be, the likeliest first; what that rests on."""

    seen: str
    notes: tuple[str, ...]
    test: TrialTold | None
    faults: tuple[FaultTold, ...]
    source: str = SOURCE


def tell(ranking: FaultRanking, card: Card, units: Units) -> DarkTold:
    """All that there is to say of a ranking."""
    trial, lapped = ranking.trial, ranking.lapped
    notes = (by_design_words(ranking), unexplained_words(ranking), *cautions(ranking))
    return DarkTold(
        seen=seen_words(ranking),
        notes=tuple(note for note in notes if note),
        test=None
        if trial is None
        else TrialTold(
            trial_words(trial, card, units, lapped), trial.places_mm, tuple(answer_words(trial).items())
        ),
        faults=tuple(
            FaultTold(
                share_words(one.share),
                tuple(fault_words(fault, card, units, lapped) for fault in one.faults),
                tuple(fault.places_mm[0] for fault in one.faults),
            )
            for one in told(ranking)
        ),
    )
