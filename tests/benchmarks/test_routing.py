"""The routing benchmark runs, and its generator keeps what it promises."""

import numpy as np
import pytest

from circuit.check import check
from circuit.settings import Settings
from tests.benchmarks.layouts import FAMILIES, drawn_layout, laid_layout
from tests.benchmarks.routing import main


def test_it_measures_every_kind_and_finds_nothing_wrong(capsys):
    rows = main(counts=(3,), per_cell=1, seeds=(5,))
    assert {row.family for row in rows} == {"along a lane", *FAMILIES}
    assert not any(row.wrong for row in rows)
    assert all(row.laid for row in rows if row.family == "along a lane")
    assert "all" in capsys.readouterr().out


def test_it_says_what_is_laid_of_the_cards_that_may_be(capsys):
    rows = main(counts=(2,), per_cell=1, seeds=(9103,), hand_like=True)
    [none] = [row for row in rows if not row.laid]  # two groups of one light each, both in corners
    assert none.none_proven
    told = capsys.readouterr().out
    assert f"laid as one lane: {len(rows) - 1} of {len(rows)} (" in told
    assert f"of those not proven to have none: {len(rows) - 1} of {len(rows) - 1} (100.0 %)" in told
    assert "  9103 two groups 2: none there" in told


@pytest.mark.parametrize("family", FAMILIES)
def test_drawn_layouts_keep_the_rules_for_marks(family):
    rng = np.random.default_rng(3)
    for count in (1, 4, 7):
        layout = drawn_layout(family, count, rng)
        assert len(layout.lights) == count
        assert [p.name for p in check(layout, None, Settings()) if p.level == "must-fix"] == []


def test_most_lanes_made_by_wandering_keep_every_rule():
    rng = np.random.default_rng(8)
    clean = 0
    for _ in range(12):
        layout, traces = laid_layout(6, rng)
        clean += not [p for p in check(layout, traces, Settings()) if p.level == "must-fix"]
    assert clean >= 9  # of 12; callers check each, this only keeps the generator worth calling
