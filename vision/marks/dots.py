"""Which dark spots are filled-in dots: lights, doubtful lights, or neither.

In:    the card's `Blob`s with their base traits.
Out:   each blob's verdict, and for a doubt what else the mark could be, in a maker's words.
Fails: never.

Evidence is a weighted sum of the traits' terms (logistic regression, its weights in dot_weights.txt,
learnt by tests/benchmarks/train_dots.py from drawn and simulated cards). 0 is as likely a dot as not.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from vision.marks.blobs import Blob
from vision.marks.traits import BASE, TERMS, terms

Floats = NDArray[np.float64]

Verdict = Literal["light", "doubt", "neither"]

SURE_FROM = 1.2  # chosen: odds of 3 to 1 among marks that come this close to the limit
HOPELESS_BELOW = -1.5  # measured on simulated photos: one light in 200 falls below
# Ink against that of the card's other dots: paler is a doubt, and fainter is nothing.
PALE = 0.42  # measured on simulated photos: rubbed-out dots keep 0.2 to 0.4
FAINTEST = 0.2
DISC_RADIUS_MM, DISC_STRAYS, DISC_HOLES, DISC_RAGGED_MM = 0.95, 0.15, 0.08, 0.15  # chosen: plainly a disc
LARGEST_MM = 6.8  # chosen: a 5 mm dot, drawn generously; what is larger is no dot
WEIGHTS_FILE = Path(__file__).with_name("dot_weights.txt")

# What a mark is likely to be that fails by a group of terms.
ALTERNATIVES = {
    "size": "a small speck",
    "pale": "a pale smudge",
    "loop": "a small loop or scribble",
    "shape": "a short thick stroke",
    "strokes": "a spot where pencil strokes meet",
    "soft": "a smudge",
}


@dataclass(frozen=True, slots=True)
class Judged:
    """A blob with its verdict; `why` says what else it could be; `evidence` is the weighted sum."""

    blob: Blob
    verdict: Verdict
    why: str
    evidence: float


@dataclass(frozen=True, slots=True)
class Weights:
    """One weight per term, the bias, and the mean of each term over true lights."""

    bias: float
    weight: Floats
    usual: Floats


@cache
def dot_weights() -> Weights:
    """The weights as they were learnt: lines of `term weight mean`, the first one the bias."""
    rows = [line.split() for line in WEIGHTS_FILE.read_text().splitlines() if line and line[0] != "#"]
    if [row[0] for row in rows[1:]] != [name for name, _ in TERMS]:
        raise ValueError(f"{WEIGHTS_FILE.name} was learnt for other terms; train it again")
    return Weights(
        float(rows[0][1]),
        np.array([float(row[1]) for row in rows[1:]]),
        np.array([float(row[2]) for row in rows[1:]]),
    )


def judge_dots(blobs: list[Blob], traits: Floats) -> list[Judged]:
    """The verdict on every blob, in the same order; `traits` from `base_traits`."""
    if not blobs:
        return []
    learnt = dot_weights()
    values = terms(traits)
    evidence = learnt.bias + values @ learnt.weight
    shares = (values - learnt.usual) * learnt.weight
    ratios = traits[:, BASE.index("level_ratio")]
    return [
        _judge(blob, float(score), share, float(ratio))
        for blob, score, share, ratio in zip(blobs, evidence, shares, ratios)
    ]


def _judge(blob: Blob, evidence: float, shares: Floats, level_ratio: float) -> Judged:
    against: dict[str, float] = {}
    for (_, group), share in zip(TERMS, shares):
        against[group] = against.get(group, 0.0) + float(share)
    why = ALTERNATIVES[min(against, key=lambda group: against[group])]
    if 2 * blob.radius_mm > LARGEST_MM or level_ratio < FAINTEST:
        return Judged(blob, "neither", why, evidence)
    if level_ratio < PALE:
        # a dot that was rubbed out, or one filled in lightly: only its maker knows
        if _is_disc(blob) or evidence >= HOPELESS_BELOW:
            return Judged(blob, "doubt", "a rubbed-out dot", evidence)
        return Judged(blob, "neither", why, evidence)
    if evidence < HOPELESS_BELOW:
        return Judged(blob, "neither", why, evidence)
    return Judged(blob, "light" if evidence >= SURE_FROM else "doubt", why, evidence)


def _is_disc(blob: Blob) -> bool:
    return (
        blob.radius_mm >= DISC_RADIUS_MM
        and blob.strays < DISC_STRAYS
        and blob.holes < DISC_HOLES
        and blob.ragged_mm < DISC_RAGGED_MM
    )
