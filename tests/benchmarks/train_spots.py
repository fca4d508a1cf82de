"""python -m tests.benchmarks.train_spots make OUT.npz --seed S --count N [--rare | --littered] [--jobs J]
   python -m tests.benchmarks.train_spots learn SPOTS.npz... --out vision/reading/marks/chances.json
   python -m tests.benchmarks.train_spots familiar SPOTS.npz... --out vision/reading/marks/chances.json
   python -m tests.benchmarks.train_spots report SPOTS.npz...

Learn how likely a dark spot is a light, a crossed-out dot or something else. `make` photographs simulated cards and
measures their spots, with `--rare` the rare kinds drawn on every card, with `--littered` crumbs, holes and stickers;
`learn` fits the weights, `familiar` only what the lights among the spots are like; `report` judges the package's
weights on spots that they were not learnt from.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from tests.benchmarks.spot_samples import (
    CROSSED,
    LEAST_DOT_MM,
    LIGHT,
    LITTERED,
    OFF_MM,
    OTHER,
    PART,
    RARE,
    USUAL,
    Samples,
    joined,
    make_samples,
    thinned,
)
from vision.reading.marks.chances import MOST_SPREADS, WEIGHTS_FILE, Weights, read_weights, scaled, softmax
from vision.reading.marks.dots import LEAST_DOUBTED, LEAST_SURE, LIKELY, RUBBED_OUT_BELOW
from vision.reading.marks.traits import NAMES

Floats = NDArray[np.float64]
RARE_TIMES = 20.0  # chosen: how often a card of the rare kinds is drawn for one that would come by itself
# Chosen: likewise for litter: with a thirteenth as many such cards as usual ones and some twenty things on each, one
# card in six hundred bears one. Ten times as many made flat dots of a felt-tip pen unlikely lights, too.
LITTERED_TIMES = 1000.0
# The usual dice strike out no dot between two circuit lines (none on 3,585 cards), the rare ones on every twelfth card:
# counted as one card in 5,000.
STRUCK_IN_LANE_TIMES, IN_LANE_FROM = 400.0, 0.5
HIDDEN = 16  # measured on halves held out: 0 misses three times as many, 32 no fewer
GOES = 2  # chosen: so many fits from different starts are averaged, which steadies the odds at the tails
DECAY = 3e-6  # measured: the best of 1e-7 to 1e-5 on halves held out
STEPS = 350  # measured: the loss falls by under 1 % after these
STEPS_ON = 150  # measured: on from earlier weights; after 350 usual spots that were held out are told worse, not better
LOUDER = 1e4  # chosen: a mean loss of a thousandth would count as no progress
USUAL_FROM = 0.9  # of the network: the lights whose medians are a usual light
BETWEEN = NAMES.index("line_between")
# What else is drawn on the card says how likely a light is, not how much like a light a spot is.
ELSEWHERE = frozenset({"letters", "in_row", "nearest_mm"})
LEAST_VARIANCE = (
    0.05  # chosen: of a trait's own over all spots; traits that hardly vary among lights tell too much
)
BINS = (0.0, 0.001, 0.005, 0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.98, 0.995, 0.999, 1.0)


def weigh(samples: Samples) -> Floats:
    """(N,) what each spot counts: cards of rare kinds as often as they would come by themselves."""
    kinds = samples.rare[samples.cards]
    struck_in_lane = (samples.kinds == CROSSED) & (samples.rows[:, BETWEEN] > IN_LANE_FROM)
    times = np.array([1.0, RARE_TIMES, LITTERED_TIMES])[kinds]
    times[(kinds == RARE) & struck_in_lane] = STRUCK_IN_LANE_TIMES
    return samples.stand_for / times


def learn(
    samples: Samples,
    hidden: int = HIDDEN,
    decay: float = DECAY,
    goes: int = GOES,
    start: Weights | None = None,
) -> Weights:
    """The weights that make the truth of these spots likeliest (cross entropy, small weights preferred), several
    goes averaged: a mean of logits is one wider layer's. Or one go on from earlier weights, which takes fewer steps."""
    learnt_from = samples.kinds != PART
    rows, kinds = scaled(samples.rows[learnt_from]), samples.kinds[learnt_from].astype(int)
    mean, spread = (start.mean, start.spread) if start else (rows.mean(axis=0), rows.std(axis=0))
    inputs = np.clip((rows - mean) / spread, -MOST_SPREADS, MOST_SPREADS)
    counted = weigh(samples)[learnt_from]
    if start:
        starts = [[start.hidden, start.hidden_offset, start.out, start.past, start.offset]]
    else:
        starts = [_start(inputs.shape[1], hidden, go) for go in range(goes)]
    steps = STEPS_ON if start else STEPS
    fits = [_fit(inputs, kinds, counted / counted.sum(), decay, one, steps) for one in starts]
    lights = kinds == LIGHT
    middle, precision = _familiar(inputs[lights], samples.rows[learnt_from][lights, BETWEEN] > IN_LANE_FROM)
    usual = (kinds == LIGHT) & (samples.rows[learnt_from, NAMES.index("light")] > USUAL_FROM)
    return Weights(
        mean,
        spread,
        usual_light=np.median(inputs[usual], axis=0),
        hidden=np.hstack([fit[0] for fit in fits]),
        hidden_offset=np.hstack([fit[1] for fit in fits]),
        out=np.vstack([fit[2] for fit in fits]) / len(fits),
        past=np.mean([fit[3] for fit in fits], axis=0),
        offset=np.mean([fit[4] for fit in fits], axis=0),
        lights_middle=middle,
        lights_precision=precision,
    )


def with_familiar(weights: Weights, samples: Samples) -> Weights:
    """The same weights with what the lights among these spots are like. Rare kinds count as often as they are drawn:
    they are what is still called a light."""
    inputs = weights.inputs(samples.rows)
    sure = softmax(weights.logits(inputs))[:, 0] >= LEAST_SURE
    lights = (samples.kinds == LIGHT) & sure
    middle, precision = _familiar(inputs[lights], samples.rows[lights, BETWEEN] > IN_LANE_FROM)
    return replace(weights, lights_middle=middle, lights_precision=precision)


def _familiar(lights: Floats, in_lane: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """(2, traits) mean and (2, traits, traits) inverse covariance of (N, traits) inputs, outside lanes and in them; of
    all where too few are of one kind."""
    parted = (lights[~in_lane], lights[in_lane])
    kinds = [kind if len(kind) > lights.shape[1] else lights for kind in parted]
    precision = np.zeros((len(kinds), lights.shape[1], lights.shape[1]))
    own = [k for k, name in enumerate(NAMES) if name not in ELSEWHERE]
    for of_kind, kind in zip(precision, kinds, strict=True):
        spread = np.cov(kind[:, own], rowvar=False) + LEAST_VARIANCE * np.eye(len(own))
        of_kind[np.ix_(own, own)] = np.linalg.inv(spread)
    return np.array([kind.mean(axis=0) for kind in kinds]), precision


def _start(count: int, hidden: int, seed: int) -> list[Floats]:
    """Where a fit of so many traits begins: hidden (traits, H), its offset, out (H, 3), past (traits, 3), offset."""
    rng = np.random.default_rng(seed)
    first = [rng.normal(0, count**-0.5, (count, hidden)), np.zeros(hidden), rng.normal(0, 0.1, (hidden, 3))]
    return [*first, np.zeros((count, 3)), np.zeros(3)]


def _fit(
    inputs: Floats, kinds: NDArray[np.int_], weights: Floats, decay: float, starts: list[Floats], steps: int
) -> list[Floats]:
    """One fit by L-BFGS from there on; the same arrays."""
    ends = np.cumsum([0, *(start.size for start in starts)])
    truth = np.eye(3)[kinds]

    def parts(flat: Floats) -> list[Floats]:
        return [flat[a:b].reshape(one.shape) for (a, b), one in zip(pairwise(ends), starts)]

    def loss(flat: Floats) -> tuple[float, Floats]:
        params = parts(flat)
        inner = np.tanh(inputs @ params[0] + params[1])
        chances = softmax(inner @ params[2] + inputs @ params[3] + params[4])
        right = np.maximum(chances[np.arange(len(kinds)), kinds], 1e-300)
        wrong = -float(np.log(right) @ weights)
        off = (chances - truth) * weights[:, None]
        back = (off @ params[2].T) * (1 - inner**2)
        slopes = [inputs.T @ back, back.sum(axis=0), inner.T @ off, inputs.T @ off, off.sum(axis=0)]
        for k in (0, 2, 3):
            wrong += decay * float((params[k] ** 2).sum())
            slopes[k] = slopes[k] + 2 * decay * params[k]
        return LOUDER * wrong, LOUDER * np.concatenate([slope.ravel() for slope in slopes])

    options = {"maxiter": steps, "maxfun": 2 * steps, "maxcor": 30, "ftol": 1e-10, "gtol": 1e-7}
    found = minimize(
        loss, np.concatenate([one.ravel() for one in starts]), jac=True, method="L-BFGS-B", options=options
    )
    return parts(found.x)


def keep(weights: Weights, out: Path, about: dict[str, Any]) -> None:
    values = {name: np.round(getattr(weights, name), 4).tolist() for name in Weights.__dataclass_fields__}
    text = json.dumps({"about": about, "traits": NAMES, "weights": values})
    out.write_text(text.replace('], "', '],\n"').replace("}, ", "},\n") + "\n", encoding="utf-8")


def report(samples: Samples, weights: Weights, sure: float, doubted: float) -> dict[str, Any]:
    """Log loss, reliability of a light's chance, and what each kind of spot is taken for, weighed back."""
    judged = samples.kinds != PART
    kinds, counted = samples.kinds[judged].astype(int), weigh(samples)[judged]
    chances = softmax(weights.logits(weights.inputs(samples.rows[judged])))
    light = chances[:, 0]
    loss = -np.log(np.maximum(chances[np.arange(len(kinds)), kinds], 1e-12))
    table = []
    for low, high in pairwise(BINS):
        within = (light >= low) & (light < high if high < 1 else light <= high)
        if within.any():
            of = counted[within]
            table.append(
                {
                    "chance": [low, high],
                    "spots": int(within.sum()),
                    "said": round(float(np.average(light[within], weights=of)), 5),
                    "were": round(float(np.average(kinds[within] == LIGHT, weights=of)), 5),
                }
            )
    verdict = np.where(light >= sure, 0, np.where(light >= doubted, 1, 2))
    confusion = {
        name: [round(float(counted[(kinds == k) & (verdict == v)].sum()), 1) for v in range(3)]
        for k, name in enumerate(("light", "crossed", "other"))
    }
    return {
        "log_loss": round(float(np.average(loss, weights=counted)), 6),
        "reliability": table,
        "light_doubt_not": confusion,
        "cards": by_card(samples, softmax(weights.logits(weights.inputs(samples.rows))), sure, doubted),
    }


def by_card(samples: Samples, chances: Floats, sure: float, doubted: float) -> dict[str, dict[str, int]]:
    """For each kind of cards how many have a mark that is doubted, or one that is lost or invented with no doubt on the
    card; of spots that overlap the clearest counts, and where a light's spot lies in it is not asked."""
    light, level = chances[:, 0], samples.rows[:, NAMES.index("level_ratio")]
    verdicts = np.select([light >= sure, light >= doubted, chances[:, 1] > LIKELY], [0, 2, 1], 3)
    verdicts[(verdicts == 0) & (level < RUBBED_OUT_BELOW)] = 2
    order = np.lexsort((-samples.places[:, 2], verdicts))
    order = order[verdicts[order] < 3]
    found = {
        name: {"cards": 0, "doubted": 0, "lost": 0, "invented": 0} for name in ("usual", "rare", "littered")
    }
    for card, kind in enumerate(samples.rare):
        kept: list[int] = []
        for k in order[samples.cards[order] == card]:
            x, y, reach = samples.places[k]
            others = samples.places[kept]
            if not (np.hypot(others[:, 0] - x, others[:, 1] - y) < others[:, 2] + reach).any():
                kept.append(int(k))
        told = samples.places[[k for k in kept if verdicts[k] != 1]]
        lights = samples.lights[(samples.lights[:, 0] == card) & (samples.lights[:, 3] >= LEAST_DOT_MM)]
        lost = sum(
            not (np.hypot(told[:, 0] - x, told[:, 1] - y) < d / 2 + OFF_MM / 2).any() for _, x, y, d in lights
        )
        counts = found[list(found)[kind]]
        counts["cards"] += 1
        if any(verdicts[k] == 2 for k in kept):
            counts["doubted"] += 1
        else:
            counts["lost"] += int(lost > 0)
            counts["invented"] += any(verdicts[k] == 0 and samples.kinds[k] in (CROSSED, OTHER) for k in kept)
    return {name: counts for name, counts in found.items() if counts["cards"]}


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    steps = parser.add_subparsers(dest="step", required=True)
    make = steps.add_parser("make")
    make.add_argument("out", type=Path)
    make.add_argument("--seed", type=int, required=True)
    make.add_argument("--first", type=int, default=0)
    make.add_argument("--count", type=int, required=True)
    make.add_argument("--rare", dest="kind", action="store_const", const=RARE, default=USUAL)
    make.add_argument("--littered", dest="kind", action="store_const", const=LITTERED)
    make.add_argument(
        "--thin", action="store_true", help="to learn from: few of the spots that nobody would ask about"
    )
    make.add_argument("--jobs", type=int, default=2)
    for name in ("learn", "familiar", "report"):
        step = steps.add_parser(name)
        step.add_argument("spots", type=Path, nargs="+")
        if name != "report":
            step.add_argument("--out", type=Path, default=WEIGHTS_FILE)
            step.add_argument("--about", default="", help="seeds and counts, kept beside the weights")
        if name == "learn":
            step.add_argument("--start", type=Path, help="weights to go on from")
    options = parser.parse_args()
    if options.step == "make":
        numbers = range(options.first, options.first + options.count)
        samples = make_samples(options.seed, numbers, options.kind, options.jobs)
        (thinned(samples) if options.thin else samples).save(options.out)
        return
    samples = joined([Samples.load(file) for file in options.spots])
    if options.step == "learn":
        about = {
            "script": "tests/benchmarks/train_spots.py",
            "spots": options.about,
            "rare_times": RARE_TIMES,
            "littered_times": LITTERED_TIMES,
        }
        keep(
            learn(samples, start=options.start and read_weights(options.start)),
            options.out,
            about | {"cards": len(samples.rare), "learnt_from": len(samples.rows)},
        )
    elif options.step == "familiar":
        about = json.loads(WEIGHTS_FILE.read_text(encoding="utf-8"))["about"]
        about["familiar"] = {"spots": options.about, "cards": len(samples.rare)}
        keep(with_familiar(read_weights(), samples), options.out, about)
    else:
        print(json.dumps(report(samples, read_weights(), LEAST_SURE, LEAST_DOUBTED), indent=1))


if __name__ == "__main__":
    main()
