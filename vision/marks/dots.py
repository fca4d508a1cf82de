"""Which dark spots are filled-in dots: lights, doubtful lights, or neither.

In:    the card's `Blob`s.
Out:   each blob's verdict with the reason for a doubt in a maker's words.
Fails: never.

Every trait of a blob has a value up to which it is fine and one from which it speaks against a dot;
in between the traits add up. What lies between sure and hopeless is a doubt.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from vision.marks.blobs import Blob

Verdict = Literal["light", "doubt", "neither"]

# Traits as (fine up to, hopeless from); chosen, from graphite on paper grain as drawn and photographed.
LEAST_DIAMETER_MM = (1.55, 1.2)  # a 2 mm dot measures 1.7-1.8 at half its darkness
MOST_DIAMETER_MM = (5.6, 6.6)
STRAYS = (0.30, 0.52)
# A crossing of strokes in a word is as dark as a dot and 1.2-1.8 mm across, but strokes leave it all round:
# the smaller the blob, the fewer strokes may touch it.
SMALL_DIAMETER_MM = 1.5
WHOLE_DIAMETER_MM = 2.2
STRAYS_WHEN_SMALL = (0.08, 0.20)
RAGGED_MM = (0.15, 0.23)
HOLES = (0.10, 0.24)
MIDDLE = (0.55, 0.33)
LONG = (0.13, 0.26)
LEVEL_OF_REFERENCE = (0.40, 0.22)
LEAST_LEVEL = 0.07  # chosen: nothing so pale is a filled-in dot
SOFT_EDGE_MM = (0.75, 1.3)
BLUR_EDGE_TIMES = 1.4  # a blurred step falls from 3/4 to 1/4 within 1.35 standard deviations
SURE_BELOW = 0.45  # chosen, of 1: how far from fine a blob may be and still be sure
USUAL_LEVEL = 0.4  # chosen: what a soft pencil leaves, where no dot on the card tells


@dataclass(frozen=True, slots=True)
class Judged:
    """A blob with its verdict; `why` names what speaks against it most."""

    blob: Blob
    verdict: Verdict
    why: str | None


def judge_dots(blobs: list[Blob], blur_mm: float) -> list[Judged]:
    """The verdict on every blob, in the same order."""
    clean = [b.level for b in blobs if 1.6 <= 2 * b.radius_mm <= 5.6 and b.strays < 0.25 and b.holes < 0.1]
    reference = float(np.median(clean)) if clean else USUAL_LEVEL
    return [_judge(blob, reference, blur_mm) for blob in blobs]


def _judge(blob: Blob, reference: float, blur_mm: float) -> Judged:
    diameter = 2 * blob.radius_mm
    soft = blob.edge_mm - BLUR_EDGE_TIMES * blur_mm
    against = {
        "a small speck": _towards(diameter, *LEAST_DIAMETER_MM),
        "a large dark patch": _towards(diameter, *MOST_DIAMETER_MM),
        "strokes that meet": _towards(blob.strays, *_stray_limits(diameter)),
        "a ragged scribble": _towards(blob.ragged_mm, *RAGGED_MM),
        "an unfilled scribble": _towards(blob.holes, *HOLES),
        "a small loop": _towards(blob.middle, *MIDDLE),
        "a short thick stroke": _towards(blob.long, *LONG),
        "a pale mark": _towards(blob.level / reference, *LEVEL_OF_REFERENCE),
        "a smudge": _towards(soft, *SOFT_EDGE_MM),
    }
    if blob.level < LEAST_LEVEL:
        return Judged(blob, "neither", "a pale mark")
    total = float(np.sqrt(sum(value**2 for value in against.values())))
    why = max(against, key=lambda name: against[name])
    if total >= 1.0:
        return Judged(blob, "neither", why)
    if total > SURE_BELOW:
        return Judged(blob, "doubt", why)
    return Judged(blob, "light", None)


def _stray_limits(diameter_mm: float) -> tuple[float, float]:
    part = (diameter_mm - SMALL_DIAMETER_MM) / (WHOLE_DIAMETER_MM - SMALL_DIAMETER_MM)
    part = min(1.0, max(0.0, part))
    fine = STRAYS_WHEN_SMALL[0] + part * (STRAYS[0] - STRAYS_WHEN_SMALL[0])
    hopeless = STRAYS_WHEN_SMALL[1] + part * (STRAYS[1] - STRAYS_WHEN_SMALL[1])
    return fine, hopeless


def _towards(value: float, fine: float, hopeless: float) -> float:
    """0 where fine, 1 at hopeless, growing beyond."""
    return max(0.0, (value - fine) / (hopeless - fine))
