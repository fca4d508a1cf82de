"""Spots to learn from carry their truth; learning finds what tells them apart."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.benchmarks.photo_simulator.graphite import PX_PER_MM
from tests.benchmarks.photo_simulator.layout import MarkedDot, Pencilling
from tests.benchmarks.photo_simulator.litter import strew
from tests.benchmarks.photo_simulator.render import Wishes, shoot
from tests.benchmarks.spot_samples import CROSSED, LIGHT, OTHER, Samples, joined, of_photo, thinned
from tests.benchmarks.train_spots import RARE_TIMES, learn, report, weigh
from vision.reading.marks.traits import NAMES


def made_up(count: int, rare: bool) -> Samples:
    """Spots whose kind shows in two traits."""
    rng = np.random.default_rng(int(rare))
    kinds = rng.integers(0, 3, count).astype(np.int8)
    rows = rng.uniform(0.2, 0.8, (count, len(NAMES))).astype(np.float32)
    rows[:, NAMES.index("light")] = np.where(kinds == LIGHT, 0.95, 0.05) + rng.normal(0, 0.01, count)
    rows[:, NAMES.index("crossed")] = np.where(kinds == CROSSED, 0.95, 0.05) + rng.normal(0, 0.01, count)
    rows[:, NAMES.index("line_between")] = 0.0
    return Samples(
        rows=rows,
        places=np.zeros((count, 3), np.float32),
        kinds=kinds,
        near=np.full(count, -1, np.int32),
        cards=np.zeros(count, np.int32),
        lights=np.zeros((1, 4), np.float32),
        rare=np.array([rare], np.int8),
        stand_for=np.ones(count, np.float32),
    )


def test_learning_tells_kinds_apart_and_rare_cards_are_weighed_back() -> None:
    samples = joined([made_up(600, False), made_up(600, True)])
    assert weigh(samples)[[0, -1]] == pytest.approx([1.0, 1 / RARE_TIMES])
    learnt = learn(samples, hidden=2, goes=1)
    found = report(samples, learnt, sure=0.9, doubted=0.1)
    # Only spots that are plainly apart were made, so hardly any may be doubted: a tenth of one part in a hundred.
    assert found["log_loss"] < 0.05
    lights = found["light_doubt_not"]["light"]
    assert lights[0] / sum(lights) > 0.99 and found["light_doubt_not"]["other"][0] == 0.0
    assert found["cards"]["usual"]["cards"] == found["cards"]["rare"]["cards"] == 1
    on = report(samples, learn(samples, start=learnt), sure=0.9, doubted=0.1)
    assert on["log_loss"] <= found["log_loss"]


def test_spots_that_nobody_would_ask_about_are_thinned_and_stand_for_the_others() -> None:
    samples = made_up(3000, False)
    samples.rows[:, [NAMES.index("light"), NAMES.index("light_about")]] *= 1e-4
    few = thinned(samples)
    assert (few.kinds == LIGHT).sum() == (samples.kinds == LIGHT).sum()
    # 1,000 of a kind, of which 15 in 100 are kept: 12 % is twice the standard deviation of that count.
    assert few.stand_for[few.kinds == OTHER].sum() == pytest.approx((samples.kinds == OTHER).sum(), rel=0.16)


def test_every_light_of_a_photo_has_its_spot() -> None:
    samples = of_photo(3, False, 1)
    assert samples is not None and len(samples.lights)
    assert set(samples.near[samples.kinds == LIGHT].tolist()) == set(range(len(samples.lights)))
    assert (samples.kinds == OTHER).any()


PLAIN = Wishes(tier="C", readable_only=True, large_share=0.0)


@pytest.mark.parametrize("wished", [replace(PLAIN, rare=True), replace(PLAIN, littered=True)])
def test_rare_kinds_and_litter_have_dice_of_their_own(wished: Wishes) -> None:
    usual, other = shoot(8, 1, PLAIN), shoot(8, 1, wished)
    # The same card is laid out, but it is pencilled, lit or made of other paper, or something lies on it.
    assert usual.truth["card"]["nominal_mm"] == other.truth["card"]["nominal_mm"]
    assert (usual.picture != other.picture).any()
    assert (shoot(8, 1, wished).picture == other.picture).all()


def test_nothing_is_laid_on_lights_or_punched_through_them() -> None:
    dots = [MarkedDot(x, y, 4.0, ()) for x in range(15, 90, 15) for y in range(15, 130, 15)]
    for seed in range(8):
        litter = strew(
            np.random.default_rng(seed), (1700, 1300), Pencilling(dots=dots), (105.0, 140.0), np.zeros(2)
        )
        assert litter.kinds
        for dot in dots:
            at = (
                slice(round((m - 1.0) * PX_PER_MM), round((m + 1.0) * PX_PER_MM))
                for m in (dot.y_mm, dot.x_mm)
            )
            where = tuple(at)
            # Shadows, which darken by half at most, may reach it.
            assert litter.over[where][..., 3].max() < 0.5 and not litter.gone[where].any()
