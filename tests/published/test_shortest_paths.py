"""The lane's lower bound against published instances and a general graph library."""

from itertools import pairwise
from pathlib import Path

import networkx as nx
import numpy as np
import pytest

from circuit.bounds import path_bound, path_length, shortest_path_bound

TOURS = Path(__file__).parent / "tours"


def lower_rows(path: Path) -> np.ndarray:
    """The symmetric matrix of a TSPLIB file with EDGE_WEIGHT_FORMAT LOWER_DIAG_ROW."""
    text = path.read_text(encoding="ascii")
    count = int(text.split("DIMENSION:")[1].split()[0])
    numbers = [float(word) for word in text.split("EDGE_WEIGHT_SECTION")[1].replace("EOF", "").split()]
    table = np.zeros((count, count))
    table[np.tril_indices(count)] = numbers
    return table + np.tril(table, -1).T


def test_the_shortest_round_trip_of_gr17_is_2085():
    # Source: TSPLIB instance gr17 (Groetschel), see tours/README.md. Whole numbers, so no tolerance
    # but that of adding floats.
    table = lower_rows(TOURS / "gr17.tsp")
    home = table[0, 1:]
    found = path_bound(home, table[1:, 1:], home)
    assert found.exact
    assert found.length_mm == pytest.approx(2085, abs=1e-6)
    assert sorted(found.order) == list(range(16))
    assert path_length(home, table[1:, 1:], home, found.order) == pytest.approx(2085, abs=1e-6)


def test_the_lagrangian_bound_of_gr17_stays_below_2085_and_comes_near():
    # The same source. Held and Karp's bound lies within 1 % of the optimum on most instances of
    # TSPLIB (Johnson and McGeoch 1997, read second-hand); a wrong sign would land far away.
    table = lower_rows(TOURS / "gr17.tsp")
    found = path_bound(table[0, 1:], table[1:, 1:], table[0, 1:], states_at_most=1)
    assert not found.exact  # so what is given is the bound alone
    assert 0.97 * 2085 < found.length_mm <= 2085


@pytest.mark.parametrize("seed", range(6))
def test_the_bound_lies_between_networkx_spanning_tree_and_its_tour_heuristic(seed):
    # Source: networkx. A spanning tree over battery and lights is never longer than a path through them;
    # a path that its heuristic finds (a round trip less the way home) is never shorter than the bound.
    rng = np.random.default_rng(seed)
    places = rng.uniform(0, 140, (11, 2))
    graph = nx.Graph()
    for i in range(11):
        for j in range(i):
            graph.add_edge(i, j, weight=float(np.hypot(*(places[i] - places[j]))))
    found = shortest_path_bound(tuple(places[0]), 0.0, [tuple(place) for place in places[1:]])
    tree = nx.minimum_spanning_tree(graph).size(weight="weight")
    tour = nx.approximation.traveling_salesman_problem(
        graph, cycle=True, method=nx.approximation.christofides
    )
    while tour[0] != 0:
        tour = [*tour[1:], tour[1]]
    walked = sum(graph[a][b]["weight"] for a, b in pairwise(tour[:-1]))
    assert tree - 1e-6 <= found.length_mm <= walked + 1e-6
