"""What is pencilled where: dots, battery circle, window, words, signs, circuit lines, mishaps.

In:    the card's size, a tier and a generator.
Out:   a `Pencilling`: strokes by kind, and the meant geometry of everything that truth needs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import cv2
import numpy as np

from tests.benchmarks.photo_simulator import hand as by
from tests.benchmarks.photo_simulator.hand import Hand, Points, Stroke
from tests.benchmarks.photo_simulator.outlines import OUTLINES, outline

CELL_DIAMETERS_MM = ((20.0, 0.7), (16.0, 0.15), (24.5, 0.15))
DOT_MM = (2.0, 5.0)
GHOST = 0.14  # pressure that a rubber leaves of a dot: to be seen, but not to be taken for a pencilled one
EDGE_MM = 6.5  # a dot's centre stays this far from the card's edge: its light must still fit on the card
WORDS = (
    "cell hinge glow front LED top lamp 3V back fold here kite whale tent moon den owl BATT up 42 17 cut "
    "north mum left 1 2 3 LAMP CELL 20 65 tape push? tea fox ok pond"
).split()


@dataclass(frozen=True, slots=True)
class MarkedDot:
    x_mm: float
    y_mm: float
    diameter_mm: float
    strokes: tuple[Stroke, ...]


@dataclass(slots=True)
class Pencilling:
    """All that was pencilled. `others` are strokes that are neither light nor battery; `smudges`
    are (path, width, strength) of rubbed graphite; `crosses` lie over the crossed-out dots."""

    dots: list[MarkedDot] = field(default_factory=list)
    rings: list[Stroke] = field(default_factory=list)
    window: Points | None = None
    lines: dict[str, Points] | None = None
    others: list[Stroke] = field(default_factory=list)
    smudges: list[tuple[Points, float, float]] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)
    crossed: list[tuple[float, float, float]] = field(default_factory=list)  # x, y, diameter [mm]


class _Room:
    """Where on the card there is still room: a coarse map of distances to what is taken."""

    STEP = 1.0

    def __init__(self, width: float, height: float) -> None:
        self.free = np.full((round(height / self.STEP), round(width / self.STEP)), 255, np.uint8)

    def take(self, polygon: Points, margin: float = 0.0) -> None:
        points = np.round(polygon / self.STEP * 16).astype(np.int32)
        cv2.fillPoly(self.free, [points], 0, shift=4)
        if margin > 0:
            cv2.polylines(self.free, [points], True, 0, max(1, round(2 * margin / self.STEP)), shift=4)

    def take_disc(self, x: float, y: float, radius: float) -> None:
        cv2.circle(self.free, (round(x / self.STEP), round(y / self.STEP)), max(1, round(radius)), 0, -1)

    def find(self, rng: np.random.Generator, clear: float) -> tuple[float, float] | None:
        """A random spot at least `clear` from the rim and from all that is taken, or None."""
        padded = cv2.copyMakeBorder(self.free, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
        far = cv2.distanceTransform(padded, cv2.DIST_L2, 5)[1:-1, 1:-1]
        rows, columns = np.nonzero(far > clear / self.STEP)
        if len(rows) == 0:
            return None
        k = int(rng.integers(len(rows)))
        jitter = rng.uniform(0, 1, 2)
        return float((columns[k] + jitter[0]) * self.STEP), float((rows[k] + jitter[1]) * self.STEP)


def pencil(
    rng: np.random.Generator,
    width: float,
    height: float,
    tier: str,
    *,
    keep_free: Sequence[Points] = (),
    lights: int | None = None,
    rings: int = 1,
    tight: bool = False,
) -> Pencilling:
    """Lay out and draw one card. `keep_free`: outlines on the card where something will lie; `tight`: circuit lines
    graze the dots."""
    hand = Hand.of_chance(rng)
    room = _Room(width, height)
    out = Pencilling()
    for taken in keep_free:
        room.take(taken, 2.5)
    window_room: _Room | None = None
    if tier != "A":
        window_room = _window(rng, hand, room, out, width, height)
    centres = [c for _ in range(rings) if (c := _ring(rng, hand, room, out)) is not None]
    count = lights if lights is not None else int(rng.choice(np.arange(1, 15), p=_spread(14)))
    _dots(rng, hand, room, window_room, out, count)
    if tier == "C" and out.dots and centres and rng.random() < 0.85:
        _circuit(rng, hand, out, centres[0], tight)
        for line in (out.lines or {}).values():
            room.take(line, 1.5) if len(line) > 2 else None
    if tier != "A":
        _notes(rng, hand, room, out, width, height, centres)
    if tier == "C":
        _mishaps(rng, hand, room, out)
    return out


def _spread(most: int) -> Points:
    """Chances of 1..most lights: four to eight are common, many are rarer."""
    k = np.arange(1, most + 1)
    p = np.exp(-((k - 5.5) ** 2) / 18.0)
    return np.asarray(p / p.sum())


def _window(
    rng: np.random.Generator, hand: Hand, room: _Room, out: Pencilling, width: float, height: float
) -> _Room | None:
    name = str(rng.choice(list(OUTLINES)))
    small = min(width, height)
    for _ in range(30):
        size = rng.uniform(0.36, 0.68) * small
        shape = outline(rng, name, max(size, 34.0), rng.choice((0, 0, 0, 8, -12, 90)))
        reach = np.ptp(shape, axis=0) / 2
        low, high = reach + 5, np.array([width, height]) - reach - 5
        if np.any(low >= high):
            continue
        at = rng.uniform(low, high)
        placed = shape + at
        trial = room.free.copy()
        room.take(placed)
        clash = int((trial == 0).sum() + (np.abs(_area(placed))) - (room.free == 0).sum())
        room.free = trial
        if clash > 40:  # overlaps what must stay free
            continue
        pieces = int(rng.choice((1, 2, 3), p=(0.5, 0.3, 0.2)))
        out.others += by.draw_closed(rng, hand, placed, pieces=pieces, pressure=rng.uniform(0.75, 1.05))
        out.window = placed
        out.kinds.append(f"window: {name}")
        inside = _Room(width, height)
        inside.free[:] = 0
        cv2.fillPoly(inside.free, [np.round(placed * 16).astype(np.int32)], 255, shift=4)
        inside.free[trial == 0] = 0
        room.take(placed, 1.5)
        return inside
    return None


def _area(polygon: Points) -> float:
    x, y = polygon.T
    return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def _ring(
    rng: np.random.Generator, hand: Hand, room: _Room, out: Pencilling
) -> tuple[float, float, float] | None:
    sizes, chances = zip(*CELL_DIAMETERS_MM, strict=True)
    # The pencil's lead runs outside the cell's rim by about half its width and a lean.
    diameter = float(rng.choice(sizes, p=chances)) + rng.uniform(0.3, 1.2)
    spot = room.find(rng, diameter / 2 + rng.uniform(2.5, 7))
    if spot is None:
        spot = room.find(rng, diameter / 2 + 1.5)
    if spot is None:
        return None
    laps = float(rng.choice((rng.uniform(0.93, 0.985), rng.uniform(1.0, 1.12), 1.9), p=(0.2, 0.7, 0.1)))
    out.rings.append(by.draw_ring(rng, hand, spot, diameter, laps=laps))
    room.take_disc(*spot, diameter / 2 + 1.5)
    return (*spot, diameter)


def _dots(
    rng: np.random.Generator, hand: Hand, room: _Room, window_room: _Room | None, out: Pencilling, count: int
) -> None:
    usual = rng.uniform(DOT_MM[0] + 0.2, DOT_MM[1] - 0.8)
    close = rng.uniform(5.5, 10.0)  # some makers crowd their lights
    for _ in range(count):
        diameter = float(np.clip(usual * rng.uniform(0.85, 1.2), *DOT_MM))
        where = window_room if window_room is not None and rng.random() < 0.9 else room
        spot = where.find(rng, diameter / 2 + 1.2 if where is window_room else EDGE_MM)
        if spot is None:
            continue
        out.dots.append(MarkedDot(*spot, diameter, tuple(by.draw_dot(rng, hand, spot, diameter))))
        for taken in (room, window_room):
            if taken is not None:
                taken.take_disc(*spot, close if taken is where else diameter / 2 + 1.5)


def _circuit(
    rng: np.random.Generator, hand: Hand, out: Pencilling, ring: tuple[float, float, float], tight: bool
) -> None:
    """Two pencilled lines side by side from the battery past every dot; they graze the dots."""
    left = [np.array([d.x_mm, d.y_mm]) for d in out.dots]
    here = np.array(ring[:2])
    order = []
    while left:
        k = int(np.argmin([np.linalg.norm(p - here) for p in left]))
        here = left.pop(k)
        order.append(here)
    first = order[0] - np.array(ring[:2])
    start = np.array(ring[:2]) + first / np.linalg.norm(first) * (ring[2] / 2 - rng.uniform(-0.5, 3))
    last = order[-1] - (order[-2] if len(order) > 1 else start)
    end = order[-1] + last / max(float(np.linalg.norm(last)), 1e-6) * rng.uniform(0.8, 5)
    # a line is drawn past a dot, not through its middle
    order = [dot + rng.normal(0, 0.25, 2) for dot in order]
    middle = _with_bends(rng, np.array([start, *order, end]))
    offset = rng.uniform(1.1, 2.1) if rng.random() < 0.6 else rng.uniform(2.0, 2.9)
    if tight:
        offset = min(offset, 1.1 + 0.15 * offset)
    sides = {}
    firm = rng.uniform(0.5, 1.0)  # lines to be covered with tape are often drawn lightly
    swap = rng.random() < 0.5
    for name, side in (("positive", 1), ("negative", -1)):
        line = _beside(middle, offset * side * (-1 if swap else 1))
        last_leg = line[-1] - line[-2]
        line[-1] += last_leg / max(float(np.linalg.norm(last_leg)), 1e-6) * rng.uniform(-0.8, 0.8)
        sides[name] = line
        ruler = rng.uniform(0.3, 1.0)  # some draw along a ruler
        for piece in range(len(line) - 1):
            stretch = line[piece : piece + 2] + rng.normal(0, 0.15, (2, 2))
            out.others.append(
                by.draw_path(
                    rng, hand, stretch, wander=ruler, pressure=firm * rng.uniform(0.8, 1.1), tapered=False
                )
            )
    out.lines = sides
    out.kinds.append("circuit lines")


def _with_bends(rng: np.random.Generator, middle: Points) -> Points:
    """Some makers lead their lines round a corner where there is no light."""
    out = [middle[0]]
    bends = rng.random() < 0.3
    for start, stop in pairwise(middle):
        way = stop - start
        if bends and np.linalg.norm(way) > 24 and rng.random() < 0.6:
            aside = (
                np.array([-way[1], way[0]]) / np.linalg.norm(way) * rng.uniform(4, 9) * rng.choice((-1, 1))
            )
            out.append(start + way * rng.uniform(0.35, 0.65) + aside)
        out.append(stop)
    return np.array(out)


def _beside(middle: Points, offset: float) -> Points:
    """The polyline `offset` to the right of `middle` (mitred, the mitre kept short)."""
    along = np.diff(middle, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    out = [middle[0] + offset * normal[0]]
    for k in range(1, len(middle) - 1):
        bisector = normal[k - 1] + normal[k]
        size = float(np.linalg.norm(bisector))
        if size < 0.5:
            out += [middle[k] + offset * normal[k - 1], middle[k] + offset * normal[k]]
        else:
            out.append(middle[k] + offset * bisector / size * min(2 / size, 1.6))
    out.append(middle[-1] + offset * normal[-1])
    return np.array(out)


def _notes(
    rng: np.random.Generator,
    hand: Hand,
    room: _Room,
    out: Pencilling,
    width: float,
    height: float,
    rings: list[tuple[float, float, float]],
) -> None:
    """Words, signs, ticks, arrows, construction lines."""
    word_end: Points | None = None
    if rng.random() < 0.8:
        for _ in range(int(rng.integers(1, 4))):
            word = str(rng.choice(WORDS))
            size = rng.uniform(3.2, 6.5)
            length = size * 0.62 * len(word)
            spot = room.find(rng, max(length / 2 * 0.8, size) + 1)
            if spot is None:
                continue
            lean = float(rng.choice((rng.normal(0, 4), 90 + rng.normal(0, 4)), p=(0.85, 0.15)))
            tilt = np.array([math.cos(math.radians(lean)), math.sin(math.radians(lean))])
            start = (spot[0] - tilt[0] * length / 2, spot[1] - tilt[1] * length / 2)
            strokes, box = by.draw_word(rng, hand, word, start, size, lean, pressure=rng.uniform(0.7, 1.0))
            out.others += strokes
            room.take(box, 1.0)
            word_end = np.array(spot) + tilt * (length / 2 + rng.uniform(-0.5, 1.5))
        out.kinds.append("words")
    if rings and rng.random() < 0.75:
        x, y, diameter = rings[0]
        away = rng.uniform(0, 2 * math.pi)
        angles = {"+": away, "-": away + rng.uniform(0.8, 2.5)}
        if out.lines is not None:
            angles = _beside_the_lines(rng, np.array([x, y]), out.lines)
        reach = diameter / 2 * (rng.uniform(0.35, 0.55) if rng.random() < 0.5 else 1.0) + 0.0
        if reach >= diameter / 2:
            reach += rng.uniform(3, 5)
        for sign, angle in angles.items():
            at = np.array([x + reach * math.cos(angle), y + reach * math.sin(angle)])
            if not (3 < at[0] < width - 3 and 3 < at[1] < height - 3):
                continue
            if any(math.dist(at, (d.x_mm, d.y_mm)) < d.diameter_mm / 2 + 2.5 for d in out.dots):
                continue
            half = rng.uniform(1.0, 1.9)
            out.others.append(by.draw_path(rng, hand, at + np.array([(-half, 0), (half, 0)]), wander=0.5))
            if sign == "+":
                out.others.append(by.draw_path(rng, hand, at + np.array([(0, -half), (0, half)]), wander=0.5))
        out.kinds.append("plus/minus signs")
    if rng.random() < 0.5:
        _construction(rng, hand, out, width, height)
        out.kinds.append("construction lines")
    if rng.random() < 0.45 and (spot := room.find(rng, 4)) is not None:
        goal = out.dots[int(rng.integers(len(out.dots)))] if out.dots else None
        tip = np.array((goal.x_mm, goal.y_mm)) if goal else np.array([spot[0] + 12, spot[1] + 5])
        tail = word_end if word_end is not None and rng.random() < 0.6 else np.array(spot)
        gone = tip - tail
        far = float(np.linalg.norm(gone))
        stop = (goal.diameter_mm / 2 if goal else 0) + rng.uniform(0.8, 2.5)
        if 9 < far < 60:
            way = gone / far
            tip = tip - way * stop
            bow = np.array([-way[1], way[0]]) * rng.normal(0, 0.08) * far
            middle = (tail + tip) / 2 + bow
            out.others.append(by.draw_path(rng, hand, np.array([tail, middle, tip]), pressure=0.8))
            for turn in (2.6, -2.6):
                back = np.array(
                    [
                        way[0] * math.cos(turn) - way[1] * math.sin(turn),
                        way[0] * math.sin(turn) + way[1] * math.cos(turn),
                    ]
                )
                out.others.append(by.draw_path(rng, hand, np.array([tip, tip + back * 2.4]), pressure=0.8))
            out.kinds.append("arrow")
    if rng.random() < 0.4:
        _ticks(rng, hand, out, width, height)
        out.kinds.append("ticks")


def _beside_the_lines(rng: np.random.Generator, middle: Points, lines: dict[str, Points]) -> dict[str, float]:
    """Where round the battery the signs go: each on the outer side of the line it belongs to."""
    plus, minus = (math.atan2(*(lines[name][0] - middle)[::-1].tolist()) for name in ("positive", "negative"))
    outward = math.copysign(1.0, math.sin(plus - minus))
    return {"+": plus + outward * rng.uniform(0.25, 0.75), "-": minus - outward * rng.uniform(0.25, 0.75)}


def _construction(rng: np.random.Generator, hand: Hand, out: Pencilling, width: float, height: float) -> None:
    faint = rng.uniform(0.3, 0.55)
    way = rng.choice(("middle", "diagonals", "margin", "grid"))
    x, y = width / 2 + rng.normal(0, 1), height / 2 + rng.normal(0, 1)
    lines: list[list[tuple[float, float]]] = []
    if way == "middle":
        lines = [[(x, 1), (x, height - 1)], [(1, y), (width - 1, y)]]
    elif way == "diagonals":
        lines = [[(1, 1), (width - 1, height - 1)], [(width - 1, 1), (1, height - 1)]]
    elif way == "margin":
        m = rng.uniform(4, 9)
        lines = [[(m, 2), (m, height - 2)], [(2, m), (width - 2, m)]]
    else:
        step = rng.uniform(18, 30)
        lines = [[(v, 2), (v, height - 2)] for v in np.arange(step, width, step)]
        lines += [[(2, v), (width - 2, v)] for v in np.arange(step, height, step)]
    for line in lines:
        out.others.append(by.draw_path(rng, hand, line, width=0.7, pressure=faint, wander=0.5))


def _ticks(rng: np.random.Generator, hand: Hand, out: Pencilling, width: float, height: float) -> None:
    along_x = rng.random() < 0.5
    at = rng.uniform(3, 5)
    span = np.sort(rng.uniform(8, (width if along_x else height) - 8, 2))
    flip: Callable[[float, float], tuple[float, float]] = lambda a, b: (a, b) if along_x else (b, a)  # noqa: E731
    if span[1] - span[0] < 12:
        return
    out.others.append(by.draw_path(rng, hand, [flip(span[0], at), flip(span[1], at)], pressure=0.7))
    for end in span:
        out.others.append(by.draw_path(rng, hand, [flip(end, at - 1.6), flip(end, at + 1.6)], pressure=0.8))


def _mishaps(rng: np.random.Generator, hand: Hand, room: _Room, out: Pencilling) -> None:
    """Smudges, rubbed-out marks, a dot crossed out, specks."""
    if rng.random() < 0.6:
        for _ in range(int(rng.integers(1, 3))):
            spot = room.find(rng, 4)
            if spot is None:
                continue
            angle = rng.uniform(0, math.pi)
            half = rng.uniform(2, 7) * np.array([math.cos(angle), math.sin(angle)])
            path = np.array([spot - half, spot + half])
            out.smudges.append((path, rng.uniform(1.2, 3.5), rng.uniform(0.06, 0.17)))
            if rng.random() < 0.5:  # a ghost of the dot that was rubbed out
                ghost = by.draw_dot(rng, hand, spot, rng.uniform(2, 3.5))
                out.others += [Stroke(s.path_mm, s.width_mm, s.pressure * GHOST) for s in ghost]
        out.kinds.append("erased smudge")
    if rng.random() < 0.45:
        for _ in range(int(rng.choice((1, 2), p=(0.8, 0.2)))):
            spot = room.find(rng, 7)
            if spot is None:
                continue
            size = rng.uniform(2.2, 4.0)
            out.others += by.draw_dot(rng, hand, spot, size) + by.draw_cross(rng, hand, spot, size)
            room.take_disc(*spot, 7)
            out.crossed.append((*spot, size))
            out.kinds.append("crossed-out dot")
    if rng.random() < 0.6:
        for _ in range(int(rng.integers(2, 9))):
            spot = room.find(rng, 2)
            if spot is not None:
                size = rng.uniform(0.25, 0.8)
                path = np.array([spot, spot + rng.normal(0, 0.15, 2)])
                out.others.append(Stroke(path, np.full(2, size), np.full(2, rng.uniform(0.5, 1.0))))
        out.kinds.append("specks")
