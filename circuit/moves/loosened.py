"""Learn from a lane with less room than the rules ask for where the marks should make room.

In:    a layout without a lane, the maker's settings.
Out:   settings under which the router may find one all the same; and, from that lane, `Needs` under which
       it could keep the rules.
Fails: `UsageError` for a limit that no rule has.

Loosened, a light counts as shorter along the lane, may sit further off its middle, and needs less
clearance from folds: that is room which a shift of a few millimetres can win. Card edges, battery
zone and tape widths stay as they are, for no light's shift mends those.

    |<- has ->|              a light on a run between two folds: what it lacks on either side is what
  fold      light     fold   the neighbour on that side has to be further away
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from circuit.check.bridging import bridge_of
from circuit.check.scene import Scene
from circuit.layout import Layout, Traces
from circuit.moves.needs import SPARE_MM, Needs
from circuit.rules import limit_of, tape_under_pads_mm
from circuit.settings import Settings

# How much of a light's length along the lane counts, mildest first: chosen, from what helped on random cards.
LENGTH_SHARES = (1.0, 0.8, 0.6)
_ALMOST_MM = 0.1  # a fold's clearance when loosened: not nothing, so that folds stay off the body


@dataclass(frozen=True)
class _Stand:
    """A light on a lane: how far along it, on which runs, and how much straight lane it has either side. [mm]"""

    light: int
    along: float
    runs: tuple[int, int]
    before: float
    after: float


def loosened(settings: Settings, length_share: float) -> Settings:
    """Settings for a lane that need not keep every rule at the lights."""
    part = settings.light
    return replace(
        settings,
        light=replace(part, width_mm=part.width_mm * length_share),
        limits={
            **settings.limits,
            "light-not-bridged.off-midline": max(
                tape_under_pads_mm(settings), limit_of(settings, "light-not-bridged.off-midline")
            ),
            "light-not-bridged.overlap": 0.0,
            "fold-near-light": min(_ALMOST_MM, limit_of(settings, "fold-near-light")),
        },
    )


def needs_of_lane(
    layout: Layout, traces: Traces, settings: Settings, needs: Needs, generous: float = 1.0
) -> Needs:
    """`needs`, with neighbours on this lane as far apart as folds between them ask for.

    `generous` multiplies what is lacking. Shifting a light along its run wins room on one side only, so
    neighbours are held apart and the smallest shift decides who moves.
    """
    clear = settings.light.width_mm / 2 + limit_of(settings, "fold-near-light") + SPARE_MM
    stands = _stands(layout, traces, settings)
    apart, zone = needs.apart.copy(), needs.zone.copy()
    if stands and layout.battery is not None and stands[0].runs != (0, 0):
        first = stands[0]
        distance = math.dist(layout.lights[first.light].centre, layout.battery.centre)
        lacking = max(0.0, clear - first.before)
        zone[first.light] = max(zone[first.light], distance + generous * lacking if lacking else 0.0)
    for one, other in pairwise(stands):
        lacking = max(0.0, clear - one.after) + max(0.0, clear - other.before)
        if one.runs == other.runs or lacking == 0:
            continue
        i, j = one.light, other.light
        distance = math.dist(layout.lights[i].centre, layout.lights[j].centre)
        apart[i, j] = apart[j, i] = max(apart[i, j], distance + generous * lacking)
    return replace(needs, apart=apart, zone=zone)


def _stands(layout: Layout, traces: Traces, settings: Settings) -> list[_Stand]:
    """Every light on the lane, in its order."""
    scene = Scene(layout, traces, settings)
    positive, negative = scene.tapes["positive"], scene.tapes["negative"]
    found = []
    for k, light in enumerate(layout.lights):
        bridge = bridge_of(light, settings.light, positive, negative)
        if bridge is None:
            continue
        before = after = math.inf
        along = 0.0
        for polarity, tape in (("positive", positive), ("negative", negative)):
            run = bridge.runs["positive" if polarity == "positive" else "negative"]
            middle = float((np.asarray(light.centre) - tape.points[run]) @ tape.directions[run])
            along += float(tape.starts_along[run]) + middle
            if run > 0:
                before = min(before, middle)
            if run < len(tape.lengths) - 1:
                after = min(after, float(tape.lengths[run]) - middle)
        found.append(_Stand(k, along, (bridge.runs["positive"], bridge.runs["negative"]), before, after))
    return sorted(found, key=lambda stand: stand.along)
