"""How likely each spot is a light, a crossed-out dot or something else, as learnt from simulated spots.

In:    the spots' `Traits`.
Out:   (N, 3) chances, and which trait speaks most against a spot's being a light.
Fails: never.

The weights, chances.json, were learnt by tests/benchmarks/train_spots.py, which keeps its seeds and figures in the same
file. The sums: every trait is scaled and set against its mean; a hidden layer of tanh and a straight way past it
give one number a kind, and softmax makes chances of them.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from vision.arrays import Floats
from vision.reading.marks.traits import NAMES, Traits, as_rows

KINDS = ("light", "crossed", "other")
WEIGHTS_FILE = Path(__file__).with_name("chances.json")
# Chosen: where likenesses and sizes count as nothing, before their logarithm.
LEAST_CHANCE, LEAST_SIZE = 1e-4, 1e-2
MOST_SPREADS = 5.0  # chosen: a trait farther from its mean counts as so far; nothing was learnt out there
_LIKENESSES = frozenset(
    "light crossed line battery light_about light_beyond line_beside line_between".split()
)
_SIZES = frozenset(
    "diameter_mm level size_ratio level_ratio clearness ragged_mm edge_mm piece_mm nearest_mm".split()
)


@dataclass(frozen=True, slots=True)
class Weights:
    """mean, spread : (traits,) of the scaled traits. usual_light : (traits,) a usual light's, scaled and set against
    the mean. hidden : (traits, H), hidden_offset : (H,), out : (H, 3), past : (traits, 3), offset : (3,).
    lights_middle, lights_precision : (2, traits), (2, traits, traits) mean and inverse covariance of the lights that
    were learnt from, those without and those with pencilled circuit lines on both sides, as the sums take them; 0 in
    the latter for what lies elsewhere on the card."""

    mean: Floats
    spread: Floats
    usual_light: Floats
    hidden: Floats
    hidden_offset: Floats
    out: Floats
    past: Floats
    offset: Floats
    lights_middle: Floats
    lights_precision: Floats

    def logits(self, inputs: Floats) -> Floats:
        """(..., 3) of (..., traits) scaled inputs."""
        inner = np.tanh(inputs @ self.hidden + self.hidden_offset)
        logits: Floats = inner @ self.out + inputs @ self.past + self.offset
        return logits

    def inputs(self, rows: Floats) -> Floats:
        """(N, traits) traits as the sums take them."""
        return np.clip((scaled(rows) - self.mean) / self.spread, -MOST_SPREADS, MOST_SPREADS)


@cache
def read_weights(file: Path = WEIGHTS_FILE) -> Weights:
    """The weights of a file, by default those that the package carries."""
    kept = json.loads(file.read_text(encoding="utf-8"))
    return Weights(**{name: np.array(kept["weights"][name]) for name in Weights.__dataclass_fields__})


def scaled(rows: Floats) -> Floats:
    """(N, T) rows of T traits, likenesses as log odds, sizes as logarithms, all else as it is."""
    out = np.array(rows, dtype=np.float64)
    for k, name in enumerate(NAMES):
        if name in _LIKENESSES:
            chance = np.clip(out[:, k], LEAST_CHANCE, 1 - LEAST_CHANCE)
            out[:, k] = np.log(chance / (1 - chance))
        elif name in _SIZES:
            out[:, k] = np.log(np.maximum(out[:, k], LEAST_SIZE))
    return out


def softmax(logits: Floats) -> Floats:
    """Chances of the last axis' logits; the same shape."""
    shares = np.exp(logits - logits.max(axis=-1, keepdims=True))
    chances: Floats = shares / shares.sum(axis=-1, keepdims=True)
    return chances


def chances_of(traits: Sequence[Traits]) -> Floats:
    """(N, 3) chances in the order of `KINDS`."""
    weights = read_weights()
    return softmax(weights.logits(weights.inputs(as_rows(traits))))


def unlike_lights(traits: Sequence[Traits]) -> Floats:
    """(N,) how far each spot lies from the lights that were learnt from, in spreads of their own (the Mahalanobis
    distance). The chance says nothing of what nothing alike was learnt from; this does."""
    weights = read_weights()
    off = weights.inputs(as_rows(traits)) - weights.lights_middle[:, None]
    squares = np.einsum("kij,kjl,kil->ki", off, weights.lights_precision, off)
    far: Floats = np.sqrt(squares.min(axis=0))
    return far


def speaking_against(traits: Traits, among: Sequence[tuple[str, int]]) -> tuple[str, int] | None:
    """Of traits and the side (-1 below, 1 above) on which they are to differ from a usual light's, the one that
    lowers the chance of a light the most: were it usual, the chance would rise the most. None where none does."""
    weights = read_weights()
    here = weights.inputs(as_rows([traits]))[0]
    off = np.sign(here - weights.usual_light)
    unlike = [(name, side) for name, side in among if off[NAMES.index(name)] == side]
    mended = np.tile(here, (len(unlike) + 1, 1))
    for k, (name, _) in enumerate(unlike, start=1):
        mended[k, NAMES.index(name)] = weights.usual_light[NAMES.index(name)]
    best = int(softmax(weights.logits(mended))[:, 0].argmax())
    return unlike[best - 1] if best else None
