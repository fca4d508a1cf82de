"""Why there is no lane: what measures prove, and failing that where the search got stuck.

In:    the layout's lights and sizes, or the nearest miss of a search.
Out:   `Blocked` entries; none where nothing is known.
Fails: never.

A proof holds for every lane whatever its order and folds, so it may only use what each light asks
for by itself: the straight tape under its own body, on the card and out of the battery zone.
"""

from __future__ import annotations

import numpy as np

from circuit.layout import Layout
from circuit.lengths import format_length
from circuit.route.lane import clashes
from circuit.route.legs import Ground, edge_distance
from circuit.route.plane import cross, dot
from circuit.route.routed import Blocked
from circuit.route.tables import MISSING_MM, Solved, Tables
from circuit.settings import Settings
from circuit.telling import listed

_CORNER_MM = 10.0  # from a trial of the rules: a light this near to two edges can hardly be passed by


def proven_blocks(layout: Layout, settings: Settings, ground: Ground) -> tuple[Blocked, ...]:
    """What rules out every lane; empty where one may exist."""
    return (
        *_too_near_edge(layout, settings, ground),
        *_bodies_overlap(layout, settings, ground),
        *_too_many_at_battery(layout, ground),
    )


def _too_near_edge(layout: Layout, settings: Settings, ground: Ground) -> list[Blocked]:
    """Lights whose own tape would run too near to an edge, whichever way it lies.

    Along the edge the lane's outer edge reaches `outer` towards it (less what the light may be
    off the midline), head on the tape under the body reaches half a body. Any slant reaches
    farther than the lesser of the two.
    """
    sizes = ground.sizes
    needed = sizes.edge + min(sizes.half_along, sizes.outer - sizes.off_midline)
    found = []
    for light, centre in zip(layout.lights, ground.lights, strict=True):
        gap = float(edge_distance(centre, sizes))
        if gap < needed:
            found.append(
                Blocked(
                    (light.label,),
                    f"{light.label} is {format_length(gap, settings.units)} from the card's edge, and the tape "
                    f"under it needs {format_length(needed, settings.units)} from its middle to the edge.",
                    True,
                )
            )
    return found


def _bodies_overlap(layout: Layout, settings: Settings, ground: Ground) -> list[Blocked]:
    """Pairs so close that their bodies overlap however they are turned."""
    least = 2 * min(ground.sizes.half_along, ground.sizes.half_across)
    found = []
    for i, j in zip(*np.triu_indices(len(ground.lights), 1), strict=True):
        apart = float(abs(ground.lights[i] - ground.lights[j]))
        if apart < least:
            a, b = layout.lights[i].label, layout.lights[j].label
            found.append(
                Blocked(
                    (a, b),
                    f"{a} and {b} are only {format_length(apart, settings.units)} apart: their bodies overlap.",
                    True,
                )
            )
    return found


def near_battery(ground: Ground) -> list[int]:
    """Lights that a lane can't pass by: only the end run or the lane's last piece can hold them.

    Passed by, a light needs tape beside it all along its body and as far again as a fold must
    keep clear; nearer than this that tape reaches into the zone, whichever way it runs.
    """
    sizes = ground.sizes
    away = np.abs(ground.lights - ground.battery)
    return [int(i) for i in np.flatnonzero(away < sizes.zone + sizes.outer - sizes.off_midline)]


def _too_many_at_battery(layout: Layout, ground: Ground) -> list[Blocked]:
    """More lights at the battery zone than the end run and the lane's end can hold."""
    sizes = ground.sizes
    near = near_battery(ground)
    on_end_run = min(len(near), 1)
    for i in near:
        for j in near:
            if i == j:
                continue
            a, b = ground.lights[i], ground.lights[j]
            ahead = (b - a) / max(abs(b - a), 1e-9)
            if (
                abs(cross(ahead, a - ground.battery))
                > max(-sizes.lane_least, sizes.lane_most) + sizes.off_midline
            ):
                continue
            if dot(ahead, a - ground.battery) <= 0:
                continue
            beside = [
                k
                for k in near
                if abs(cross(ahead, ground.lights[k] - a)) <= 2 * sizes.off_midline
                and dot(ahead, ground.lights[k] - ground.battery) > 0
            ]
            on_end_run = max(on_end_run, len(beside))
    if len(near) - on_end_run < 2:
        return []
    labels = tuple(layout.lights[i].label for i in near)
    return [
        Blocked(
            (*labels, "battery"),
            f"{listed(labels)} all lie right beside the battery zone, where only the first and the last "
            "light on the tape can be.",
            True,
        )
    ]


def likely_blocks(
    layout: Layout,
    ground: Ground,
    nearest: tuple[Tables, Solved] | None,
    order: tuple[int, ...],
    tables: Tables,
) -> tuple[Blocked, ...]:
    """Where the search got stuck; never a proof.

    `nearest` is the lane that came nearest to holding, `order` the cheapest order when not even
    that could be laid.
    """
    corner = _corner_lights(ground)
    ends = sorted(set(corner) | set(near_battery(ground)))
    found: list[Blocked] = []
    if len(ends) >= 2:
        labels = tuple(layout.lights[i].label for i in ends)
        found.append(
            Blocked(
                labels,
                f"{listed(labels)} lie in a corner of the card or right beside the battery zone, where "
                "hardly any light but the last on the tape can be.",
                False,
            )
        )
    stuck = _stuck_at(nearest, order, tables)
    labels = tuple(layout.lights[place - 1].label for place in stuck)
    if labels:
        found.append(Blocked(labels, f"No way for the tapes past {listed(labels)} was found.", False))
    elif not found:
        everyone = tuple(light.label for light in layout.lights)
        found.append(Blocked(everyone, "No way for the tapes through all the lights was found.", False))
    return tuple(found)


def _corner_lights(ground: Ground) -> list[int]:
    sizes = ground.sizes
    x, y = ground.lights.real, ground.lights.imag
    near_x = np.minimum(x, sizes.width - x) < _CORNER_MM
    near_y = np.minimum(y, sizes.height - y) < _CORNER_MM
    return [int(i) for i in np.flatnonzero(near_x & near_y)]


def _stuck_at(
    nearest: tuple[Tables, Solved] | None, order: tuple[int, ...], tables: Tables
) -> tuple[int, ...]:
    """Places (light number + 1) at the missing, short or clashing legs."""
    places: set[int] = set()
    if nearest is not None:
        tables, solved = nearest
        lane = tables.lane(solved)
        sequence = (0, *solved.order)
        for number, place in enumerate(solved.order):
            a, b = solved.picks[number], solved.picks[number + 1]
            if tables.legs(sequence[number], place).short[a, b] > 0:
                places |= {sequence[number], place}
        starts = (0, *lane.run_of_light)
        for clash in clashes(lane, tables.ground):
            for run in (clash.run, clash.other):
                for leg in range(len(solved.order)):
                    if starts[leg] <= run <= starts[leg + 1]:
                        places |= {sequence[leg], sequence[leg + 1]}
    else:
        reach = tables.forward(order)
        for number, place in enumerate(order):
            before, now = float(reach[number].min()), float(reach[number + 1].min())
            if now - before >= MISSING_MM:
                places |= {order[number - 1] if number else 0, place}
        if not places:
            places.add(order[-1])
    return tuple(sorted(places - {0}))
