"""Keep distant legs of one lane apart: search again with a price on what clashed.

The shortest path along an order knows only neighbouring legs. Where two distant runs of its lane
come too close, one of them is held and every leg of the other's place that would clash with it
gets dearer, on the side where that costs least; then the path is sought again. The prices
stay, so that the search can't run in a circle for long.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from circuit.arrays import Floats
from circuit.route.lane import Clash, Lane, clashes, headings, offset_line
from circuit.route.plane import Bools, Points, mitre, segment_to_segment
from circuit.route.tables import Extra, Solved, Tables

CLASH_PRICE_MM = 40.0  # chosen: a detour that costs less than this is taken at once
PATIENCE = 4  # chosen: rounds without fewer clashes before an order is given up
WORTH_A_LOOK_MM = 90.0  # legs dearer than the best lane by this are left as they are


def lane_without_clash(
    tables: Tables, order: Sequence[int], rounds: int, cost_limit: float = np.inf
) -> tuple[Lane | None, Solved | None, int]:
    """A clash-free lane along `order`, the picks of the best one met, and the fewest clashes met.

    No lane when no round gave one; no picks either when the order can't be laid at all or as
    soon as even a lane with clashes costs `cost_limit`.
    """
    extra: Extra = {}
    fewest = 10**6
    nearest: Solved | None = None
    stale = 0
    for _ in range(rounds):
        solved = tables.solve(order, extra)
        if solved is None:
            return None, nearest, fewest
        lane = tables.lane(solved)
        plain = lane.length + tables.ground.prices.fold * lane.folds
        if plain >= cost_limit:
            return None, None, fewest
        found = clashes(lane, tables.ground)
        if len(found) < fewest:
            fewest, nearest, stale = len(found), solved, 0
        else:
            stale += 1
            if stale >= PATIENCE:
                break
        if not found:
            return lane, solved, 0
        _price(tables, solved, lane, found, extra)
    return None, nearest, fewest


def _price(tables: Tables, solved: Solved, lane: Lane, found: list[Clash], extra: Extra) -> None:
    """Add to `extra` what keeps each clash from coming back."""
    order = solved.order
    reach, left = tables.forward(order, extra), tables.backward(order, extra)
    ahead = headings(lane.points)
    outer = tables.ground.sizes.outer
    edges = (offset_line(lane.points, ahead, -outer), offset_line(lane.points, ahead, outer))
    starts = (0, *lane.run_of_light)
    done: set[tuple[int, int]] = set()
    for clash in sorted(found, key=lambda c: -c.short_mm)[:6]:
        options: list[tuple[int, int]] = []
        for run, held in ((clash.run, clash.other), (clash.other, clash.run)):
            options.extend(
                (leg, held)
                for leg in range(len(order))
                if starts[leg] <= run <= starts[leg + 1] and (leg, held) not in done
            )
        best: tuple[float, int, Floats] | None = None
        for leg, held in options:
            done.add((leg, held))
            bad = _clashing(tables, solved, leg, held, edges, starts, reach, left)
            if bad is None:
                continue
            a, b = solved.picks[leg], solved.picks[leg + 1]
            bad[a, b] = True
            cost = tables.legs(order[leg - 1] if leg else 0, order[leg]).cost
            if leg in extra:
                cost = cost + extra[leg]
            total = reach[leg][:, None] + cost + left[leg + 1][None, :]
            rest = float(np.where(bad, np.inf, total).min())
            price = np.where(bad, CLASH_PRICE_MM, 0.0)
            if best is None or rest < best[0]:
                best = (rest, leg, price)
        if best is not None:
            _, leg, price = best
            extra[leg] = extra[leg] + price if leg in extra else price


def _clashing(
    tables: Tables,
    solved: Solved,
    leg: int,
    held: int,
    edges: tuple[Points, Points],
    starts: tuple[int, ...],
    reach: list[Floats],
    left: list[Floats],
) -> Bools | None:
    """Which legs at place `leg` would come too close to the run `held` of the present lane."""
    order, sizes = solved.order, tables.ground.sizes
    a = order[leg - 1] if leg else 0
    legs = tables.legs(a, order[leg])
    total = reach[leg][:, None] + legs.cost + left[leg + 1][None, :]
    rows, columns = np.nonzero(total <= solved.cost + WORTH_A_LOOK_MM)
    if not len(rows):
        return None
    from_, to = tables.stations[a], tables.stations[order[leg]]
    p, h = from_.at[rows], from_.ahead[rows]
    q, k = to.at[columns], to.ahead[columns]
    folds = legs.folds[rows, columns]
    v1, v2 = legs.first[rows, columns], legs.second[rows, columns]
    v1 = np.where(folds == 0, (p + q) / 2, v1)
    v2 = np.where(folds == 2, v2, v1)
    middle = v2 - v1
    size = np.abs(middle)
    way = np.where(folds == 2, middle / np.where(size > 0, size, 1.0), h)
    m1 = np.where(folds == 2, mitre(h, way), mitre(h, k))
    m2 = np.where(folds == 2, mitre(way, k), m1)
    after = held >= starts[leg + 1]
    gap = held - starts[leg + 1] if after else starts[leg] - held
    bad = np.zeros(len(rows), dtype=bool)
    for number in range(3):
        if number == 1:
            there = folds == 2
        elif number == 2:
            there = folds >= 1
        else:
            there = np.ones(len(rows), dtype=bool)
        rank = np.where(folds == 2, number, np.minimum(number, folds))
        between = (folds - rank if after else rank) + gap
        there &= between >= 2
        use = np.flatnonzero(there)
        if not len(use):
            continue
        for side in (-1, 1):
            beside = side * sizes.outer
            corners = (
                p + beside * h * 1j,
                v1 + beside * m1,
                v2 + beside * m2,
                q + beside * k * 1j,
            )
            if number == 0:
                c, d = corners[0][use], np.where(folds == 0, corners[3], corners[1])[use]
            else:
                c, d = corners[number][use], corners[number + 1][use]
            for other, edge in zip((-1, 1), edges, strict=True):
                limit = sizes.itself if side == other else sizes.apart
                bad[use] |= segment_to_segment(c, d, edge[held], edge[held + 1]) < limit
    result = np.zeros(legs.cost.shape, dtype=bool)
    result[rows, columns] = bad
    return result
