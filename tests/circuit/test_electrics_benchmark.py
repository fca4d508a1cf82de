from tests.benchmarks import electrics


def test_the_benchmark_runs(capsys):
    assert electrics.main((3,), 1)
    assert "3 lights" in capsys.readouterr().out
