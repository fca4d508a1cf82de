"""Changes to a card that could even its window out, each tried on a coarse sample of the window.

In:    a card, its solved circuit, the window's papers (`sampled`).
Out:   `TriedChange`s of each kind, as many as can be made within the marks' own rules.
Fails: as `glow_field`; None where the window is narrower than the sample.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from circuit.arrays import Floats
from circuit.electrics.card import CardElectrics
from circuit.glow.field import evenness, inside_region, profiles_of, region_of
from circuit.glow.window import GlowSettings, glow_settings
from circuit.layout import Layout, Point
from circuit.lengths import format_length
from circuit.part_kinds import FoamPart
from circuit.rules import limit_of
from circuit.settings import Settings, WindowPaper
from circuit.whereabouts import from_top_left

MOST_FOAM_MM = 8.0  # a thicker card hardly closes and isn't a letter any more. Chosen
# Chosen: how far and in how many directions a light is tried; farther off it is another design.
_MOVES_MM = (3.0, 6.0, 10.0)
_TURNS = 8
_POINTS = 400  # on which candidates are compared; the figures of the plan use the finer grid
_SPOTS = 12  # darkest free places where one more light is tried


@dataclass(frozen=True, slots=True)
class TriedChange:
    """A change on the coarse grid; `place` for a light moved or added, `foam_mm` the height it has, `paper` where
    the window's change."""

    even: float
    kind: str
    about: str | None
    place: Point | None
    foam_mm: float
    words: str
    paper: WindowPaper | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Sampled:
    """A card and its window at some hundred points: `x_mm`, `y_mm` (P,), and `shares` (N, P) lux of each light."""

    layout: Layout
    solved: CardElectrics
    settings: Settings
    foam_mm: float
    glow: GlowSettings
    x_mm: Floats
    y_mm: Floats
    shares: Floats

    def away(self, place: Point) -> Floats:
        """(P,) distances from there. [mm]"""
        away: Floats = np.hypot(self.x_mm - place[0], self.y_mm - place[1])
        return away


def sampled(
    layout: Layout, solved: CardElectrics, settings: Settings, foam_mm: float, glow: GlowSettings
) -> Sampled | None:
    """The card with points evenly spread over its window."""
    x_mm, y_mm = _sample(layout)
    if not x_mm.size:
        return None
    shares = _contributions(layout, solved, foam_mm, glow, x_mm, y_mm)
    return Sampled(layout, solved, settings, foam_mm, glow, x_mm, y_mm, shares)


def more_paper(window: Sampled) -> list[TriedChange]:
    """More in the window than the one sheet that is there."""
    if window.settings.window_paper != "one":
        return []
    choices: tuple[tuple[WindowPaper, str], ...] = (
        ("two", "A second sheet of translucent paper"),
        ("plain", "A sheet of plain white paper behind the translucent one"),
    )
    trials: list[TriedChange] = []
    for paper, what in choices:
        then = glow_settings(paper)
        passes = 100 * then.passes / window.glow.passes
        words = f"{what} in the window, which lets through {passes:.0f} % of what one does,"
        even = evenness(_total(window, window.foam_mm, then))
        trials.append(TriedChange(even, "more-paper", None, None, window.foam_mm, words, paper))
    return trials


def more_foam(window: Sampled, foams: Iterable[FoamPart]) -> list[TriedChange]:
    """One layer more of each foam there is."""
    trials: list[TriedChange] = []
    for foam in foams:
        higher = window.foam_mm + foam.thickness_mm
        if higher > MOST_FOAM_MM:
            continue
        words = (
            f"A further layer of {foam.name} ({format_length(foam.thickness_mm, window.settings.units)}) under the "
            "front card's border (and one on top of the flap, so that a press still reaches it)"
        )
        even = evenness(_total(window, higher, window.glow))
        trials.append(TriedChange(even, "more-foam", None, None, higher, words))
    return trials


def one_moved(window: Sampled) -> list[TriedChange]:
    """Each light at the best of some places round its own."""
    layout, settings = window.layout, window.settings
    profiles = profiles_of(window.solved, window.foam_mm, window.glow)
    total = window.shares.sum(axis=0)
    free = _free_places(layout, settings)
    trials: list[TriedChange] = []
    for index, light in enumerate(window.solved.lights):
        mark = layout.light(light.label)
        others = [other.centre for other in layout.lights if other.label != light.label]
        steps = [
            (by_mm, (mark.x_mm + by_mm * math.cos(turn), mark.y_mm + by_mm * math.sin(turn)))
            for by_mm in _MOVES_MM
            for turn in (2 * math.pi * k / _TURNS for k in range(_TURNS))
        ]
        steps = [step for step in steps if free(step[1], others)]
        if not steps:
            continue
        places = np.array([place for _, place in steps])
        away = np.hypot(window.x_mm - places[:, :1], window.y_mm - places[:, 1:])
        lux = total - window.shares[index] + profiles[light.part].lux(light.candela, away)
        even = lux.min(axis=1) / lux.mean(axis=1)
        best = int(even.argmax())
        by_mm, place = steps[best]
        moved, where = format_length(by_mm, settings.units), from_top_left(place, settings.units)
        words = f"{light.label} moved by {moved} to {where}"
        trials.append(TriedChange(float(even[best]), "move-light", light.label, place, window.foam_mm, words))
    return trials


def one_added(window: Sampled) -> list[TriedChange]:
    """One more of the card's first kind of light, at the darkest free places. It takes its share of the
    cell's current from all of them alike, which leaves the evenness alone."""
    like = window.solved.lights[0]
    profile = profiles_of(window.solved, window.foam_mm, window.glow)[like.part]
    total = window.shares.sum(axis=0)
    others = [mark.centre for mark in window.layout.lights]
    free = _free_places(window.layout, window.settings)
    trials: list[TriedChange] = []
    for index in np.argsort(total):
        place = (float(window.x_mm[index]), float(window.y_mm[index]))
        if not free(place, others):
            continue
        after = evenness(total + profile.lux(like.candela, window.away(place)))
        words = f"One more light at {from_top_left(place, window.settings.units)}"
        trials.append(TriedChange(after, "add-light", None, place, window.foam_mm, words))
        if len(trials) == _SPOTS:
            break
    return trials


def _total(window: Sampled, foam_mm: float, glow: GlowSettings) -> Floats:
    total: Floats = _contributions(window.layout, window.solved, foam_mm, glow, window.x_mm, window.y_mm).sum(
        axis=0
    )
    return total


def _contributions(
    layout: Layout, solved: CardElectrics, foam_mm: float, glow: GlowSettings, x_mm: Floats, y_mm: Floats
) -> Floats:
    """(N, P) lux of each light at each point."""
    profiles = profiles_of(solved, foam_mm, glow)
    rows = []
    for light in solved.lights:
        mark = layout.light(light.label)
        away = np.hypot(x_mm - mark.x_mm, y_mm - mark.y_mm)
        rows.append(profiles[light.part].lux(light.candela, away))
    return np.array(rows)


def _sample(layout: Layout) -> tuple[Floats, Floats]:
    """Points inside the window, evenly spread, (P,) each."""
    outline, margin = region_of(layout)
    low_x, high_x = (f(x for x, _ in outline) + s * margin for f, s in ((min, -1), (max, 1)))
    low_y, high_y = (f(y for _, y in outline) + s * margin for f, s in ((min, -1), (max, 1)))
    pitch = math.sqrt((high_x - low_x) * (high_y - low_y) / _POINTS) or 1.0  # 1.0: a window of no area
    xs = np.arange(low_x + pitch / 2, high_x, pitch)
    ys = np.arange(low_y + pitch / 2, high_y, pitch)
    inside = inside_region(outline, margin, xs[None, :], ys[:, None])
    rows, columns = np.nonzero(inside)
    return xs[columns], ys[rows]


def _free_places(layout: Layout, settings: Settings) -> Callable[[Point, Sequence[Point]], bool]:
    """Whether a light may stand at a place, with others at theirs, by the marks' own rules."""
    half = max(settings.light.length_mm, settings.light.width_mm) / 2
    to_edge = limit_of(settings, "light-near-edge") + half
    apart = limit_of(settings, "lights-too-close")
    right, bottom = layout.card.width_mm - to_edge, layout.card.height_mm - to_edge
    clear = settings.battery_zone_radius_mm + half
    battery, window = layout.battery, layout.window

    def free(place: Point, others: Sequence[Point]) -> bool:
        if not (to_edge <= place[0] <= right and to_edge <= place[1] <= bottom):
            return False
        if battery is not None and math.dist(place, battery.centre) < clear:
            return False
        if window is not None and not inside_region(window, 0.0, *place):
            return False
        return all(math.dist(place, other) >= apart for other in others)

    return free
