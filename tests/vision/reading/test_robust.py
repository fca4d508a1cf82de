"""A fit that outliers hardly move."""

from __future__ import annotations

import numpy as np
import pytest

from vision.reading.middle import quantile, scatter_of
from vision.reading.robust import robust_fit

U = np.linspace(-1, 1, 60)
LINE = np.column_stack([np.ones_like(U), U])


def test_without_outliers_it_is_least_squares():
    values = 2.0 - 0.5 * U + np.random.default_rng(1).normal(0, 0.01, len(U))
    coefficients, rest, weights = robust_fit(LINE, values, lambda _: 1e6)
    # Source: numpy's own least squares.
    assert coefficients == pytest.approx(np.linalg.lstsq(LINE, values, rcond=None)[0], abs=1e-6)
    assert rest == pytest.approx(values - LINE @ coefficients)
    assert weights == pytest.approx(1.0)


def test_a_stretch_that_lies_elsewhere_hardly_moves_a_line():
    values = 2.0 - 0.5 * U
    values[:12] += 3.0
    coefficients, _, weights = robust_fit(LINE, values, lambda rest: max(0.05, scatter_of(rest)), rounds=30)
    # 0.05: Cauchy weights never quite leave an outlier out; least squares is off by 1.5 here.
    assert coefficients == pytest.approx([2.0, -0.5], abs=0.05)
    assert weights[:12].max() < 0.01 < weights[12:].min()


def test_many_rows_are_fitted_at_once_as_each_by_itself():
    rows = np.random.default_rng(2).normal(0, 1, (5, 60))
    start = np.zeros((5, 2))
    together = robust_fit(LINE, rows, lambda _: 0.7, start=start)
    for k in range(5):
        alone = robust_fit(LINE, rows[k], lambda _: 0.7, start=start[k])
        for all_rows, one in zip(together, alone, strict=True):
            assert all_rows[k] == pytest.approx(one)


def test_the_scatter_of_a_gaussian_is_its_deviation():
    values = np.random.default_rng(3).normal(0, 0.3, 20_000)
    assert scatter_of(values) == pytest.approx(0.3, rel=0.03)  # 3 %: of 20,000 samples' own scatter


@pytest.mark.parametrize("share", [0.0, 0.25, 0.6, 1.0])
@pytest.mark.parametrize("count", [1, 2, 7, 72])
def test_quantiles_are_numpys(share, count):
    values = np.random.default_rng(count).normal(size=count)
    assert quantile(values, share) == pytest.approx(np.quantile(values, share), rel=1e-12, abs=1e-12)
