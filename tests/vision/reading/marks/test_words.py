"""A letter in the middle of a word is told from a light by its neighbours."""

import pytest

from tests.vision.reading.marks.straight_cards import Sheet
from vision.reading.marks.ink import read_ink
from vision.reading.marks.words import in_a_word


def letter(sheet: Sheet, x: float, y: float) -> None:
    """A small e: a loop with a bar."""
    ring = [
        (1.1, 0.0),
        (0.8, -0.9),
        (0.0, -1.2),
        (-0.8, -0.9),
        (-1.1, 0.0),
        (-0.8, 0.9),
        (0.0, 1.2),
        (0.8, 1.0),
    ]
    sheet.stroke([(x + dx, y + dy) for dx, dy in ring], 0.5, 0.7)
    sheet.stroke([(x - 1.1, y), (x + 1.1, y)], 0.5, 0.7)


@pytest.mark.parametrize(
    ("others", "word"),
    [
        ([(-3.9, 0.2), (3.9, -0.2)], True),
        ([(0.3, -4.0), (-0.2, 3.9)], True),
        ([(3.9, 0.0)], False),
        ([(-3.9, 0.0), (0.0, 4.0)], False),
        ([(-8.0, 0.0), (8.0, 0.0)], False),
        ([], False),
    ],
    ids=["across", "down", "the last letter", "round a corner", "far apart", "alone"],
)
def test_a_letter_has_others_to_both_sides(others: list[tuple[float, float]], word: bool) -> None:
    sheet = Sheet(60, 60, 6)
    letter(sheet, 30, 30)
    for dx, dy in others:
        letter(sheet, 30 + dx, 30 + dy)
    assert in_a_word(read_ink(sheet.straight()), (30, 30)) is word


def test_bare_paper_and_a_large_outline_are_no_letters() -> None:
    sheet = Sheet(60, 60, 6)
    sheet.ring(30, 30, 20.6)
    ink = read_ink(sheet.straight())
    assert not in_a_word(ink, (10, 10))
    assert not in_a_word(ink, (40.3, 30))
