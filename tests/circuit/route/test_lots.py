"""Lots of links: the least of each kind comes out as when it is looked for kind by kind."""

from __future__ import annotations

import numpy as np
import pytest

from circuit.route.lots import Lots


@pytest.mark.parametrize(
    ("count", "kinds", "values"), [(0, 1, 2), (1, 1, 64), (500, 40, 4), (20_000, 300, 32)]
)
def test_every_kind_gets_its_own_least(count: int, kinds: int, values: int) -> None:
    rng = np.random.default_rng(count)
    kind = np.sort(
        (kinds * rng.random(count) ** 3).astype(np.int64)
    )  # kinds with few links and with thousands
    links = rng.permutation(count)
    cost = rng.random(count)
    lots = Lots.of(kind, links, values)
    least = np.full(len(lots.kinds), np.nan)
    for piece in lots.pieces:
        here = cost[lots.links[piece.rows]]
        for lot in piece.lots:
            least[lot.kinds] = here[lot.rows].reshape(lot.size, -1).min(axis=0)
    found = dict(zip(lots.kinds.tolist(), least.tolist(), strict=True))
    assert found == {int(k): float(cost[links[kind == k]].min()) for k in np.unique(kind)}
    assert set(lots.links.tolist()) == set(range(count))
