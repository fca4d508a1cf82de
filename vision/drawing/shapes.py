"""The shapes that a card is drawn with: tape, creases, bars, signs' places, bodies, rings, dashes.

In:    marks, parts and lines in card millimetres (or any other plane, y down).
Out:   points and polygons in the same plane; no colours, no pens.
Fails: never; repeated points are passed over.

      outer corner                    a fold turns the tape on its mitre: the crease runs
      +------------+                  from the inner to the outer corner
      | \\ crease   |
      |    +-------+
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from circuit.layout import Card, Point, Polyline
from circuit.part_kinds import LightPart
from circuit.polyline import EASED_TURN_DEG, between, heading_deg, turn_deg
from vision.drawing.box import Box

_SAME_POINT = 1e-9  # arithmetic, not craft
_MOST_MITRE = 2.7  # 1 / cos(135/2 deg) is 2.61: the sharpest fold that the rules allow keeps its full corner
_LEAST_CHORDS = 24  # chosen: a small circle still looks round
_CORNERS_FROM_DEG = (180.0, 270.0, 0.0, 90.0)  # where each corner's arc begins, the top left first
_CORNER_CHORDS = 5  # chosen: a rounded corner's straight pieces
_STEPS_PER_SIGN = 12  # chosen: places tried along the tape before the next sign is due
_CLEAR_OF_FOLD = 1.2  # chosen: a sign's least distance from a fold, over the tape's width
_MOST_OFF_END = 1 / 3  # chosen: of an end run, that shortening may take


@dataclass(frozen=True, slots=True)
class Crease:
    """Where tape is folded over: the fold's point, the slanting crease's ends, the corner's outer side last."""

    at: Point
    inner: Point
    outer: Point
    turn_deg: float


def circle_points(centre: Point, radius: float, *, chord: float = 0.5) -> list[Point]:
    """Points round a circle, first and last the same; straight pieces no longer than `chord`."""
    return arc_points(centre, radius, 0.0, 360.0, chord=chord)


def arc_points(
    centre: Point, radius: float, start_deg: float, span_deg: float, *, chord: float = 0.5
) -> list[Point]:
    """Points along an arc, first and last included; a span over 360 degrees overshoots."""
    span = math.radians(span_deg)
    count = max(math.ceil(_LEAST_CHORDS * abs(span_deg) / 360), math.ceil(radius * abs(span) / chord), 1)
    angles = (math.radians(start_deg) + span * i / count for i in range(count + 1))
    return [(centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in angles]


def rounded_corners(box: Box, radius: float) -> list[Point]:
    """A box's outline, its corners rounded."""
    inner = box.inset(radius)
    outline: list[Point] = []
    for corner, start in zip(inner.corners, _CORNERS_FROM_DEG):
        outline += arc_points(corner, radius, start, 90.0, chord=math.pi / 2 * radius / _CORNER_CHORDS)
    return outline


def dashes(points: Sequence[Point], dash: float, gap: float) -> list[list[Point]]:
    """Cut a line into dashes; the pattern runs on round corners."""
    pieces: list[list[Point]] = []
    drawing, left = True, dash
    piece = [points[0]] if points else []
    for a, b in pairwise(points):
        run = math.dist(a, b)
        done = 0.0
        while run - done > left:
            done += left
            spot = between(a, b, done / run)
            if drawing:
                pieces.append([*piece, spot])
            piece = [spot]
            drawing = not drawing
            left = dash if drawing else gap
        left -= run - done
        if drawing:
            piece.append(b)
    if drawing and len(piece) > 1:
        pieces.append(piece)
    return pieces


def card_corners(card: Card) -> Polyline:
    """Top left, top right, bottom right, bottom left."""
    return Box(0.0, 0.0, card.width_mm, card.height_mm).corners


def tidy(line: Sequence[Point]) -> Polyline:
    """The line without points that repeat the one before."""
    return tuple(
        point for i, point in enumerate(line) if i == 0 or math.dist(point, line[i - 1]) > _SAME_POINT
    )


def tape_pieces(line: Sequence[Point], width: float) -> tuple[Polyline, ...]:
    """Polygons that together cover a tape: flat ends, mitred corners. All turn the same way."""
    line = tidy(line)
    half = width / 2
    pieces: list[Polyline] = []
    for a, b in pairwise(line):
        nx, ny = _normal(a, b)
        pieces.append(
            (
                (a[0] + nx * half, a[1] + ny * half),
                (a[0] - nx * half, a[1] - ny * half),
                (b[0] - nx * half, b[1] - ny * half),
                (b[0] + nx * half, b[1] + ny * half),
            )
        )
    for a, b, c in zip(line, line[1:], line[2:]):
        corner = _outer_corner(a, b, c, half)
        if corner is not None:
            pieces.append(corner)
    return tuple(pieces)


def creases(line: Sequence[Point], width: float) -> tuple[Crease, ...]:
    """The folds of a tape in order; turns so small that it is eased round have none."""
    line = tidy(line)
    found = []
    for before, here, after in zip(line, line[1:], line[2:]):
        turn = turn_deg(heading_deg(before, here), heading_deg(here, after))
        middle = _towards_inner(before, here, after)
        if abs(turn) < EASED_TURN_DEG or middle is None:
            continue
        reach = _mitre(turn) * width / 2
        dx, dy = middle[0] * reach, middle[1] * reach
        found.append(Crease(here, (here[0] + dx, here[1] + dy), (here[0] - dx, here[1] - dy), turn))
    return tuple(found)


def shortened_line(line: Sequence[Point], by: float) -> Polyline:
    """The line with that much cut off each end; never more than a third of an end run."""
    line = tidy(line)
    if len(line) < 2:
        return line
    return (_towards(line[0], line[1], by), *line[1:-1], _towards(line[-1], line[-2], by))


def bars(line: Sequence[Point], width: float, bar: float, every: float) -> tuple[Polyline, ...]:
    """Bars straight across a tape, at equal steps along it: how the negative one is told apart."""
    found: list[Polyline] = []
    along = every / 2
    for a, b in pairwise(tidy(line)):
        run = math.dist(a, b)
        ux, uy = (b[0] - a[0]) / run, (b[1] - a[1]) / run
        while along < run:
            ends = [max(along - bar / 2, 0.0), min(along + bar / 2, run)]
            (ax, ay), (bx, by) = ((a[0] + ux * end, a[1] + uy * end) for end in ends)
            nx, ny = -uy * width / 2, ux * width / 2
            found.append(((ax + nx, ay + ny), (ax - nx, ay - ny), (bx - nx, by - ny), (bx + nx, by + ny)))
            along += every
        along -= run
    return tuple(found)


def sign_places(
    line: Sequence[Point], width: float, every: float, clear_of: Sequence[Point], clear: float
) -> list[Point]:
    """Where a tape's signs go: evenly along it, away from `clear_of` by `clear`, and from its folds.
    A tape too crowded for any gets one in the middle of its longest run."""
    line = tidy(line)
    places: list[Point] = []
    since = every * 0.5
    for a, b in pairwise(line):
        run = math.dist(a, b)
        count = max(1, math.floor(run * _STEPS_PER_SIGN / every))
        for i in range(count):
            done = (i + 0.5) * run / count
            spot = between(a, b, done / run)
            since += run / count
            fits = min(done, run - done) >= _CLEAR_OF_FOLD * width
            if since >= every and fits and all(math.dist(spot, at) >= clear for at in clear_of):
                places.append(spot)
                since = 0.0
    if not places and len(line) > 1:
        places.append(between(*max(pairwise(line), key=lambda ends: math.dist(*ends)), 0.5))
    return places


def body_corners(
    centre: Point, part: LightPart, positive_deg: float, along: tuple[float, float] = (-1, 1)
) -> Polyline:
    """Corners of a light's body; `along` cuts out the part from -1 (negative end) to 1 (positive end).
    The two in the middle are the far end's."""
    ux, uy = math.cos(math.radians(positive_deg)), math.sin(math.radians(positive_deg))
    half_l, half_w = part.length_mm / 2, part.width_mm / 2
    return tuple(
        (centre[0] + ux * half_l * a - uy * half_w * b, centre[1] + uy * half_l * a + ux * half_w * b)
        for a, b in ((along[0], -1), (along[1], -1), (along[1], 1), (along[0], 1))
    )


def reach_of(part: LightPart) -> float:
    """From a body's centre to its corners."""
    return math.hypot(part.length_mm, part.width_mm) / 2


def octagon(centre: Point, inner_radius: float) -> list[Point]:
    """Eight corners, a flat side up, round a circle of that radius."""
    outer = inner_radius / math.cos(math.pi / 8)
    angles = [math.pi / 8 + math.pi / 4 * i for i in range(8)]
    return [(centre[0] + outer * math.cos(a), centre[1] + outer * math.sin(a)) for a in angles]


def _outer_corner(a: Point, b: Point, c: Point, half: float) -> Polyline | None:
    """The kite that fills a tape's outer corner at `b`; None where it goes straight on or back."""
    middle = _towards_inner(a, b, c)
    if middle is None:
        return None
    turn = turn_deg(heading_deg(a, b), heading_deg(b, c))
    side = -1.0 if turn > 0 else 1.0
    (n1x, n1y), (n2x, n2y) = _normal(a, b), _normal(b, c)
    reach = half * _mitre(turn)
    kite = (
        b,
        (b[0] + side * n1x * half, b[1] + side * n1y * half),
        (b[0] - middle[0] * reach, b[1] - middle[1] * reach),
        (b[0] + side * n2x * half, b[1] + side * n2y * half),
    )
    # Turned as the runs' pieces are.
    return kite if side < 0 else kite[::-1]


def _mitre(turn: float) -> float:
    """How far a fold's corner lies from its point, over half the tape's width."""
    return min(1 / max(math.cos(math.radians(turn) / 2), _SAME_POINT), _MOST_MITRE)


def _towards_inner(before: Point, here: Point, after: Point) -> Point | None:
    """The unit vector from a fold to its inner corner; None where the line goes straight on or back."""
    (bx, by), (ax, ay) = _unit(here, before), _unit(here, after)
    sx, sy = bx + ax, by + ay
    size = math.hypot(sx, sy)
    if size < 1e-7 or size > 2 - 1e-7:  # arithmetic, not craft
        return None
    return (sx / size, sy / size)


def _unit(a: Point, b: Point) -> Point:
    size = math.dist(a, b)
    return ((b[0] - a[0]) / size, (b[1] - a[1]) / size)


def _normal(a: Point, b: Point) -> Point:
    """To the right of travel (y down)."""
    ux, uy = _unit(a, b)
    return (-uy, ux)


def _towards(a: Point, b: Point, by: float) -> Point:
    run = math.dist(a, b)
    return between(a, b, min(by / run, _MOST_OFF_END) if run > 0 else 0.0)
