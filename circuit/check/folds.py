"""How near folds are to one another, and how sharp one is.

In:    a `Scene` with traces.
Out:   a finding per neighbouring pair of folds, and per fold.
Fails: never; a straight trace has nothing to measure.

Interpretation: every corner counts, gentle bends under 15° as well: tape that is eased round by
hand takes up some of the straight before and after it. Corners under 0.1° are rounding.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from circuit.check.finding import ARM_MM, Finding, in_quadrature
from circuit.check.scene import Scene


def measure_folds(scene: Scene) -> Iterator[Finding]:
    """Distances between neighbours, then turns, trace by trace."""
    for polarity, tape in scene.every_tape:
        bound = scene.line_uncertainty_mm(polarity)
        for (a, b), apart in zip(pairwise(tape.folds), tape.lengths[1:-1], strict=True):
            middle = (a + b) / 2
            yield Finding(
                "folds-too-close",
                "close",
                (polarity,),
                (float(middle[0]), float(middle[1])),
                float(apart),
                in_quadrature(bound, bound),
            )
        turn_bound = float(np.degrees(np.arctan2(in_quadrature(bound, bound), ARM_MM)))
        for (x, y), turn in zip(tape.folds, tape.turns_deg, strict=True):
            yield Finding(
                "folds-too-close.turn-deg", "turn", (polarity,), (float(x), float(y)), float(turn), turn_bound
            )
