"""What a hand does with a pencil: strokes whose path trembles and whose pressure and width vary.

Lengths are millimetres on the card; nothing here knows pixels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tests.benchmarks.photo_simulator.letters import GLYPHS
from tests.card_kit.outlines import Points, resample

STEP_MM = 0.6  # chosen: spacing of the points that carry pressure and width along a stroke


@dataclass(frozen=True, slots=True)
class Stroke:
    """(N, 2) path, (N,) width and (N,) pressure. Pressure 1 fills the tooth of the paper nearly
    whole, 0.5 leaves it half white, 0.2 is a faint construction line."""

    path_mm: Points
    width_mm: Points
    pressure: Points


@dataclass(frozen=True, slots=True)
class Hand:
    """One maker's habits. Wander: slow drift off the meant path; tremor: the fast small one."""

    wander_mm: float = 0.15
    tremor_mm: float = 0.05
    width_mm: float = 0.5
    pressure: float = 0.75
    unevenness: float = 0.15

    @staticmethod
    def of_chance(rng: np.random.Generator) -> Hand:
        return Hand(
            wander_mm=rng.uniform(0.05, 0.22),
            tremor_mm=rng.uniform(0.02, 0.07),
            width_mm=rng.uniform(0.38, 0.72),
            pressure=rng.uniform(0.62, 0.95),
            unevenness=rng.uniform(0.08, 0.25),
        )


def smooth_noise(rng: np.random.Generator, count: int, wave: float) -> Points:
    """(count,) values of unit standard deviation that change over about `wave` samples."""
    knots = max(2, math.ceil(count / max(wave / 2, 1e-9)) + 3)
    at = np.linspace(0.5, knots - 1.5, count)
    values = rng.standard_normal(knots)
    i = np.clip(np.floor(at).astype(int), 0, knots - 2)
    t = at - i
    ease = t * t * (3 - 2 * t)
    mixed = values[i] * (1 - ease) + values[i + 1] * ease
    return mixed / 0.86  # easing between independent knots lowers the spread to about 0.86


def draw_path(
    rng: np.random.Generator,
    hand: Hand,
    path: Points | Sequence[tuple[float, float]],
    *,
    width: float = 1.0,
    pressure: float = 1.0,
    wander: float = 1.0,
    tapered: bool = True,
) -> Stroke:
    """Follow `path` once as `hand` would; the three factors scale the hand's own habits."""
    meant = resample(np.asarray(path, dtype=np.float64), STEP_MM)
    count = len(meant)
    off = np.zeros((count, 2))
    for axis in (0, 1):
        off[:, axis] += hand.wander_mm * wander * 0.7 * smooth_noise(rng, count, 18 / STEP_MM)
        off[:, axis] += hand.tremor_mm * wander * smooth_noise(rng, count, 2.6 / STEP_MM)
    press = hand.pressure * pressure * (1 + hand.unevenness * smooth_noise(rng, count, 9 / STEP_MM))
    if tapered:
        ends = np.minimum(np.arange(count), np.arange(count)[::-1]) * STEP_MM
        press = press * np.clip(0.55 + ends / 2.0, 0, 1)
    wide = hand.width_mm * width * (1 + 0.5 * hand.unevenness * smooth_noise(rng, count, 7 / STEP_MM))
    return Stroke(meant + off, np.clip(wide, 0.18, None), np.clip(press, 0.03, 1.25))


def draw_closed(
    rng: np.random.Generator, hand: Hand, outline: Points, *, pieces: int, pressure: float = 1.0
) -> list[Stroke]:
    """Trace a closed outline in `pieces` goes that overlap a little or leave a small gap."""
    ring = resample(np.vstack([outline, outline[:1]]), STEP_MM)[:-1]
    start = int(rng.integers(len(ring)))
    ring = np.roll(ring, -start, axis=0)
    cuts = np.linspace(0, len(ring), pieces + 1).astype(int)
    strokes = []
    for a, b in pairwise(cuts):
        over = round(rng.uniform(-1.2, 4.0) / STEP_MM)
        index = np.arange(a, b + 1 + over) % len(ring)
        if len(index) > 2:
            strokes.append(draw_path(rng, hand, ring[index], pressure=pressure * rng.uniform(0.9, 1.1)))
    return strokes


def draw_ring(
    rng: np.random.Generator, hand: Hand, centre: tuple[float, float], diameter: float, *, laps: float
) -> Stroke:
    """Trace round a coin: the pencil leans, so the circle is nearly true; `laps` over 1 overshoots
    beside the first go, under 1 leaves a gap."""
    around = math.pi * diameter
    count = max(40, round(around * laps / STEP_MM))
    angle = rng.uniform(0, 2 * math.pi) + np.linspace(0, 2 * math.pi * laps, count) * rng.choice((-1, 1))
    radius = np.full(count, diameter / 2)
    for wave in (2, 3, 4, 5):
        radius += rng.normal(0, 0.07) * np.cos(wave * angle + rng.uniform(0, 6.3))
    lap = np.abs(angle - angle[0]) / (2 * math.pi)
    radius += np.clip((lap - 0.93) / 0.1, 0, 1) * rng.normal(0, 0.22)  # comes round not quite where it began
    path = np.column_stack([centre[0] + radius * np.cos(angle), centre[1] + radius * np.sin(angle)])
    return draw_path(rng, hand, path, wander=0.45, pressure=rng.uniform(0.85, 1.15))


def draw_dot(
    rng: np.random.Generator, hand: Hand, centre: tuple[float, float], diameter: float
) -> list[Stroke]:
    """Fill a dot in one of the ways people do: a spiral, a scribble to and fro inside an outline,
    a blunt point twisted on the spot, or short strokes from all sides."""
    tip = float(np.clip(hand.width_mm * 1.1, 0.45, 0.8))
    reach = max((diameter - tip) / 2, 0.25)
    squash = 1 + rng.normal(0, 0.06)
    lean = rng.uniform(0, math.pi)
    fill = _WAYS_TO_FILL[int(rng.choice(4, p=(0.3, 0.35, 0.2, 0.15)))]
    turn = np.array([[math.cos(lean), -math.sin(lean)], [math.sin(lean), math.cos(lean)]])
    firm = rng.uniform(0.85, 1.2)
    strokes = []
    # A dot is shaded till it looks filled: the second going falls beside the first and closes its gaps.
    for pressure in (0.9, 0.75):
        for path in fill(rng, reach, tip):
            bent = (path * (squash, 1 / squash)) @ turn.T + centre + rng.normal(0, 0.04, 2)
            strokes.append(
                draw_path(rng, hand, bent, width=tip / hand.width_mm, wander=0.3, pressure=firm * pressure)
            )
    return strokes


def _round(radius: Points | float, angle: Points) -> Points:
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])


def _spiral(rng: np.random.Generator, reach: float, tip: float) -> list[Points]:
    turns = max(1.5, reach / (tip * 0.62)) + rng.uniform(0.8, 1.2)
    t = np.linspace(0, 1, max(24, int(turns * 22)))
    radius = reach * np.minimum(1.0, t * turns / (turns - 1))
    radius = radius * (1 + 0.05 * smooth_noise(rng, len(t), 9))
    return [_round(radius, rng.uniform(0, 6.3) + turns * 2 * math.pi * t)]


def _scribble(rng: np.random.Generator, reach: float, tip: float) -> list[Points]:
    rows = max(3, math.ceil(2 * reach / (tip * 0.62)) + 1)
    y = np.linspace(-reach, reach, rows)
    half = np.sqrt(np.clip(reach**2 - y**2, 0, None)) * rng.uniform(0.9, 1.1, rows)
    side = np.where(np.arange(rows) % 2, 1, -1)
    there, back = (np.column_stack([way * half, y + rng.normal(0, 0.06, rows)]) for way in (side, -side))
    around = np.linspace(0, 2 * math.pi * 1.08, 30) + rng.uniform(0, 6.3)
    return [there, back, _round(reach, around)]


def _twist(rng: np.random.Generator, reach: float, tip: float) -> list[Points]:
    paths = []
    for _ in range(3):
        angle = np.linspace(0, rng.uniform(7, 12), 24) + rng.uniform(0, 6.3)
        paths.append(_round(reach * rng.uniform(0.15, 1.0) * (1 + 0.06 * smooth_noise(rng, 24, 8)), angle))
    out = np.linspace(0, 1, 40)
    return [*paths, _round(reach * out, out * 2 * math.pi * max(2.0, 1.3 * reach / tip + 1))]


def _spokes(rng: np.random.Generator, reach: float, tip: float) -> list[Points]:
    paths = []
    for angle in np.linspace(0, math.pi, max(5, int(reach * 7))) + rng.uniform(0, 0.5):
        tilt = np.array([math.cos(angle), math.sin(angle)])
        paths.append(np.outer(reach * np.array([-1, 0, 1]) * rng.uniform(0.92, 1.06), tilt))
    around = np.linspace(0, 2 * math.pi, 26)
    return paths + [_round(reach * share, around) for share in np.arange(1.0, 0.35, -tip * 0.7 / reach)]


_WAYS_TO_FILL = (_spiral, _scribble, _twist, _spokes)


def draw_cross(
    rng: np.random.Generator, hand: Hand, centre: tuple[float, float], diameter: float
) -> list[Stroke]:
    """An X over a dot that is not wanted: two strokes that stand well out of it."""
    strokes = []
    lean = rng.uniform(-0.3, 0.3)
    for angle in (math.pi / 4 + lean, -math.pi / 4 + lean):
        reach = diameter / 2 * rng.uniform(1.9, 2.6) + 0.8
        tilt = np.array([math.cos(angle), math.sin(angle)])
        nudge = rng.normal(0, 0.2, 2)
        strokes.append(draw_path(rng, hand, np.outer([-reach, reach], tilt) + centre + nudge, pressure=1.1))
    return strokes


def draw_word(
    rng: np.random.Generator,
    hand: Hand,
    word: str,
    at: tuple[float, float],
    height: float,
    turn_deg: float,
    *,
    pressure: float = 0.9,
) -> tuple[list[Stroke], Points]:
    """Write `word` with its baseline starting at `at`; also the (4, 2) box that it takes."""
    turn = math.radians(turn_deg)
    matrix = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    slant = rng.uniform(-0.1, 0.3)
    squeeze = rng.uniform(0.8, 1.15)
    x = 0.0
    strokes = []
    for letter in word:
        glyph = GLYPHS.get(letter)
        if glyph is None:
            x += 0.5 * height
            continue
        size = height * rng.uniform(0.92, 1.08)
        drop = rng.normal(0, 0.03) * height
        for line in glyph.strokes:
            points = np.asarray(line, dtype=np.float64)
            if len(points) == 1:  # the dot of an i, a full stop
                points = np.vstack([points, points + np.array([0.02, 0.02])])
            local = np.column_stack([(points[:, 0] + slant * points[:, 1]) * squeeze, -points[:, 1]]) * size
            local += (x, drop) + rng.normal(0, 0.012, local.shape) * height
            strokes.append(
                draw_path(
                    rng, hand, local @ matrix.T + at, width=0.85, pressure=pressure, wander=0.5, tapered=False
                )
            )
        x += (glyph.width * squeeze + 0.16 + rng.normal(0, 0.03)) * size
    box = np.array([(0, -height), (x, -height), (x, 0.4 * height), (0, 0.4 * height)])
    return strokes, box @ matrix.T + at
