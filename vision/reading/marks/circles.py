"""Which rings are battery circles: surely, perhaps, or not at all.

In:    the card's `Ring`s with the network's `Likeness`.
Out:   `SeenCircle`s, the surest first, and the rims of round things; empty when there is none.
Fails: never.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vision.reading.marks.battery import Ring, thing_likeness, worth
from vision.reading.marks.likeness import Likeness
from vision.reading.marks.seen import SeenCircle

# Rings, measured on simulated photos: true ones have a cover of 0.90 or more and wobble up to 0.35 mm;
# arcs of outlines and letters stay under 0.78, or wobble by over 0.4 mm.
SURE_COVER, CREDIBLE_COVER = 0.85, 0.76
BACKED_COVER = 0.7  # where the network takes what is inside for the battery's place, too
SURE_WOBBLE, CREDIBLE_WOBBLE = 0.05, 0.07  # of the radius
SURE_GAP_DEG = 45.0
BACKED_GAP_DEG = 75.0
THING_FROM = 1.1  # see `thing_likeness`
PENCIL_BELOW = 0.9
BACKED_FROM, UNBACKED_BELOW = 0.6, 0.25  # the network's mean over the disc
# Of 244 pencil circles that were one of two, none was both so like a rim and so little like a battery's circle to the
# network; five of six coins that it took for one were.
PLAINLY_RIM, PLAINLY_BACKED = 2.0, 0.97
INSIDE = np.array([0.25, 0.5, 0.7, 0.85])  # chosen: of the radius, clear of the stroke itself
OUTSIDE_MM = 1.5  # past the ring, where the network should see no battery
OPEN = "circle-open"


@dataclass(frozen=True, slots=True)
class _Judged:
    """rim : how much the ring looks like a thing's; chance : what the network makes of it; verdict : "" for a sure
    circle, a doubt's key, or None for no circle."""

    ring: Ring
    rim: float
    chance: float
    verdict: str | None


def judge_rings(rings: Sequence[Ring], likeness: Likeness) -> tuple[tuple[SeenCircle, ...], list[Ring]]:
    """The credible battery circles, the surest first, of overlapping ones the best; and the rings that are the rims of
    round things which lie on the card."""
    judged = [_judged(ring, likeness) for ring in rings]
    coins = _coins(judged)
    rims = [
        one.ring
        for one in judged
        if one.ring.cover >= SURE_COVER
        and one.rim >= THING_FROM
        and (one in coins or one.chance < UNBACKED_BELOW)
    ]
    credible = [one for one in judged if one not in coins and one.verdict is not None]
    if any(one.verdict == "" for one in credible):
        # beside a plain battery circle, what the network sees no battery in is the rim of something
        credible = [one for one in credible if one.verdict == "" or one.chance >= UNBACKED_BELOW]
    found: list[SeenCircle] = []
    for one in sorted(credible, key=lambda one: (bool(one.verdict), -worth(one.ring))):
        ring = one.ring
        if any(_overlaps(ring, circle) for circle in found):
            continue
        found.append(
            SeenCircle(
                ring.x_mm,
                ring.y_mm,
                2 * ring.radius_mm,
                ring.sigma_mm,
                2 * ring.radius_sigma_mm,
                doubt=one.verdict or None,
            )
        )
    return tuple(found), rims


def _coins(judged: Sequence[_Judged]) -> list[_Judged]:
    """Beside a circle that is plainly pencil on paper, those that are plainly the rim of a thing and to the network
    less than plainly a battery circle."""
    if not any(one.rim < PENCIL_BELOW and one.verdict == "" for one in judged):
        return []
    return [one for one in judged if one.rim >= PLAINLY_RIM and one.chance < PLAINLY_BACKED]


def _chance(ring: Ring, likeness: Likeness) -> float:
    """The network's mean inside the ring less that just outside: an arc within the battery has as much on
    both sides."""
    middle = (ring.x_mm, ring.y_mm)
    inside = likeness.round_about("battery", middle, ring.radius_mm * INSIDE)
    outside = likeness.round_about("battery", middle, np.array([ring.radius_mm + OUTSIDE_MM]))
    return float(inside.mean()) - float(outside.mean())


def _judged(ring: Ring, likeness: Likeness) -> _Judged:
    rim, chance = thing_likeness(ring), _chance(ring, likeness)
    return _Judged(ring, rim, chance, _verdict(ring, rim, chance))


def _verdict(ring: Ring, rim: float, chance: float) -> str | None:
    backed = chance >= BACKED_FROM
    wobble = ring.wobble_mm / ring.radius_mm
    whole = ring.cover >= SURE_COVER and wobble <= SURE_WOBBLE and ring.longest_gap_deg <= SURE_GAP_DEG
    nearly = (
        ring.cover >= BACKED_COVER and wobble <= CREDIBLE_WOBBLE and ring.longest_gap_deg <= BACKED_GAP_DEG
    )
    if backed:
        return "" if nearly else OPEN
    if rim >= THING_FROM or ring.cover < CREDIBLE_COVER or wobble > CREDIBLE_WOBBLE:
        return None
    if chance < UNBACKED_BELOW and not whole:
        return None
    if rim >= PENCIL_BELOW or chance < UNBACKED_BELOW:
        return "circle-or-rim"
    return OPEN


def _overlaps(ring: Ring, circle: SeenCircle) -> bool:
    apart = np.hypot(ring.x_mm - circle.x_mm, ring.y_mm - circle.y_mm)
    return bool(apart < 0.5 * (ring.radius_mm + circle.diameter_mm / 2))
