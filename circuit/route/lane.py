"""One whole lane: its midline, its two traces, and where it breaks a rule that no link shows alone.

Links that don't meet at a light know nothing of each other; here the whole midline is laid out and
every pair of runs that don't share a fold is measured on the outer edges of their tapes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.layout import Point, Polyline
from circuit.route.plane import Points, dot, mitre, point_to_segment, segment_to_segment, unit
from circuit.route.site import (
    CLEAR_OF_SWITCH_MM,
    TAPE_TO_BODY_MM,
    Site,
    edge_distance,
    under_switch,
)
from circuit.route.sizes import Sizes

TAIL_EXTRA_MM = (0.3, 0.1, 0.0)  # chosen: past the last body by a hand's error where there is room


@dataclass(frozen=True, slots=True)
class Lane:
    """A midline from the battery to past the last light.

    `points` are the midline's corners, first in the battery circle; `run_of_light[i]` is the run
    (from points[r] to points[r + 1]) that the i-th passed light sits on; `order` are places
    (light number + 1); `lacks` is what its links lack of straight tape, 0 in a lane that holds.
    """

    points: Points
    run_of_light: tuple[int, ...]
    order: tuple[int, ...]
    lacks: float = 0.0

    @property
    def folds(self) -> int:
        return len(self.points) - 2

    @property
    def length(self) -> float:
        return float(np.abs(np.diff(self.points)).sum())


@dataclass(frozen=True, slots=True)
class Clash:
    """Two runs of one lane, or a run and a light's body (`light` is then a position in the
    lane's order, else -1), too close by `short_mm`."""

    run: int
    other: int
    light: int
    short_mm: float


def headings(points: Points) -> Points:
    """Unit heading of each run."""
    return np.asarray(unit(np.diff(points)))


def offset_line(points: Points, ahead: Points, beside: float) -> Points:
    """The midline's parallel, `beside` mm to its right, mitred at the folds."""
    corners = np.concatenate([[ahead[0] * 1j], mitre(ahead[:-1], ahead[1:]), [ahead[-1] * 1j]])
    return np.asarray(points + beside * corners)


def clashes(lane: Lane, site: Site) -> list[Clash]:
    """Every pair of runs, and of run and body, that is too close; empty for a lane that holds."""
    sizes = site.sizes
    ahead = headings(lane.points)
    left = offset_line(lane.points, ahead, -sizes.outer)
    right = offset_line(lane.points, ahead, sizes.outer)
    found = _run_clashes(left, right, sizes)
    found += _body_clashes(lane, left, right, ahead, site)
    found += _switch_clashes(lane, left, right, ahead, site)
    return found


def _run_clashes(left: Points, right: Points, sizes: Sizes) -> list[Clash]:
    runs = len(left) - 1
    i, j = np.triu_indices(runs, 2)
    if not len(i):
        return []
    # A coarse sieve first: most runs are nowhere near each other.
    mid = (left + right) / 2
    half = np.abs(np.diff(mid)) / 2
    centre = (mid[:-1] + mid[1:]) / 2
    close = np.abs(centre[i] - centre[j]) < half[i] + half[j] + 2 * sizes.outer + sizes.apart
    i, j = i[close], j[close]
    if not len(i):
        return []
    short = np.full(len(i), -np.inf)
    for side_i, edge_i in ((0, left), (1, right)):
        for side_j, edge_j in ((0, left), (1, right)):
            away = segment_to_segment(edge_i[i], edge_i[i + 1], edge_j[j], edge_j[j + 1])
            short = np.maximum(short, (sizes.itself if side_i == side_j else sizes.apart) - away)
    # The blunt end past the last light is an edge too.
    tail = np.flatnonzero(j == runs - 1)
    if len(tail):
        for side in (left, right):
            away = segment_to_segment(left[-1], right[-1], side[i[tail]], side[i[tail] + 1])
            short[tail] = np.maximum(short[tail], sizes.apart - away)
    return [Clash(int(a), int(b), -1, float(s)) for a, b, s in zip(i, j, short, strict=True) if s > 0]


def _body_clashes(lane: Lane, left: Points, right: Points, ahead: Points, site: Site) -> list[Clash]:
    sizes = site.sizes
    runs = len(left) - 1
    own = np.array(lane.run_of_light)
    centres = np.array([site.lights[place - 1] for place in lane.order])
    light, run = np.nonzero(own[:, None] != np.arange(runs)[None, :])
    near = (
        point_to_segment(centres[light], lane.points[run], lane.points[run + 1])
        < sizes.outer + site.body_reach + TAPE_TO_BODY_MM
    )
    light, run = light[near], run[near]
    if not len(light):
        return []
    corner = body_corners(centres[light], ahead[own[light]], sizes).T
    away = np.full(len(light), np.inf)
    for edge in (left, right):
        for n in range(4):
            away = np.minimum(
                away, segment_to_segment(corner[n], corner[(n + 1) % 4], edge[run], edge[run + 1])
            )
    blunt = np.flatnonzero(run == runs - 1)
    for n in range(4):
        end = segment_to_segment(corner[n][blunt], corner[(n + 1) % 4][blunt], left[-1], right[-1])
        away[blunt] = np.minimum(away[blunt], end)
    inside = point_to_segment(centres[light], lane.points[run], lane.points[run + 1]) < sizes.outer
    inside &= (dot(ahead[run], centres[light] - lane.points[run]) > 0) & (
        dot(ahead[run], centres[light] - lane.points[run + 1]) < 0
    )
    short = np.where(inside, sizes.outer, TAPE_TO_BODY_MM - away)
    return [
        Clash(int(r), int(own[n]), int(n), float(s))
        for n, r, s in zip(light, run, short, strict=True)
        if s > 0
    ]


def _switch_clashes(lane: Lane, left: Points, right: Points, ahead: Points, site: Site) -> list[Clash]:
    """Runs past the first, and lights, that come under the switch."""
    own = np.array(lane.run_of_light)
    bodies = body_corners(site.lights[np.array(lane.order) - 1], ahead[own], site.sizes)
    later = np.arange(1, len(ahead))
    sides = [(left[1:-1], left[2:], later), (right[1:-1], right[2:], later)]
    sides.append((left[-1:], right[-1:], np.array([len(ahead) - 1])))
    sides += [(bodies[:, corner], bodies[:, (corner + 1) % 4], own) for corner in range(4)]
    a, b = (np.concatenate([side[end] for side in sides]) for end in (0, 1))
    run = np.concatenate([side[2] for side in sides])
    under = under_switch(site, np.broadcast_to(ahead[:1], a.shape), a, b)
    return [Clash(int(r), 0, -1, CLEAR_OF_SWITCH_MM) for r in np.unique(run[under])]


def body_corners(centres: Points, ahead: Points, sizes: Sizes) -> Points:
    """(N, 4): the corners of lights' bodies that lie along these headings, in turn."""
    along, across = ahead * sizes.half_along, ahead * 1j * sizes.half_across
    return np.stack(
        [
            centres + along + across,
            centres + along - across,
            centres - along - across,
            centres - along + across,
        ],
        axis=1,
    )


def with_tail(points: Points, last_run_light: complex, ahead: complex, site: Site) -> Points | None:
    """The midline ended past the last light, as far past as the card leaves room; None without room."""
    sizes = site.sizes
    for extra in TAIL_EXTRA_MM:
        end = last_run_light + (sizes.tail + extra) * ahead
        if tail_fits(np.array([end]), np.array([ahead]), site)[0]:
            return np.append(points, end)
    return None


def tail_fits(ends: Points, ahead: Points, site: Site) -> NDArray[np.bool_]:
    """(N,) whether a lane may end there: both outer corners on the card and out of the zone."""
    sizes = site.sizes
    left, right = ends - sizes.outer * ahead * 1j, ends + sizes.outer * ahead * 1j
    good = (edge_distance(left, sizes) >= sizes.edge) & (edge_distance(right, sizes) >= sizes.edge)
    good &= point_to_segment(site.battery, left, right) >= sizes.zone
    return np.asarray(good)


def trace_lines(lane: Lane, sizes: Sizes) -> tuple[Polyline, Polyline]:
    """Left and right trace, as seen when walking from the battery; left is the positive one."""
    ahead = headings(lane.points)
    lines = []
    for beside in (-sizes.offset, sizes.offset):
        line = offset_line(lane.points, ahead, beside)
        lines.append(tuple((float(z.real), float(z.imag)) for z in line))
    return lines[0], lines[1]


def as_complex(points: Sequence[Point]) -> Points:
    """Points of (x, y) as (N,) complex numbers x + iy. [mm]"""
    return np.array([complex(x, y) for x, y in points], dtype=np.complex128)


def lengths(lane: Lane, sizes: Sizes) -> Floats:
    """(2,) left and right trace's length. [mm]"""
    ahead = headings(lane.points)
    return np.array(
        [
            np.abs(np.diff(offset_line(lane.points, ahead, beside))).sum()
            for beside in (-sizes.offset, sizes.offset)
        ]
    )
