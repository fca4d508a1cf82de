"""Why there is no lane: what measures prove, and failing that where the search got stuck.

In:    the layout's lights and sizes, or what is known of lights that no way leads on from.
Out:   `Blocked` entries; none where nothing is known.
Fails: never.

A proof holds for every lane whatever its order and folds, so it may only use what each light asks
for by itself: the straight tape under its own body, on the card and out of the battery zone.
"""

from __future__ import annotations

import numpy as np

from circuit.layout import Layout
from circuit.lengths import format_length
from circuit.route.plane import cross, dot
from circuit.route.routed import Blocked
from circuit.route.site import Site, edge_distance
from circuit.settings import Settings
from circuit.telling import listed


def proven_blocks(layout: Layout, settings: Settings, site: Site) -> tuple[Blocked, ...]:
    """What rules out every lane; empty where one may exist."""
    return (
        *_too_near_edge(layout, settings, site),
        *_bodies_overlap(layout, settings, site),
        *_too_many_at_battery(layout, site),
    )


def _too_near_edge(layout: Layout, settings: Settings, site: Site) -> list[Blocked]:
    """Lights whose own tape would run too near to an edge, whichever way it lies.

    Along the edge the lane's outer edge reaches `outer` towards it (less what the light may be
    off the midline), head on the tape under the body reaches half a body. Any slant reaches
    farther than the lesser of the two.
    """
    sizes = site.sizes
    needed = sizes.edge + min(sizes.half_along, sizes.outer - sizes.off_midline)
    found = []
    for light, centre in zip(layout.lights, site.lights, strict=True):
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


def _bodies_overlap(layout: Layout, settings: Settings, site: Site) -> list[Blocked]:
    """Pairs so close that their bodies overlap however they are turned."""
    least = 2 * min(site.sizes.half_along, site.sizes.half_across)
    found = []
    for i, j in zip(*np.triu_indices(len(site.lights), 1), strict=True):
        apart = float(abs(site.lights[i] - site.lights[j]))
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


def near_battery(site: Site) -> list[int]:
    """Lights that a lane can't pass by: only the end run or the lane's last piece can hold them.

    Passed by, a light needs tape beside it all along its body and as far again as a fold must
    keep clear; nearer than this that tape reaches into the zone, whichever way it runs.
    """
    sizes = site.sizes
    away = np.abs(site.lights - site.battery)
    return [int(i) for i in np.flatnonzero(away < sizes.zone + sizes.outer - sizes.off_midline)]


def _too_many_at_battery(layout: Layout, site: Site) -> list[Blocked]:
    """More lights at the battery zone than the end run and the lane's end can hold."""
    sizes = site.sizes
    near = near_battery(site)
    beside = max(abs(side) for side in site.switch.beside)
    on_end_run = min(len(near), 1)
    for i in near:
        for j in near:
            if i == j:
                continue
            a, b = site.lights[i], site.lights[j]
            ahead = (b - a) / max(abs(b - a), 1e-9)
            if abs(cross(ahead, a - site.battery)) > beside + sizes.off_midline:
                continue
            if dot(ahead, a - site.battery) <= 0:
                continue
            in_line = [
                k
                for k in near
                if abs(cross(ahead, site.lights[k] - a)) <= 2 * sizes.off_midline
                and dot(ahead, site.lights[k] - site.battery) > 0
            ]
            on_end_run = max(on_end_run, len(in_line))
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


def likely_blocks(dead_ends: tuple[str, ...], *, proven: bool) -> tuple[Blocked, ...]:
    """What the search tells of a card without a lane; lights are named only where it is known that they block."""
    why = DEAD_ENDS.format(lights=listed(dead_ends, "or")) if dead_ends else ""
    return (Blocked(dead_ends, f"{why} {NO_LANE_EXISTS if proven else NONE_FOUND}".strip(), proven),)


DEAD_ENDS = (
    "No way was found for tape that comes to {lights} to go on from there, and a lane has one end only."
)
NONE_FOUND = "Short ways through all the lights were looked through first, then roundabout ones for longer."
# Says how wide the proof is (`circuit.route.find_lane.no_lane`): lights are turned in steps, and of the ways from one
# light to the next the shortest of a few kinds are known.
NO_LANE_EXISTS = (
    "No lane with room for the switch goes through all the lights with at most two folds from one to the next and "
    "lights turned in steps of 15 degrees, however near it comes to other lights; an odder one laid by hand is not "
    "ruled out."
)
