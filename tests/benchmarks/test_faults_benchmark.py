from tests.benchmarks import faults


def test_the_benchmark_runs_and_finds_most_faults():
    # Fifteen faults: the whole run of a thousand has 94 of 100 first and 98 among three; chance leaves this far above.
    found = faults.main(cards=3, each=5, seed=2)
    assert found["first"] >= 0.6
    assert found["first three"] >= found["first"]
