"""Which lights might go on branches: those that hang together at the ends of the shortest net through all of them.

In:    a layout with a battery circle; lights known to be dead ends, each of which could only be a lane's last.
Out:   sets of groups, each group the lights of one branch; what is likeliest to help comes first.
Fails: never.

A lane has two ends, and one of them is at the cell. A light in a corner can hardly be anything but a lane's last, and
lights at the ends of a net are what a lane passes worst, so these are tried first, in that order: single ones, then
whole arms of up to three, then two ends at once; two at once first where three lights lie in corners. (Of 9 made-up
cards that one branch mends, all were mended by one of their two most cornered lights.)

Where dead ends are known, they come before all others, and all but one of them have to go on branches: groups that
leave more on the lane can't help. (Of 8 made-up cards with dead ends 7 were mended, all by branches of dead ends.)
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import combinations

import numpy as np

from circuit.bounds import spanning_tree
from circuit.layout import Layout

MOST_ON_BRANCH = 3  # chosen: more of them are a lane of their own, and the card is drawn again
# Of way to two edges, together: a lane that turns round a light there takes 13 mm to each. Chosen.
_CORNER_MM = 26.0
_TIGHT_MM = 10.5  # from a trial of the rules: a light nearer than about this to two edges is a lane's last
_CORNERS_FOR_ONE_BRANCH = 2  # the lane's own end and the branch's
_MOST_SINGLES, _MOST_ARMS, _MOST_PAIRS = 6, 4, 6  # chosen: each asks for a lane through all the others

Groups = tuple[tuple[str, ...], ...]


def groups_to_try(layout: Layout, dead_ends: Collection[str] = ()) -> tuple[tuple[Groups, ...], ...]:
    """Sets of groups in three rounds: one light on a branch; several on one; two branches, which come first where one
    branch can't be enough. `dead_ends` : labels."""
    labels = [light.label for light in layout.lights]
    arms = _arms(layout)
    ends = [arm[0] for arm in arms if len(arm) == 1]
    cornered = sorted(
        range(len(labels)),
        key=lambda k: (labels[k] not in dead_ends, *_rank(_room(layout, k), k in ends, k)),
    )
    singles = [((labels[k],),) for k in cornered[:_MOST_SINGLES]]
    longer = [(tuple(labels[k] for k in arm),) for arm in arms if len(arm) > 1]
    at_ends = [(k,) for k in cornered[:_MOST_SINGLES]] + [arm for arm in arms if len(arm) > 1]
    place = {arm: number for number, arm in enumerate(at_ends)}
    pairs = sorted(
        (pair for pair in combinations(at_ends, 2) if not set(pair[0]) & set(pair[1])),
        key=lambda pair: (place[pair[0]] + place[pair[1]], pair),
    )
    two = [tuple(tuple(labels[k] for k in arm) for arm in pair) for pair in pairs]
    rounds = (
        tuple(_helpful(singles, dead_ends)),
        tuple(_helpful(longer, dead_ends)[:_MOST_ARMS]),
        tuple(_helpful(two, dead_ends)[:_MOST_PAIRS]),
    )
    in_corners = sum(_farther(layout, k) < _TIGHT_MM for k in range(len(labels)))
    only_last = len(dead_ends) or in_corners
    return (rounds[2], *rounds[:2]) if only_last > _CORNERS_FOR_ONE_BRANCH else rounds


def _helpful(sets: Sequence[Groups], dead_ends: Collection[str]) -> list[Groups]:
    """Those that leave no more than one dead end on the lane."""
    return [groups for groups in sets if len(set(dead_ends).difference(*groups)) <= 1]


def _arms(layout: Layout) -> list[tuple[int, ...]]:
    """Lights cut off from the battery by one link of the shortest net, few enough for a branch, the fewest first."""
    if layout.battery is None:
        return []
    places = np.array([layout.battery.centre, *(light.centre for light in layout.lights)])
    _, hangs_on = spanning_tree(np.hypot(*np.moveaxis(places[:, None] - places[None, :], 2, 0)))
    below: list[set[int]] = [{k} for k in range(len(places))]
    for k in range(1, len(places)):
        above = int(hangs_on[k - 1])
        while above > 0:
            below[above].add(k)
            above = int(hangs_on[above - 1])
    arms = {tuple(sorted(k - 1 for k in one)) for one in below[1:] if len(one) <= MOST_ON_BRANCH}
    return sorted(arms, key=lambda arm: (len(arm), arm))


def _rank(room_mm: float, at_end: bool, number: int) -> tuple[bool, float, bool, float, int]:
    """Corners first, the tightest first; then the net's ends; then what lies nearer to edges."""
    in_corner = room_mm < _CORNER_MM
    return (not in_corner, room_mm if in_corner else 0.0, not at_end, room_mm, number)


def _farther(layout: Layout, light: int) -> float:
    """From a light to the farther one of its two nearest edges, one across and one down. [mm]"""
    (x, y), card = layout.lights[light].centre, layout.card
    return max(min(x, card.width_mm - x), min(y, card.height_mm - y))


def _room(layout: Layout, light: int) -> float:
    """From a light to the nearer edge across plus the nearer edge down: least in a corner. [mm]"""
    (x, y), card = layout.lights[light].centre, layout.card
    return min(x, card.width_mm - x) + min(y, card.height_mm - y)
