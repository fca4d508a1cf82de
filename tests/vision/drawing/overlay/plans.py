"""Plans made by hand for the overlay's tests: a harbour card, and cards of any size with random marks."""

import numpy as np

from circuit.layout import (
    BatteryMark,
    Card,
    Layout,
    LightMark,
    Move,
    Problem,
    Reading,
    Traces,
    as_said,
)
from circuit.plan import Plan
from vision.straight_card import StraightCard


def problem(where_mm, level="must-fix", about=("L1",), advice="Move it.", measured=6.1):
    return Problem("lights-too-close", level, about, where_mm, measured, 0.3, 7.0, advice)


def harbour_plan(problems=(), moves=(), **layout):
    """Three lights in a row on the lane's midline y = 40, the battery under its left end."""
    marks = {
        "card": Card(107.95, 139.7),
        "lights": tuple(LightMark(f"L{i}", 20.0 + 25 * i, 40.0, 3.0, 0.2) for i in (1, 2, 3)),
        "battery": BatteryMark(30.0, 100.0, 20.4, 0.2, 0.2),
        **layout,
    }
    traces = Traces(
        positive=((32.5, 100.0), (32.5, 42.5), (98.0, 42.5)),
        negative=((27.5, 100.0), (27.5, 37.5), (98.0, 37.5)),
    )
    reading = Reading("harbour.jpg", "coded", 40.0, 0.2, True, ())
    return Plan(Layout(**marks), traces, tuple(problems), tuple(moves), reading)


HARBOUR_SIDES = {"L1": 90.0, "L2": 90.0, "L3": 90.0}  # the positive trace runs below the midline


def crowded_plan(width_mm, height_mm, lights, problems, seed, unsure=2):
    """Random marks, a naive lane from light to light, problems on marks and elsewhere: a mess to annotate."""
    rng = np.random.default_rng(seed)
    battery = BatteryMark(width_mm * 0.5, height_mm * 0.7, min(20.4, min(width_mm, height_mm) * 0.5))
    places = [
        (float(rng.uniform(4, width_mm - 4)), float(rng.uniform(4, height_mm - 4))) for _ in range(lights)
    ]
    marks = tuple(LightMark(f"L{i + 1}", x, y, 3.0, 0.2, sure=i >= unsure) for i, (x, y) in enumerate(places))
    traces = None
    if places:
        line = [battery.centre, *places]
        traces = Traces(tuple((x + 2.5, y) for x, y in line), tuple((x - 2.5, y) for x, y in line))
    found = tuple(
        problem(
            places[i % lights] if lights and i % 2 else (rng.uniform(0, width_mm), rng.uniform(0, height_mm)),
            "look-again" if i % 3 else "must-fix",
            advice=f"The lights near here are 6.1 mm apart; they need 7 mm: move one of them ({i}).",
        )
        for i in range(problems)
    )
    moves = tuple(
        Move(mark.label, mark.centre, (mark.x_mm + 2.0, mark.y_mm - 1.0), "lights-too-close")
        for mark in marks[:3]
    )
    layout = Layout(Card(width_mm, height_mm), marks, battery)
    return Plan(
        layout,
        traces,
        found,
        moves,
        Reading("mess.jpg", "plain", 25.4, 0.4, False, (as_said("It is bent."),)),
    )


def paper_photo(card, px_per_mm=8.0, margin_mm=4.0, paper=(225, 222, 214), table=(90, 60, 40)):
    """A straightened picture without any marks: paper on a darker table, light falling off to the right."""
    width = round((card.width_mm + 2 * margin_mm) * px_per_mm)
    height = round((card.height_mm + 2 * margin_mm) * px_per_mm)
    pixels = np.empty((height, width, 3))
    pixels[:] = table
    rim = round(margin_mm * px_per_mm)
    pixels[rim : height - rim, rim : width - rim] = paper
    pixels *= np.linspace(1.0, 0.6, width)[None, :, None]
    return StraightCard(pixels.astype(np.uint8), px_per_mm, card, margin_mm)
