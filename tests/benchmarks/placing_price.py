"""A placing's price as one learnt log-odds: that it lays a mark over a millimetre off.

In:    `PhotoSample`s to learn from, others to judge on.
Out:   a `Price`; how many wrong placings it stops for how many needless doubts, beside the reading's own doubts.

The reading doesn't use it: see DEVELOPERS.md for what stood in the way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize

from tests.benchmarks.placing_samples import PhotoSample, PlacingSample
from tests.benchmarks.reading_score import RIGHT_MM
from vision.arrays import BoolImage, Floats

# Measures that reach over decades count by their logarithm.
BY_LOGARITHM = (
    *("size_off", "shape_off", "misfit_flat", "misfit", "lift_mm", "cost_a_point", "price", "bend_gains"),
    *(
        "bow_mm",
        "k1",
        "slants",
        "tint",
        "tint_laid",
        "step",
        "look_apart_px",
        "px_per_mm",
        "bound_mm",
    ),
)
AS_THEY_ARE = (
    *("score", "share_least", "share_mean", "look_borne_out", "look_plain", "coded", "size_known"),
    "focal_off",
)
LEAST = 1e-3  # added before a logarithm
MOST_SPREADS = 4.0  # inputs farther off than this many standard deviations count as so far off
DECAY = 1e-3  # chosen: the middle one of 1e-4, 1e-3, 3e-3, all of which were judged
TORN, RIVAL_REACH = 12.0, 30.0  # of the price by which the nearest rival is dearer
EDGE_DOUBTS = {"edges-faint", "not-flat", "bent"}  # what a price would say
SIZE_DOUBTS = {
    "no-known-size",
    "near-size",
    "two-sizes",
    "square-off-scale",
    "square-and-size",
    "places-uncertain",
}


@dataclass(frozen=True, slots=True)
class Price:
    """weights : (1 + inputs,); mean, spread : (inputs,) by which inputs are scaled."""

    weights: Floats
    mean: Floats
    spread: Floats

    def log_odds(self, placings: Sequence[PlacingSample]) -> Floats:
        """(N,) logarithms of the odds that each is wrong."""
        odds: Floats = _scaled(_inputs(placings), self.mean, self.spread) @ self.weights
        return odds


def _inputs(placings: Sequence[PlacingSample]) -> Floats:
    rows = []
    for one in placings:
        of, rival = one.measures, one.measures["rival_dearer"]
        row = [float(np.log(max(of[name], 0.0) + LEAST)) for name in BY_LOGARITHM]
        row += [of[name] for name in AS_THEY_ARE]
        rows.append([*row, float(rival < TORN), float(np.clip(rival / RIVAL_REACH, -1, 1))])
    return np.array(rows, dtype=np.float64)


def _scaled(inputs: Floats, mean: Floats, spread: Floats) -> Floats:
    scaled = np.clip((inputs - mean) / spread, -MOST_SPREADS, MOST_SPREADS)
    return np.column_stack([np.ones(len(scaled)), scaled])


def learn(samples: Sequence[PhotoSample]) -> Price:
    """Logistic regression on every placing of photos that can be read, small weights preferred."""
    placings = [one for photo in samples if photo.told.expect == "read" for one in photo.placings]
    inputs, wrong = _inputs(placings), is_wrong(placings)
    mean, spread = inputs.mean(axis=0), inputs.std(axis=0) + 1e-9
    rows = _scaled(inputs, mean, spread)

    def loss(weights: Floats) -> tuple[float, Floats]:
        odds = rows @ weights
        held = np.concatenate([[0.0], weights[1:]])
        off = 1 / (1 + np.exp(-odds)) - wrong
        value = float(np.mean(np.logaddexp(0, odds) - wrong * odds) + DECAY * (held**2).sum())
        return value, rows.T @ off / len(rows) + 2 * DECAY * held

    found = minimize(loss, np.zeros(rows.shape[1]), jac=True, method="L-BFGS-B")
    return Price(np.asarray(found.x, dtype=np.float64), mean, spread)


def is_wrong(placings: Sequence[PlacingSample]) -> BoolImage:
    """(N,) whether a mark lies farther off than the project's aim."""
    return np.array([one.off_mm > RIGHT_MM for one in placings], dtype=np.bool_)


def judge(price: Price, samples: Sequence[PhotoSample]) -> str:
    """Of the photos whose size is not doubted anyhow: wrong ones stopped, and what that costs, by the reading's own
    doubts about edges and by the price."""
    stood = [
        (photo.told, one)
        for photo in samples
        if photo.told.expect == "read" and photo.told.outcome in ("read", "doubt")
        for one in photo.placings
        if one.stood and not SIZE_DOUBTS & set(photo.told.says)
    ]
    placings = [one for _, one in stood]
    wrong = is_wrong(placings)
    doubted = np.array([bool(EDGE_DOUBTS & set(told.says)) for told, _ in stood])
    ranked = wrong[np.argsort(-price.log_odds(placings))]
    stopped = np.cumsum(ranked)
    as_many, needed = int(doubted.sum()), int((wrong & doubted).sum())
    lines = [
        f"{len(stood)} placings, {int(wrong.sum())} wrong",
        f"the reading's doubts: {as_many}, wrong among them {needed}",
        f"by price: as many doubts stop {int(stopped[max(as_many - 1, 0)])},"
        f" as many stopped takes {int(np.searchsorted(stopped, needed)) + 1} doubts",
    ]
    for share in (0.75, 0.9, 1.0):
        takes = int(np.searchsorted(stopped, np.ceil(share * wrong.sum()))) + 1
        lines.append(f"  to stop {share:.0%} of all wrong ones: {takes} doubts")
    return "\n".join(lines)


def reliability(price: Price, samples: Sequence[PhotoSample]) -> str:
    """Said against true, over all placings."""
    placings = [one for photo in samples if photo.told.expect == "read" for one in photo.placings]
    odds, wrong = price.log_odds(placings), is_wrong(placings)
    lines = ["chance of being wrong, said and true"]
    for low, high in ((-np.inf, -6), (-6, -4), (-4, -2), (-2, 0), (0, 2), (2, 4), (4, np.inf)):
        within = (odds >= low) & (odds < high)
        if within.any():
            said = float((1 / (1 + np.exp(-odds[within]))).mean())
            lines.append(f"  {said:.3f} {float(wrong[within].mean()):.3f} of {int(within.sum())}")
    return "\n".join(lines)
