from tests.benchmarks import electrics, electrics_problems


def test_the_benchmark_runs(capsys):
    assert electrics.main((3,), 1)
    assert "3 lights" in capsys.readouterr().out


def test_no_warning_of_the_circuit_comes_on_most_cards_with_the_usual_lights():
    found = electrics_problems.main(6, electrics_problems.KINDS[:3])
    for counts in found.values():
        assert all(count <= 3 for count in counts.values())
