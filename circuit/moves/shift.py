"""The smallest total shift of marks that gives them the distances they need.

In:    a layout and its `Needs`; whether the battery may move as well.
Out:   the same layout with marks moved, or None where no shift within reach was found.
Fails: never.

The sum of straight-line shifts is made as small as possible by a chain of linear programs. "At least
so far apart" is not convex; at each step it is replaced by "so far apart along the present
direction", which asks for more, never for less, so that what a step finds holds. A shift's length
is bounded from below by its projections, to which each step adds the one along the shift just found.
A few starts from shaken marks guard against a poor first direction. Same input, same answer.

References
----------
.. [1] The method is textbook: outer linearisation of norms (Kelley 1960, cutting planes) inside
       sequential convex programming (Boyd and Vandenberghe, Convex Optimization, 2004). From memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from circuit.arrays import Floats
from circuit.layout import Layout
from circuit.moves.needs import Needs
from circuit.moves.straight_rows import FARTHEST_STEP_MM, ONE_PLACE_MM, StraightRow, rows_of, short_of

Flags = NDArray[np.bool_]

# Missing 1 mm of a need costs as much as shifting a mark by this: far above any real trade: chosen.
_MISSING_COST = 200.0
# Ties (either of two lights could move) go to the light that comes later: a thousandth decides nothing else.
_TIE = 1e-3
_STEPS = 14
_STARTS = 4
_SHAKE_MM = 2.0
_NEAR_MM = 25.0  # further from any trouble than this, marks stay where they are: chosen
_FIRST_DIRECTIONS = 12


def smallest_shift(
    layout: Layout,
    needs: Needs,
    *,
    move_battery: bool = False,
    later_first: bool = True,
    starts: int = _STARTS,
) -> Layout | None:
    """The layout with every need met by the least total shift found; None where none was.

    Where either of two marks could move, the later one does, or with `later_first` False the earlier
    one. More `starts` find a smaller total now and then. Marks that need not move are returned as they
    were, to the last digit.
    """
    home = marks_of(layout)
    if home.size == 0:
        return layout
    best: tuple[float, Floats] | None = None
    ties = 1.0 - _TIE * np.arange(len(home)) / len(home)
    ties = ties if later_first else ties[::-1]
    free = np.ones(len(home), dtype=bool)
    if layout.battery is not None and not move_battery:
        free[-1] = False
    least, missing = least_and_missing(layout, needs, home)
    if not missing:
        return layout
    free &= _near(home, missing)
    for start in islice(_starts(home, missing), starts):
        found = _descend(layout, needs, home, start, free, ties)
        if found is None:
            continue
        cost = float(np.hypot(*(found - home).T).sum())
        if best is None or cost < best[0] - ONE_PLACE_MM:
            best = (cost, found)
        if best[0] <= least + ONE_PLACE_MM:
            break
    return None if best is None else with_marks(layout, best[1])


def marks_of(layout: Layout) -> Floats:
    """Lights' centres, then the battery's where there is one, (n, 2). [mm]"""
    places = [light.centre for light in layout.lights]
    if layout.battery is not None:
        places.append(layout.battery.centre)
    return np.array(places, dtype=np.float64).reshape(-1, 2)


def with_marks(layout: Layout, marks: Floats) -> Layout:
    """The layout with its marks at these (n, 2) places, in the order of `marks_of`; unmoved marks untouched."""

    def place(k: int, x: float, y: float) -> tuple[float, float]:
        moved = math.dist((x, y), marks[k]) > ONE_PLACE_MM
        return (float(marks[k][0]), float(marks[k][1])) if moved else (x, y)

    lights = []
    for k, light in enumerate(layout.lights):
        x, y = place(k, light.x_mm, light.y_mm)
        lights.append(replace(light, x_mm=x, y_mm=y))
    battery = layout.battery
    if battery is not None:
        x, y = place(len(lights), battery.x_mm, battery.y_mm)
        battery = replace(battery, x_mm=x, y_mm=y)
    return replace(layout, lights=tuple(lights), battery=battery)


def _starts(home: Floats, missing: set[int]) -> Iterator[Floats]:
    """The marks as they are, then with those that miss a need shaken."""
    yield home
    rng = np.random.default_rng(len(home))
    marks = sorted(missing)
    for _ in range(_STARTS - 1):
        start = home.copy()
        start[marks] += rng.normal(0.0, _SHAKE_MM, (len(marks), 2))
        yield start


def least_and_missing(layout: Layout, needs: Needs, home: Floats) -> tuple[float, set[int]]:
    """A total shift that nothing can beat, and the marks that miss a need where they are at home, (n, 2).

    Each missed need costs at least what it misses; needs that share no mark add up.
    """
    missed: list[tuple[float, set[int]]] = []
    for row in rows_of(layout, needs, home):
        short = short_of(row, home)
        if short > ONE_PLACE_MM:
            missed.append((short, {coordinate // 2 for coordinate in row.coordinates}))
    least, counted = 0.0, set[int]()
    for short, marks in sorted(missed, key=lambda item: -item[0]):
        if not marks & counted:
            least += short
            counted |= marks
    return least, set[int]().union(*(marks for _, marks in missed))


def _near(home: Floats, missing: set[int]) -> Flags:
    """Marks that could have a part in mending what is missed: those within a few steps of it."""
    if not missing:
        return np.ones(len(home), dtype=bool)
    centres = home[sorted(missing)]
    distances = np.hypot(*(home[:, None, :] - centres[None, :, :]).transpose(2, 0, 1)).min(axis=1)
    return np.asarray(distances < _NEAR_MM)


def _descend(
    layout: Layout, needs: Needs, home: Floats, start: Floats, free: Flags, ties: Floats
) -> Floats | None:
    """From one start to where a step changes nothing; None where needs are still missed there."""
    now = np.where(free[:, None], start, home)
    angles = np.arange(_FIRST_DIRECTIONS) * 2 * math.pi / _FIRST_DIRECTIONS
    compass = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    cuts: list[tuple[int, float, float]] = [
        (int(k), float(x), float(y)) for k in np.flatnonzero(free) for x, y in compass
    ]
    missed = math.inf
    for _ in range(_STEPS):
        step = _solve(list(rows_of(layout, needs, now)), cuts, home, now, free, ties)
        if step is None:
            return None
        found, missed = step
        for k in np.flatnonzero(free):
            shift = found[k] - home[k]
            size = math.hypot(*shift)
            if size > ONE_PLACE_MM:
                cuts.append((int(k), float(shift[0] / size), float(shift[1] / size)))
        change = float(np.abs(found - now).max())
        now = found
        if change < ONE_PLACE_MM:
            break
    return now if missed < ONE_PLACE_MM else None


def _solve(
    rows: list[StraightRow],
    cuts: list[tuple[int, float, float]],
    home: Floats,
    now: Floats,
    free: Flags,
    ties: Floats,
) -> tuple[Floats, float] | None:
    """One linear program: the marks' new places and what is still missed in all. [mm]

    Variables: coordinates of the free marks, the length of each one's shift, what each row misses.
    """
    marks = np.flatnonzero(free)
    column = np.full(len(home), -1)
    column[marks] = np.arange(len(marks))
    settled = [row for row in rows if not any(free[k // 2] for k in row.coordinates)]
    rows = [row for row in rows if any(free[k // 2] for k in row.coordinates)]
    missed = sum(max(0.0, short_of(row, now)) for row in settled)
    if len(marks) == 0:
        return now, missed
    # They take a quarter of a second to load, and most cards need no move.
    from scipy.optimize import linprog
    from scipy.sparse import coo_array

    lengths, misses = 2 * len(marks), 3 * len(marks)
    size = misses + len(rows)
    cost = np.concatenate([np.zeros(lengths), ties[marks], np.full(len(rows), _MISSING_COST)])
    left: list[tuple[int, int, float]] = []  # what is not 0: row, variable, coefficient
    right = np.zeros(len(rows) + len(cuts))
    flat = now.ravel()
    for r, row in enumerate(rows):
        right[r] = -row.bound
        for k, coefficient in zip(row.coordinates, row.coefficients, strict=True):
            if free[k // 2]:
                left.append((r, 2 * column[k // 2] + k % 2, -coefficient))
            else:
                right[r] += coefficient * flat[k]
        left.append((r, misses + r, -1.0))
    for c, (k, x, y) in enumerate(cuts, start=len(rows)):
        at = column[k]
        left += [(c, 2 * at, x), (c, 2 * at + 1, y), (c, lengths + at, -1.0)]
        right[c] = x * home[k][0] + y * home[k][1]
    bounds = np.zeros((size, 2))
    bounds[:, 1] = math.inf
    bounds[:lengths] = np.stack(
        [(now[marks] - FARTHEST_STEP_MM).ravel(), (now[marks] + FARTHEST_STEP_MM).ravel()], axis=1
    )
    at_row, at_variable, coefficients = zip(*left, strict=True)
    matrix = coo_array((coefficients, (at_row, at_variable)), shape=(len(right), size)).tocsr()
    answer = linprog(cost, A_ub=matrix, b_ub=right, bounds=bounds, method="highs")
    if not answer.success:
        return None
    values = np.asarray(answer.x, dtype=np.float64)
    places = now.copy()
    places[marks] = values[:lengths].reshape(-1, 2)
    return places, missed + float(values[misses:].sum())
