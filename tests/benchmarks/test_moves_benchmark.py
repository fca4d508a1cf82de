"""The moves' benchmark runs, and its own arithmetic agrees with the checker on one card."""

from tests.benchmarks.moves import main, plans


def test_one_card_of_a_kind_is_reported_and_mended():
    table = main(cards=1, seed=3, most_lights=3, kinds=("lights-too-close",))
    assert table["lights-too-close"]["reported"] == 1.0
    assert table["lights-too-close"]["mended"] == 1.0


def test_whole_plans_are_counted_and_clean_when_moved():
    figures = plans(seed=2, counts=(2,))
    assert figures["cards"] >= 8
    assert figures["clean"] == figures["moves"]
