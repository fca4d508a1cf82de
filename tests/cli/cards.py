"""Made-up plans for the pages' tests: a lane along a given midline, lights at given distances on it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from circuit.layout import BatteryMark, Card, Layout, LightMark, Point, Problem, Reading, Traces, as_said
from circuit.plan import Plan
from circuit.polyline import length


def offset(line: Sequence[Point], by_mm: float) -> tuple[Point, ...]:
    """The line shifted sideways, its corners mitred; to the right of its direction for `by_mm` above 0."""
    units = [((b[0] - a[0]) / math.dist(a, b), (b[1] - a[1]) / math.dist(a, b)) for a, b in pairwise(line)]
    shifted = []
    for index, (x, y) in enumerate(line):
        ux, uy = units[max(index - 1, 0)]
        vx, vy = units[min(index, len(units) - 1)]
        nx, ny = -uy - vy, ux + vx  # the sum of both normals
        scale = by_mm / (1 + ux * vx + uy * vy)
        shifted.append((x + nx * scale, y + ny * scale))
    return tuple(shifted)


def on(line: Sequence[Point], along_mm: float) -> Point:
    for a, b in pairwise(line):
        run = math.dist(a, b)
        if along_mm <= run:
            return (a[0] + (b[0] - a[0]) * along_mm / run, a[1] + (b[1] - a[1]) * along_mm / run)
        along_mm -= run
    return line[-1]


def plan_along(
    midline: Sequence[Point],
    lights_at_mm: Sequence[float],
    card: Card,
    *,
    window: tuple[Point, ...] | None = None,
    problems: tuple[Problem, ...] = (),
    photo: str = "harbour.jpg",
    side: float = 1.0,
) -> Plan:
    """A plan whose tapes begin 4.5 mm beyond the battery's middle, which lies on the midline."""
    (x0, y0), (x1, y1) = midline[0], midline[1]
    run = math.dist(midline[0], midline[1])
    battery = BatteryMark(x0 + (x1 - x0) / run * 4.5, y0 + (y1 - y0) / run * 4.5, 20.0)
    lights = tuple(
        LightMark(f"L{i}", *on(midline, at), diameter_mm=3.0) for i, at in enumerate(lights_at_mm, 1)
    )
    assert length(tuple(midline)) > max(lights_at_mm)
    return Plan(
        layout=Layout(card, lights, battery, window),
        traces=Traces(offset(midline, -2.5 * side), offset(midline, 2.5 * side)),
        problems=problems,
        reading=Reading(photo, "coded", 40.0, 0.2, True),
        settings={"light": "5050", "cell": "CR2032", "units": "mm"},
    )


QUARTER = Card(107.95, 139.7, "quarter-letter")


def one_light() -> Plan:
    """A campfire: one light above the cell."""
    return plan_along([(54.0, 102.0), (54.0, 45.0)], [53.0], QUARTER, photo="campfire.jpg")


def seven_lights() -> Plan:
    """A harbour: quay lights in two rows, a slanting leg between them."""
    midline = [(80.0, 124.0), (80.0, 88.0), (22.0, 80.0), (22.0, 50.0), (60.0, 30.0), (90.0, 30.0)]
    window = ((14.0, 14.0), (96.0, 14.0), (96.0, 60.0), (70.0, 68.0), (14.0, 92.0))
    return plan_along(midline, [50.0, 66.0, 82.0, 110.0, 137.0, 151.0, 190.0], QUARTER, window=window)


def fourteen_lights() -> Plan:
    """A night sky, on a card that lies: fourteen lights in three rows."""
    card = Card(177.8, 127.0, "5x7in")
    rows = [(152.0, 102.0), (118.0, 102.0), (105.0, 96.0), (18.0, 96.0), (12.0, 84.0), (12.0, 66.0)]
    rows += [(24.0, 60.0), (150.0, 60.0), (162.0, 50.0), (162.0, 32.0), (150.0, 24.0), (30.0, 18.0)]
    at = [12.0 + along for along in (45, 61, 77, 93, 168, 186, 204, 222, 240, 258, 322, 345, 375, 400)]
    return plan_along(rows, at, card, photo="night sky.jpg")


def half_sheet() -> Plan:
    """A skyline on a lying A5 card, which only just fits on A4; the reading has a doubt."""
    midline = [(45.0, 110.0), (150.0, 90.0), (165.0, 50.0), (40.0, 35.0)]
    plan = plan_along(
        midline, [50.0, 75.0, 125.0, 180.0, 240.0], Card(210.0, 148.0, "A5"), photo="skyline.jpg"
    )
    return replace(
        plan, reading=Reading("skyline.jpg", "plain", 25.4, 0.5, False, (as_said("L2 may be a smudge."),))
    )


def large() -> Plan:
    """A poster of 300 x 250 mm, which takes several pages."""
    card = Card(300.0, 250.0)
    midline = [(240.0, 210.0), (60.0, 210.0), (40.0, 190.0), (40.0, 60.0), (60.0, 40.0), (270.0, 40.0)]
    return plan_along(midline, [40.0, 90.0, 140.0, 230.0, 270.0, 300.0, 380.0, 430.0, 500.0], card)


def no_traces() -> Plan:
    """Two lights too near each other for any lane."""
    plan = seven_lights()
    blocked = Problem(
        "no-lane", "must-fix", ("L2", "L3"), plan.layout.lights[1].centre, None, 0.0, None,
        "No pair of tapes can pass between L2 and L3; move L3 at least 2.1 mm to the left.",
    )  # fmt: skip
    return Plan(plan.layout, None, (blocked,), (), plan.reading, plan.settings)
