"""The drawing benchmark still runs."""

from tests.benchmarks import drawing


def test_it_runs():
    ((overlay, sheet, build, svg),) = drawing.main(("1",), repeats=1)
    assert min(overlay, sheet, build, svg) > 0
