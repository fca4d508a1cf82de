"""On paper: what to rub out and where to pencil it, after marks were changed on the screen.

In:    the marks as they are on the paper, and as they should be.
Out:   one step a mark, in the order of working: first all rubbing out, then all pencilling.
Fails: never.
"""

from __future__ import annotations

import math

from circuit.layout import Card, Layout, Point
from circuit.lengths import format_length
from circuit.settings import Units

LEAST_MOVE_MM = 0.3  # chosen: less is within the width of a pencil's line


def paper_steps(on_paper: Layout, wanted: Layout, units: Units) -> tuple[str, ...]:
    """Ready sentences; none where the paper is as it should be."""
    rub, pencil = [], []
    now = {light.label: light.centre for light in wanted.lights}
    was = {light.label: light.centre for light in on_paper.lights}
    for label, at in was.items():
        if label not in now:
            rub.append(f"Rub out {label}, {_from_edges(at, on_paper.card, units)}.")
        elif math.dist(at, now[label]) > LEAST_MOVE_MM:
            rub.append(f"Rub out {label}, {_from_edges(at, on_paper.card, units)}.")
            pencil.append(f"Pencil {label} again, {_from_edges(now[label], wanted.card, units)}.")
    pencil += [
        f"Pencil {label}, a filled dot, {_from_edges(at, wanted.card, units)}."
        for label, at in now.items()
        if label not in was
    ]
    if on_paper.battery is not None and wanted.battery is not None:
        old, new = on_paper.battery.centre, wanted.battery.centre
        if math.dist(old, new) > LEAST_MOVE_MM:
            rub.append(f"Rub out the battery circle; its middle is {_from_edges(old, on_paper.card, units)}.")
            pencil.append(f"Trace round the cell again, its middle {_from_edges(new, wanted.card, units)}.")
    return (*rub, *pencil)


def _from_edges(at: Point, card: Card, units: Units) -> str:
    """Measured from the two nearest edges, one across and one down."""
    x, y = at
    across = (x, "left") if x <= card.width_mm / 2 else (card.width_mm - x, "right")
    down = (y, "top") if y <= card.height_mm / 2 else (card.height_mm - y, "bottom")
    return (
        f"{format_length(across[0], units)} from the {across[1]} edge and "
        f"{format_length(down[0], units)} from the {down[1]}"
    )
