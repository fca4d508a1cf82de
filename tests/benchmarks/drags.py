"""How long a dropped mark takes to be planned anew: the planner's own processor time, over made-up cards."""

from __future__ import annotations

import random
import time

import numpy as np

from circuit.layout import Reading
from circuit.plan import Plan
from circuit.plan_json import plan_to_dict
from cli.phone.planning import run_job
from tests.benchmarks.layouts import laid_layout

MOST_LIGHTS = 12


def change_times(count, seed):
    """Processor seconds of each of `count` drags, one a card; cards of 1 to 12 lights in turn."""
    dice = random.Random(seed)
    waits = []
    for number in range(count):
        layout, _ = laid_layout(1 + number % MOST_LIGHTS, np.random.default_rng(seed * 1000 + number))
        plan = plan_to_dict(Plan(layout=layout, reading=Reading("made up", None, None, 0.3, True)))
        mark = dice.choice(layout.lights)
        to = [mark.x_mm + dice.uniform(-6, 6), mark.y_mm + dice.uniform(-6, 6)]
        card = layout.card
        frame = {"margin_mm": 6.0, "width_mm": card.width_mm + 12.0, "height_mm": card.height_mm + 12.0}
        change = {"kind": "move", "about": mark.label, "to": to}
        job = {"do": "change", "plan": plan, "read": plan, "wishes": {}, "change": change, "frame": frame}
        begun = time.process_time()
        answer = run_job(job)
        waits.append(time.process_time() - begun)
        assert "ok" in answer, answer
    return waits
