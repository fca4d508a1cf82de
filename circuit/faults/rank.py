"""Rank what could be wrong by how well it explains which lights are dark, dim and lit.

In:    a card, its traces, the labels of its dark and of its dim lights; all others count as lit.
Out:   a `FaultRanking`: faults with their share of belief, the likeliest first, and the best thing to try.
Fails: UsageError for a label that is not on the card, for no label at all, for a card without traces.

Bayes' rule: how common a fault is, times how likely a card with it is described so. Two faults at once are
tried only where no single one explains what is seen.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from circuit.electrics.lifetime import CLEAR_MA, HARDLY_MA
from circuit.errors import UsageError
from circuit.faults.effect import Effect, GoodCard, effects, good_card, pair_effects
from circuit.faults.looks import BEST, DARK, DIM, LIT, likelihood
from circuit.faults.possible import Fault, possible_faults
from circuit.faults.trials import Trial, answer_chances, possible_trials
from circuit.layout import Layout, Traces
from circuit.part_kinds import MA_PER_A, LightPart
from circuit.settings import Settings

# One fault explains what is seen if it does so at least this well beside one that fits in every light. Chosen.
_EXPLAINS = 0.02
_MOST_PAIRED = 14  # faults of which pairs are made; more dark lights than that are one fault. Chosen
_UNLIKELY = 0.002  # share below which a fault has no say in what to try. Chosen
_OPEN = 0.2  # what an answer that can't be foreseen counts beside belief in the likeliest. Chosen


@dataclass(frozen=True, slots=True)
class RankedFault:
    """One explanation: a fault, or two that are there at once; its share of belief (0..1, while explanations are
    gathered a weight of any size); and `fit`, how likely what is seen is with it at best, which is the same for what
    can't be told apart."""

    faults: tuple[Fault, ...]
    share: float
    fit: float


@dataclass(frozen=True, slots=True)
class FaultRanking:
    """What could be wrong, the likeliest first; shares sum to 1.

    explained : whether the first explains all lights well; where not, more than two faults are there.
    trial : what to try first; None where nothing that can be tried tells more.
    lapped : how the card's corners are made. tried : what was tried already.
    by_design : of the named lights, those that get too little on this card even with nothing wrong; they say
        nothing of a fault, and where there is no other, `ranked` is empty.
    """

    dark: tuple[str, ...]
    dim: tuple[str, ...]
    ranked: tuple[RankedFault, ...]
    explained: bool
    trial: Trial | None
    lapped: bool
    tried: tuple[Trial, ...] = ()
    by_design: tuple[str, ...] = ()


def rank_faults(
    layout: Layout,
    traces: Traces | None,
    dark: Iterable[str],
    dim: Iterable[str] = (),
    settings: Settings | None = None,
    lights: Mapping[str, LightPart] | None = None,
) -> FaultRanking:
    """What explains that exactly these lights are dark and dim while the switch is pressed.

    Raises UsageError for a label that is not on the card, for none at all, and for a card without traces.
    """
    settings = settings or Settings()
    dark, dim = _known(layout, dark), _known(layout, dim)
    dim = tuple(label for label in dim if label not in dark)
    if traces is None:
        raise UsageError("This plan has no traces to look for a fault along; plan the card again first.")
    if not dark and not dim:
        raise UsageError("Name the lights that stay dark or are dim, such as L3.")
    card = good_card(layout, traces, settings, lights)
    said = np.array([DARK if name in dark else DIM if name in dim else LIT for name in card.labels])
    by_design = _weak_by_design(card, dark, dim)
    if {*dark, *dim} <= {*by_design}:
        return FaultRanking(dark, dim, (), True, None, settings.corners == "lapped", by_design=by_design)
    # Nor does a light tell that nobody misses, since it is weak anyhow.
    weak = MA_PER_A * card.good_a < CLEAR_MA
    telling = np.array([name not in by_design for name in card.labels]) & ~(weak & (said == LIT))
    singles = possible_faults(layout, traces, settings)
    found = [
        RankedFault((fault,), fault.common * likely, best)
        for fault, (likely, best) in _fits(singles, effects(card, singles), said, telling)
    ]
    ideal = _EXPLAINS * float(BEST[said[telling]].prod())
    if max(one.fit for one in found) < ideal:
        found += _pairs(card, singles, said, telling)
    explained = max(one.fit for one in found) >= ideal
    ranking = _ranking(dark, dim, found, explained, settings.corners == "lapped")
    return replace(ranking, by_design=by_design)


def after_trial(ranking: FaultRanking, answer: str) -> FaultRanking:
    """The ranking once its trial gave that one of its answers; ValueError for an answer that it can't give."""
    trial = ranking.trial
    if trial is None or answer not in trial.answers:
        raise ValueError(f"this ranking's trial has no answer {answer!r}")
    found = []
    for one in ranking.ranked:
        chance = _chances(trial, one.faults, ranking.lapped)[answer]
        found.append(RankedFault(one.faults, one.share * chance, one.fit * chance))
    tried = (*ranking.tried, trial)
    after = _ranking(ranking.dark, ranking.dim, found, ranking.explained, ranking.lapped, tried)
    return replace(after, by_design=ranking.by_design)


_ExplanationT = TypeVar("_ExplanationT")


def _fits(
    explanations: Sequence[_ExplanationT],
    solved: Sequence[Effect],
    said: NDArray[np.int_],
    telling: NDArray[np.bool_],
) -> list[tuple[_ExplanationT, tuple[float, float]]]:
    return [(one, likelihood(effect, said, telling)) for one, effect in zip(explanations, solved)]


def _weak_by_design(card: GoodCard, dark: Sequence[str], dim: Sequence[str]) -> tuple[str, ...]:
    """Of the lights that are named, those that look so with nothing wrong."""
    good_ma = dict(zip(card.labels, MA_PER_A * card.good_a))
    weak = {label for label in dark if good_ma[label] < HARDLY_MA}
    weak |= {label for label in dim if good_ma[label] < CLEAR_MA}
    return tuple(label for label in card.labels if label in weak)


def _ranking(
    dark: tuple[str, ...],
    dim: tuple[str, ...],
    found: Sequence[RankedFault],
    explained: bool,
    lapped: bool,
    tried: tuple[Trial, ...] = (),
) -> FaultRanking:
    total = sum(one.share for one in found) or 1.0
    ranked = tuple(
        RankedFault(one.faults, one.share / total, one.fit)
        for one in sorted(found, key=lambda one: -one.share)
    )
    return FaultRanking(dark, dim, ranked, explained, _best_trial(ranked, lapped, tried), lapped, tried)


def _known(layout: Layout, labels: Iterable[str]) -> tuple[str, ...]:
    """The card's own spelling of each label, in the card's order."""
    known = {mark.label.casefold(): mark.label for mark in layout.lights}
    asked = set()
    for label in labels:
        if label.strip().casefold() not in known:
            there = ", ".join(known.values()) or "none"
            raise UsageError(f"There is no light {label.strip()} on this card; its lights are {there}.")
        asked.add(known[label.strip().casefold()])
    return tuple(mark.label for mark in layout.lights if mark.label in asked)


def _pairs(
    card: GoodCard, singles: Sequence[Fault], said: NDArray[np.int_], telling: NDArray[np.bool_]
) -> list[RankedFault]:
    """Pairs of faults, neither of which darkens a light that is lit."""
    named = {label for label, look in zip(card.labels, said) if look != LIT}
    able = [
        fault
        for fault in singles
        if fault.kind in ("pads", "tape", "joint") and named.issuperset(fault.beyond)
    ]
    able = sorted(able, key=lambda fault: -fault.common)[:_MOST_PAIRED]
    pairs = [pair for pair in combinations(able, 2) if set(pair[0].beyond) != set(pair[1].beyond)]
    all_common = sum(fault.common for fault in singles)
    return [
        RankedFault(pair, pair[0].common * pair[1].common / all_common * likely, best)
        for pair, (likely, best) in _fits(pairs, pair_effects(card, pairs), said, telling)
    ]


def _best_trial(ranked: Sequence[RankedFault], lapped: bool, tried: Sequence[Trial]) -> Trial | None:
    """The trial after which the likeliest explanation is most to be believed, on average of its answers; of
    those that leave it as they found it, the one whose answer is least known beforehand. None where one
    explanation or nothing untried is all that is left."""
    likely = [one for one in ranked if one.share >= _UNLIKELY]
    if len(likely) < 2:
        return None
    best, most = None, 0.0
    for trial in possible_trials([fault for one in likely for fault in one.faults]):
        if trial in tried:
            continue
        chances = [_chances(trial, one.faults, lapped) for one in likely]
        answers = [
            [one.share * chance[answer] for one, chance in zip(likely, chances)] for answer in trial.answers
        ]
        known_beforehand = max(sum(shares) for shares in answers)
        told = trial.ease * (sum(max(shares) for shares in answers) + _OPEN * (1 - known_beforehand))
        if told > most:
            best, most = trial, told
    return best


def _chances(trial: Trial, faults: Sequence[Fault], lapped: bool) -> dict[str, float]:
    """Each answer's chance. Of two faults at once the one that the trial is about gives the answer."""
    each = [answer_chances(trial, fault, lapped) for fault in faults]
    return min(each, key=lambda chances: chances[trial.answers[-1]])
