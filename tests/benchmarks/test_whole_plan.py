"""The benchmark of a whole plan still runs."""

from tests.benchmarks import whole_plan


def test_it_runs():
    wall, processor = whole_plan.main(runs=1)
    # A plan holds numpy and OpenCV, so that it can't cost less than these alone.
    assert min(wall, processor) > 1
