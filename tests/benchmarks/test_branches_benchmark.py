"""The branches' benchmark runs on one small card without a lane, and what it lays is clean."""

from tests.benchmarks.branches import main


def test_one_card_without_a_lane_gets_a_branch():
    figures = main(cards=1, seed=4, counts=(3, 5))
    assert figures["branched"] == 1.0
    assert figures["unclean"] == 0.0
    assert figures["longer"] > 0.9  # the shortest path goes back and forth where branches part
