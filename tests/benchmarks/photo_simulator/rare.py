"""Kinds of pencilling and light that are rare in photos, drawn many times as often: for lessons, not for scores.

In:    a card, its marks or its light as the usual dice gave them, and dice of this module's own.
Out:   the same with thin and half filled dots, hooks, glare on a dot, lanes that end tight round a dot, small
       heavy letters, crossed-out dots in lanes, lines through lights.
Fails: never.

How often and how far is chosen: each within what the usual dice give now and then, so that a lesson can be weighed
back to its share.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from tests.benchmarks.photo_simulator import hand as by
from tests.benchmarks.photo_simulator.hand import Hand, Points, Stroke
from tests.benchmarks.photo_simulator.layout import DOT_MM, GHOST, MarkedDot, Pencilling
from tests.benchmarks.photo_simulator.light import Lighting
from tests.benchmarks.photo_simulator.scene import PAPERS, CardSpec

LOOPED = "oeadbgpq0689BPR"  # letters whose loops fill up
CLEAR_MM = 3.0  # chosen: what is drawn beside lights keeps so far from their rims
LEAST_FILLED = (
    0.75  # chosen: strokes' length times width over the dot's area, in what may still be called filled
)
LINED_THROUGH = 0.12  # chosen: share of dots that another line runs through
TRIES = 12


def rare_card(rng: np.random.Generator, card: CardSpec) -> CardSpec:
    """Rough or brown paper and a hard pencil, which dots are thin and speckled on."""
    if rng.random() < 0.3:
        brightness = sum(PAPERS[card.paper]) / sum(PAPERS["kraft"])
        card = replace(card, paper="kraft", tooth="rough", darkest=card.darkest * brightness)
    elif rng.random() < 0.4:
        card = replace(card, tooth="rough")
    hard = 0.14 / (sum(PAPERS[card.paper]) / 3)
    return replace(card, darkest=max(card.darkest, hard)) if rng.random() < 0.3 else card


def rare_lighting(rng: np.random.Generator, lighting: Lighting) -> Lighting:
    """Glare, or the shadow of a hand."""
    kind = rng.random()
    if kind < 0.3:
        return replace(lighting, glare=float(rng.uniform(0.12, 0.3)))
    return replace(lighting, shadow=str(rng.choice(("hand", "phone", "stripes")))) if kind < 0.5 else lighting


def glare_at(rng: np.random.Generator, marks: Pencilling) -> Points | None:
    """The lamp's reflection at or near one of the dots. [mm]"""
    if not marks.dots:
        return None
    dot = marks.dots[int(rng.integers(len(marks.dots)))]
    return np.array([dot.x_mm, dot.y_mm]) + rng.normal(0, 4, 2)


def spoil(rng: np.random.Generator, marks: Pencilling, width_mm: float, height_mm: float) -> None:
    """Some dots thinner than a firm hand fills them; letters, crossed-out and rubbed-out dots beside them."""
    share = rng.uniform(0.15, 0.7)
    marks.dots = [_thinned(rng, dot) if rng.random() < share else dot for dot in marks.dots]
    hand = replace(Hand.of_chance(rng), width_mm=float(rng.uniform(0.5, 0.75)))
    for _ in range(int(rng.integers(0, 5))):
        word = "".join(rng.choice(list(LOOPED.replace("q", "")), int(rng.integers(1, 5))))
        size = rng.uniform(2.0, 4.5)
        start = free_place(rng, marks, width_mm, height_mm, size * (0.4 * len(word) + 0.6))
        if start is not None:
            strokes, _ = by.draw_word(
                rng, hand, word, start, size, rng.normal(0, 20), pressure=rng.uniform(0.7, 1.1)
            )
            marks.others += strokes
    for _ in range(int(rng.integers(0, 3))):
        where = _in_lane(rng, marks) if marks.lines and rng.random() < 0.6 else None
        where = where or free_place(rng, marks, width_mm, height_mm, 5.0)
        if where is not None:
            size = rng.uniform(2.2, 4.0)
            marks.others += by.draw_dot(rng, hand, where, size) + by.draw_cross(rng, hand, where, size)
            marks.crossed.append((*where, size))
    for _ in range(int(rng.integers(0, 3))):
        where = free_place(rng, marks, width_mm, height_mm, 4.0)
        if where is not None:
            ghost = by.draw_dot(rng, hand, where, rng.uniform(2, 3.5))
            marks.others += [Stroke(s.path_mm, s.width_mm, s.pressure * GHOST) for s in ghost]
    for dot in marks.dots:
        if rng.random() < LINED_THROUGH:
            marks.others.append(_line_through(rng, hand, dot))


def _line_through(rng: np.random.Generator, hand: Hand, dot: MarkedDot) -> Stroke:
    """A long line that runs through a dot or grazes it, as a window's outline does: one, so no X."""
    a, off = rng.uniform(0, math.pi), rng.uniform(-0.55, 0.55) * dot.diameter_mm
    along, across = np.array([math.cos(a), math.sin(a)]), np.array([-math.sin(a), math.cos(a)])
    t = np.linspace(-rng.uniform(3, 30), rng.uniform(3, 30), 40)[:, None]
    bend = rng.uniform(-0.012, 0.012)
    path = np.array([dot.x_mm, dot.y_mm]) + along * t + across * (off + bend * t**2)
    return by.draw_path(rng, hand, path, pressure=rng.uniform(0.4, 1.1))


def _thinned(rng: np.random.Generator, dot: MarkedDot) -> MarkedDot:
    """One dot as a hurried hand leaves it: small, pressed lightly, gone over once, half filled, or a mere hook."""
    kind = str(rng.choice(("small", "pale", "once", "half", "hook"), p=(0.15, 0.25, 0.2, 0.25, 0.15)))
    strokes = list(dot.strokes)
    diameter = dot.diameter_mm
    if kind in ("small", "half", "hook") or rng.random() < 0.3:
        hand = replace(Hand.of_chance(rng), width_mm=float(rng.uniform(0.38, 0.6)))
        diameter = float(rng.uniform(DOT_MM[0], DOT_MM[0] + 0.8))
        strokes = by.draw_dot(rng, hand, (dot.x_mm, dot.y_mm), diameter)
    if kind in ("once", "half", "hook"):
        strokes = strokes[: max(1, len(strokes) // 2)]
    press = rng.uniform(0.55, 0.85) if kind == "pale" else rng.uniform(0.75, 1.0)
    if kind == "half":
        strokes = [_part(rng, stroke, rng.uniform(0.45, 0.85)) for stroke in strokes]
    if kind == "hook":
        strokes = [_part(rng, max(strokes, key=lambda stroke: len(stroke.path_mm)), rng.uniform(0.5, 0.9))]
    if sum(map(_area_mm2, strokes)) < LEAST_FILLED * math.pi / 4 * diameter**2:
        return dot  # no longer what a person would call a filled dot
    pressed = [Stroke(s.path_mm, s.width_mm, s.pressure * press) for s in strokes]
    return MarkedDot(dot.x_mm, dot.y_mm, diameter, tuple(pressed))


def _area_mm2(stroke: Stroke) -> float:
    return float(np.hypot(*np.diff(stroke.path_mm, axis=0).T) @ stroke.width_mm[1:])


def _part(rng: np.random.Generator, stroke: Stroke, share: float) -> Stroke:
    """A stretch of a stroke, three points long at the least."""
    count = len(stroke.path_mm)
    kept = min(count, max(3, round(count * share)))
    first = int(rng.integers(count - kept + 1))
    part = slice(first, first + kept)
    return Stroke(stroke.path_mm[part], stroke.width_mm[part], stroke.pressure[part])


def _in_lane(rng: np.random.Generator, marks: Pencilling) -> tuple[float, float] | None:
    """Midway between the two circuit lines, clear of lights."""
    assert marks.lines is not None
    one, other = (marks.lines[name] for name in ("positive", "negative"))
    for _ in range(TRIES):
        k, t = int(rng.integers(min(len(one), len(other)) - 1)), rng.random()
        middle = sum((line[k] * (1 - t) + line[k + 1] * t for line in (one, other)), np.zeros(2)) / 2
        if _clear(marks, middle, 5.0):
            return float(middle[0]), float(middle[1])
    return None


def free_place(
    rng: np.random.Generator,
    marks: Pencilling,
    width_mm: float,
    height_mm: float,
    reach_mm: float,
    clear_mm: float = CLEAR_MM,
) -> tuple[float, float] | None:
    """A place with room round it as far as lights and battery circles go; lines may run there."""
    for _ in range(TRIES):
        place = rng.uniform((reach_mm + 2, reach_mm + 2), (width_mm - reach_mm - 2, height_mm - reach_mm - 2))
        if _clear(marks, place, reach_mm, clear_mm):
            return float(place[0]), float(place[1])
    return None


def _clear(marks: Pencilling, place: Points, reach_mm: float, clear_mm: float = CLEAR_MM) -> bool:
    dots = [(d.x_mm, d.y_mm, d.diameter_mm) for d in marks.dots] + list(marks.crossed)
    if any(math.dist(place, (x, y)) < reach_mm + d / 2 + clear_mm for x, y, d in dots):
        return False
    return all(
        float(np.hypot(*(ring.path_mm - place).T).min()) > reach_mm + clear_mm / 2 for ring in marks.rings
    )
