"""On paper: what to rub out and where to pencil it, after marks were changed on the screen.

In:    the marks as they are on the paper, and as they should be.
Out:   one step a mark, in the order of working: first all rubbing out, then all pencilling.
Fails: never.
"""

from __future__ import annotations

import math

from circuit.layout import Layout
from circuit.settings import Units
from circuit.whereabouts import from_edges

LEAST_MOVE_MM = 0.3  # chosen: less is within the width of a pencil's line


def paper_steps(on_paper: Layout, wanted: Layout, units: Units) -> tuple[str, ...]:
    """Ready sentences; none where the paper is as it should be."""
    rub, pencil = [], []
    now = {light.label: light.centre for light in wanted.lights}
    was = {light.label: light.centre for light in on_paper.lights}
    for label, at in was.items():
        if label not in now:
            rub.append(f"Rub out {label}, {from_edges(at, on_paper.card, units)}.")
        elif math.dist(at, now[label]) > LEAST_MOVE_MM:
            rub.append(f"Rub out {label}, {from_edges(at, on_paper.card, units)}.")
            pencil.append(f"Pencil {label} again, {from_edges(now[label], wanted.card, units)}.")
    pencil += [
        f"Pencil {label}, a filled dot, {from_edges(at, wanted.card, units)}."
        for label, at in now.items()
        if label not in was
    ]
    if on_paper.battery is not None and wanted.battery is not None:
        old, new = on_paper.battery.centre, wanted.battery.centre
        if math.dist(old, new) > LEAST_MOVE_MM:
            rub.append(f"Rub out the battery circle; its middle is {from_edges(old, on_paper.card, units)}.")
            pencil.append(f"Trace round the cell again, its middle {from_edges(new, wanted.card, units)}.")
    return (*rub, *pencil)
