"""Random layouts of the kinds that makers draw, for benchmarks and property tests.

Two sources. `drawn_layout` scatters lights in a family's shape, with every mark rule kept and no
thought of a lane: some have none. `laid_layout` makes a lane first and puts lights along it, so
a lane is known to exist (a caller that counts on it checks the lane, which comes along).
Common practice, no source, stands behind the shapes and sizes.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import shapely

from circuit.layout import BatteryMark, Card, Layout, LightMark, Point, Traces
from circuit.settings import Settings
from circuit.switch import shape_of

FAMILIES = ("ring", "arc", "row", "two rows", "cluster", "scattered", "two groups", "edge-hugging")
CARDS = ((107.95, 139.7), (105.0, 148.0), (127.0, 177.8), (148.0, 210.0), (139.7, 107.95), (200.0, 280.0))
LIGHTS_APART_MM = 7.5  # the rule's 7 mm and a little: these layouts are meant to keep it
LIGHT_TO_EDGE_MM = 7.8
LIGHT_TO_CELL_MM = 19.0
LIGHT_TO_SWITCH_MM = 2.7  # from a light's middle, in a lane that leads straight away from the switch
BEYOND_MIDDLE_MM = 4.5  # where the tapes begin, on the free end's side
_TRIES = 4000


def drawn_layout(family: str, count: int, rng: np.random.Generator, card: Point | None = None) -> Layout:
    """A layout of one family; ValueError for an unknown one, RuntimeError when it won't fit the card."""
    shape = _SHAPES.get(family)
    if shape is None:
        raise ValueError(f"no family called {family!r}")
    for _ in range(60):
        width, height = card or CARDS[int(rng.integers(len(CARDS)))]
        battery = _battery(width, height, rng)
        lights = shape(count, width, height, battery, rng)
        if lights is not None and len(lights) == count:
            return make_layout(width, height, battery, lights, rng)
    raise RuntimeError(f"{count} lights of family {family!r} did not fit in 60 tries")


def make_layout(
    width: float,
    height: float,
    battery: complex,
    lights: list[complex],
    rng: np.random.Generator | None = None,
) -> Layout:
    """A layout from complex points; the lights' labels in random order, as a maker draws them."""
    order = range(len(lights)) if rng is None else rng.permutation(len(lights))
    places = [lights[int(i)] for i in order]
    return Layout(
        Card(width, height),
        tuple(LightMark(f"L{i + 1}", float(z.real), float(z.imag)) for i, z in enumerate(places)),
        BatteryMark(float(battery.real), float(battery.imag), 20.5),
    )


def _battery(width: float, height: float, rng: np.random.Generator) -> complex:
    """Anywhere with the whole zone on the card, as often near an edge as not."""
    lowest = 17.5
    x = float(rng.uniform(lowest, width - lowest))
    y = float(rng.uniform(lowest, height - lowest))
    if rng.random() < 0.5:
        y = height - float(rng.uniform(17.5, 25.0))
    return complex(x, y)


def _allowed(z: complex, lights: list[complex], width: float, height: float, battery: complex) -> bool:
    on_card = LIGHT_TO_EDGE_MM <= z.real <= width - LIGHT_TO_EDGE_MM
    on_card &= LIGHT_TO_EDGE_MM <= z.imag <= height - LIGHT_TO_EDGE_MM
    return (
        on_card
        and abs(z - battery) >= LIGHT_TO_CELL_MM
        and all(abs(z - other) >= LIGHTS_APART_MM for other in lights)
    )


def _fill(
    count: int,
    draw: Callable[[], complex],
    width: float,
    height: float,
    battery: complex,
) -> list[complex] | None:
    lights: list[complex] = []
    for _ in range(_TRIES):
        if len(lights) == count:
            return lights
        z = draw()
        if _allowed(z, lights, width, height, battery):
            lights.append(z)
    return lights if len(lights) == count else None


def _along(
    points: list[complex], width: float, height: float, battery: complex, rng: np.random.Generator
) -> list[complex] | None:
    """Given places, each a hand's wobble off; None when one breaks a rule."""
    lights: list[complex] = []
    for z in points:
        z += complex(rng.normal(0, 0.3), rng.normal(0, 0.3))
        if not _allowed(z, lights, width, height, battery):
            return None
        lights.append(z)
    return lights


def _ring(n: int, w: float, h: float, b: complex, rng: np.random.Generator) -> list[complex] | None:
    for _ in range(200):
        radius = float(rng.uniform(max(8.0, n * 8.5 / (2 * math.pi)), max(12.0, min(w, h) * 0.45)))
        c = complex(rng.uniform(0, w), rng.uniform(0, h))
        turn = rng.uniform(0, 2 * math.pi)
        squash = rng.uniform(0.7, 1.0)
        points = []
        for k in range(n):
            a = turn + 2 * math.pi * k / n
            points.append(c + complex(radius * math.cos(a), squash * radius * math.sin(a)))
        found = _along(points, w, h, b, rng)
        if found:
            return found
    return None


def _arc(n: int, w: float, h: float, b: complex, rng: np.random.Generator) -> list[complex] | None:
    for _ in range(200):
        span = rng.uniform(0.6, 4.0)
        radius = float(rng.uniform(9.0 * n / span, 9.0 * n / span + 40))
        c = complex(rng.uniform(-w / 2, 1.5 * w), rng.uniform(-h / 2, 1.5 * h))
        turn = rng.uniform(0, 2 * math.pi)
        found = _along(
            [c + radius * np.exp(1j * (turn + span * k / max(n - 1, 1))) for k in range(n)], w, h, b, rng
        )
        if found:
            return found
    return None


def _row(n: int, w: float, h: float, b: complex, rng: np.random.Generator) -> list[complex] | None:
    for _ in range(400):
        step = rng.uniform(8.5, 16.0) * np.exp(
            1j * (rng.uniform(0, 2 * math.pi) if rng.random() < 0.5 else 0.0)
        )
        c = complex(rng.uniform(0, w), rng.uniform(0, h))
        found = _along([c + step * (k - (n - 1) / 2) for k in range(n)], w, h, b, rng)
        if found:
            return found
    return None


def _two_rows(n: int, w: float, h: float, b: complex, rng: np.random.Generator) -> list[complex] | None:
    for _ in range(400):
        turn = np.exp(1j * (rng.uniform(0, 2 * math.pi) if rng.random() < 0.3 else 0.0))
        step, apart = rng.uniform(9.0, 18.0), rng.uniform(10.0, 30.0)
        c = complex(rng.uniform(0, w), rng.uniform(0, h))
        first = (n + 1) // 2
        points = [c + turn * step * (k - first / 2) for k in range(first)]
        points += [c + turn * (step * (k - (n - first) / 2) + 1j * apart) for k in range(n - first)]
        found = _along(points, w, h, b, rng)
        if found:
            return found
    return None


def _cluster(n: int, w: float, h: float, b: complex, rng: np.random.Generator) -> list[complex] | None:
    spread = rng.uniform(5.0, 7.0) * math.sqrt(n) + 4.0
    c = complex(rng.uniform(0.2 * w, 0.8 * w), rng.uniform(0.2 * h, 0.8 * h))

    def draw() -> complex:
        return c + spread * math.sqrt(rng.random()) * complex(np.exp(2j * math.pi * rng.random()))

    return _fill(n, draw, w, h, b)


def _scattered(n: int, w: float, h: float, b: complex, rng: np.random.Generator) -> list[complex] | None:
    return _fill(n, lambda: complex(rng.uniform(0, w), rng.uniform(0, h)), w, h, b)


def _two_groups(n: int, w: float, h: float, b: complex, rng: np.random.Generator) -> list[complex] | None:
    spread = rng.uniform(5.5, 7.5) * math.sqrt(n / 2) + 5.0
    centres = [complex(rng.uniform(0, w), rng.uniform(0, h)) for _ in range(2)]
    if abs(centres[0] - centres[1]) < 2 * spread:
        return None
    turn = [0]

    def draw() -> complex:
        turn[0] += 1
        c = centres[turn[0] % 2]
        return c + spread * math.sqrt(rng.random()) * complex(np.exp(2j * math.pi * rng.random()))

    return _fill(n, draw, w, h, b)


def _edge_hugging(n: int, w: float, h: float, b: complex, rng: np.random.Generator) -> list[complex] | None:
    def draw() -> complex:
        off = rng.uniform(7.8, 13.0)
        side, t = int(rng.integers(4)), rng.random()
        return (
            complex(t * w, off),
            complex(t * w, h - off),
            complex(off, t * h),
            complex(w - off, t * h),
        )[side]

    return _fill(n, draw, w, h, b)


_SHAPES = {
    "ring": _ring,
    "arc": _arc,
    "row": _row,
    "two rows": _two_rows,
    "cluster": _cluster,
    "scattered": _scattered,
    "two groups": _two_groups,
    "edge-hugging": _edge_hugging,
}


def laid_layout(
    count: int, rng: np.random.Generator, settings: Settings | None = None
) -> tuple[Layout, Traces]:
    """A layout made along a random lane, and that lane's traces. RuntimeError when none came about.

    The lane wanders with folds of all turns; it leaves the cell straight to past the switch's tab and keeps 9.2 mm
    from its own far runs (midlines), clear of edges, zone and the switch's outline. Whether every rule holds is
    for the caller's checker to say.
    """
    settings = settings or Settings()
    for _ in range(400):
        width, height = CARDS[int(rng.integers(len(CARDS)))]
        battery = _battery(width, height, rng)
        made = _wander(count, width, height, battery, rng, settings)
        if made is not None:
            points, lights = made
            layout = make_layout(width, height, battery, lights, rng)
            return layout, _as_traces(points, settings)
    raise RuntimeError(f"no lane of {count} lights came about in 400 tries")


def _wander(
    count: int, width: float, height: float, battery: complex, rng: np.random.Generator, settings: Settings
) -> tuple[list[complex], list[complex]] | None:
    offset = settings.trace_offset_mm
    outer = offset + settings.tape_width_mm / 2
    clear = 2 * outer + 1.7
    heading = complex(np.exp(2j * math.pi * rng.random()))
    points = [battery - BEYOND_MIDDLE_MM * heading]
    shape = shape_of(settings)
    switch = shapely.Polygon([_as_point(battery + heading * complex(*corner)) for corner in shape.outline])
    if not switch.within(shapely.box(1.1, 1.1, width - 1.1, height - 1.1)):
        return None
    lights: list[complex] = []
    tightness = rng.uniform(1.0, 2.2)  # how much longer than needed the runs are
    while len(lights) < count:
        for _ in range(25):
            turn = (
                float(rng.choice([-1, 1]) * rng.uniform(15, 128) * math.pi / 180) if len(points) > 1 else 0.0
            )
            here = int(min(count - len(lights), rng.choice([0, 1, 1, 1, 2, 3])))
            lost = offset * math.tan(abs(turn) / 2)
            after = offset * math.tan(1.1)
            ahead = heading * complex(np.exp(1j * turn))
            first = (lost + 4.2) * rng.uniform(1.0, tightness)
            if len(points) == 1:
                first += BEYOND_MIDDLE_MM + shape.reach_mm
            gaps = [8.0 * rng.uniform(1.0, tightness) for _ in range(max(here - 1, 0))]
            last = (after + 4.2) * rng.uniform(1.0, tightness)
            if len(points) == 1 and here == 0:
                first += outer * math.tan(1.1)  # the fold's whole tape lies past the tab
            total = first + sum(gaps) + last + (0 if here else 5.0)
            end = points[-1] + total * ahead
            if not (12 < end.real < width - 12 and 12 < end.imag < height - 12):
                continue
            if any(_apart(points[-1], end, a, b) < clear for a, b in pairwise(points[:-1])):
                continue
            if (
                len(points) > 1
                and _point_apart(battery, points[-1], end) < settings.battery_zone_radius_mm + outer + 0.3
            ):
                continue
            new = []
            at = first
            for k in range(here):
                new.append(points[-1] + at * ahead)
                at += gaps[k] if k < len(gaps) else 0.0
            if not all(_allowed(z, lights, width, height, battery) for z in new):
                continue
            if len(points) > 1 and _lane(points[-1], end, outer + 0.1).intersects(switch):
                continue
            if any(shapely.Point(_as_point(z)).distance(switch) < LIGHT_TO_SWITCH_MM for z in new):
                continue
            lights += new
            if len(lights) == count and new:
                end = new[-1] + 3.0 * ahead
            points.append(end)
            heading = ahead
            break
        else:
            return None
    return points, lights


def _as_point(z: complex) -> Point:
    return (z.real, z.imag)


def _lane(a: complex, b: complex, outer: float) -> shapely.Polygon:
    """The tapes along one run, seen as one strip."""
    beside = 1j * (b - a) / abs(b - a) * outer
    return shapely.Polygon([_as_point(z) for z in (a + beside, b + beside, b - beside, a - beside)])


def _point_apart(p: complex, a: complex, b: complex) -> float:
    along = b - a
    t = min(max(((p - a) * along.conjugate()).real / abs(along) ** 2, 0.0), 1.0)
    return abs(p - a - t * along)


def _apart(a: complex, b: complex, c: complex, d: complex) -> float:
    def side(p: complex, q: complex, r: complex) -> float:
        return ((q - p).conjugate() * (r - p)).imag

    if side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0:
        return 0.0
    return min(_point_apart(a, c, d), _point_apart(b, c, d), _point_apart(c, a, b), _point_apart(d, a, b))


def _as_traces(points: list[complex], settings: Settings) -> Traces:
    """Parallels of a midline, mitred; the left one positive."""
    ahead = [(b - a) / abs(b - a) for a, b in pairwise(points)]
    lines = []
    for beside in (-settings.trace_offset_mm, settings.trace_offset_mm):
        line = [points[0] + beside * 1j * ahead[0]]
        for k in range(1, len(points) - 1):
            h, g = ahead[k - 1], ahead[k]
            line.append(points[k] + beside * 1j * (h + g) / (1 + (h.conjugate() * g).real))
        line.append(points[-1] + beside * 1j * ahead[-1])
        lines.append(tuple((z.real, z.imag) for z in line))
    return Traces(lines[0], lines[1], settings.tape_width_mm, settings.gap_mm)
