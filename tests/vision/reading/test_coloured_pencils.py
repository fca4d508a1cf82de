"""Cards drawn in one colour, as makers do with what lies on the table: read as those in grey."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.benchmarks.photo_simulator.__main__ import main as simulate
from tests.benchmarks.reading import score_photo


@pytest.mark.parametrize("number", [4, 12, 16, 22], ids=["red", "green", "violet", "blue"])
def test_a_card_drawn_in_colour_is_read_for_sure(number: int, tmp_path: Path) -> None:
    wishes = ["--coloured", "--count", "1", "--first", str(number), "--seed", "950001", "--refuse-share", "0"]
    simulate([str(tmp_path), *wishes])
    [truth_file] = tmp_path.glob("*.json")
    score = score_photo(truth_file)
    assert score.outcome == "read" and score.perfect, (score.says, score.detail)
