"""A mended card with its marks moved by whole steps that can be told and done, and by as few of them as may be.

In:    the card as drawn, its `Needs`, the router, a mended card.
Out:   a mended card whose moved marks lie whole steps from where they were drawn, or None.
Fails: `UsageError` for a limit that no rule has.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from circuit.arrays import Floats
from circuit.layout import Layout, Traces
from circuit.moves.asked_shift import total_mm
from circuit.moves.needs import Needs
from circuit.moves.on_grid import EACH_MARK_MM, grid_mm, lights_to_move, nearest_cards, places_about
from circuit.moves.router import Router
from circuit.moves.shift import least_and_missing, marks_of, with_marks

# Cards nearer than the one found that may have no lane before the search for the least is given up: chosen.
_MOST_WITHOUT_LANE = 2
# Below this a shift is not worth asking the router whether it could be saved: chosen. [mm]
WORTH_SAVING_MM = 0.5
_EXACT_MM = 2e-3  # a total that is this near to what the rules ask for at least is the least


@dataclass(frozen=True)
class Mended:
    """A card that keeps every rule, with its lane and how far its marks were moved in all. `least` : no smaller move on
    the grid mends it, all marks that break no rule staying where they are."""

    layout: Layout
    traces: Traces
    total_mm: float
    least: bool = False


def settled(home: Layout, router: Router, best: Mended, trial: Layout) -> Mended | None:
    """A trial card as the mended one, whatever it moves, if the best's lane or another goes through it; else None."""
    likely = best.traces
    traces = likely if router.keeps(trial, likely) else router.lane(trial)
    return None if traces is None else Mended(trial, traces, total_mm(home, trial))


def in_whole_steps(home: Layout, router: Router, best: Mended) -> Mended | None:
    """Marks moved by whole steps, where a lane still goes through; None where one finds no place."""
    found: Mended | None = best
    for k in sorted(_moved(home, best)):
        found = found and _with_one_in_steps(home, router, found, k)
    return found


def _with_one_in_steps(home: Layout, router: Router, best: Mended, k: int) -> Mended | None:
    """One mark on the step nearest to its place that the lane follows, or on one nearer to its home by so much that it
    is worth asking the router for another lane. Asked for each step in turn, the router has no work left for those that
    do: the steps nearest to its home are those that no lane goes through."""
    start, wanted = marks_of(home)[k], marks_of(best.layout)[k]
    places = places_about(wanted, start, grid_mm(home, k, router.settings.units))
    by_nearness = (
        _placed(best.layout, k, place) for place in sorted(places, key=lambda p: math.dist(p, wanted))
    )
    followed = next((trial for trial in by_nearness if router.keeps(trial, best.traces)), None)
    enough_mm = math.inf if followed is None else math.dist(marks_of(followed)[k], start) - WORTH_SAVING_MM
    for place in places:
        if math.dist(place, start) > enough_mm + _EXACT_MM:
            break
        found = settled(home, router, best, _placed(best.layout, k, place))
        if found is not None:
            return found
    return None if followed is None else settled(home, router, best, followed)


def _placed(layout: Layout, k: int, place: Floats) -> Layout:
    marks = marks_of(layout)
    marks[k] = place
    return with_marks(layout, marks)


def with_less_to_do(home: Layout, needs: Needs, router: Router, best: Mended) -> Mended:
    """The card that is least to do on the grid (`EACH_MARK_MM`), where one or two lights broke a rule; and whether
    there is none with less."""
    moved = _moved(home, best)
    least, _ = least_and_missing(home, needs, marks_of(home))
    if len(moved) == 1 and best.total_mm <= least + _EXACT_MM:
        return replace(best, least=True)
    lights = lights_to_move(home, needs)
    if lights is None:
        return best
    to_do_mm = best.total_mm + EACH_MARK_MM * len(moved)
    cards = nearest_cards(home, needs, lights, to_do_mm - _EXACT_MM, router.settings.units)
    if cards is None:
        return best
    without_lane = 0
    for _, trial in cards:
        if not router.keeps(trial, None):
            continue
        found = settled(home, router, best, trial)
        if found is not None:
            best = found
            break
        without_lane += 1
        if without_lane == _MOST_WITHOUT_LANE:
            return best
    return replace(best, least=without_lane == 0 and _moved(home, best) <= set(lights))


def _moved(home: Layout, best: Mended) -> set[int]:
    """The marks that a mended card moves."""
    shift = marks_of(best.layout) - marks_of(home)
    return {int(k) for k in np.flatnonzero(np.hypot(*shift.T) > 0)}
