"""The pack for a class: few words for pupils, sums for who teaches, marked cards at true size."""

import pytest

from circuit.settings import Settings
from cli.pages import class_pages
from cli.pages.build_data import build_of
from cli.pages.paper import A4, LETTER
from tests.cli import cards
from tests.cli.pages.measure import text_boxes


def words_of(pdf):
    return [" ".join(" ".join(box.text for box in boxes).split()) for boxes in text_boxes(pdf)]


@pytest.mark.parametrize("make", [cards.one_light, cards.seven_lights, cards.fourteen_lights])
def test_a_pack_has_a_pupils_page_a_teachers_list_and_marked_cards(make):
    plan = make()
    pupil, teacher, marked = words_of(class_pages(plan, Settings(), A4, copies=24))
    strip = f"{build_of(plan, Settings()).tapes.strip_mm:.1f} mm"
    assert "Cell in, + up" in pupil and f"Cut {strip} of tape" in pupil
    assert "for 24 cards" in teacher and "CR2032 cells: 24" in teacher and "at each table" in teacher
    assert f"one strip of {strip}" in teacher and "swallowed" in teacher
    assert "to a sheet, print at 100 %" in marked


def test_two_small_cards_lie_on_one_sheet():
    assert "2 to a sheet" in words_of(class_pages(cards.seven_lights(), Settings(), LETTER, copies=2))[-1]


def test_a_card_too_large_for_the_paper_has_no_marked_sheet():
    assert len(words_of(class_pages(cards.large(), Settings(), A4, copies=2))) == 2


def test_what_is_not_ready_says_so_on_the_pupils_page():
    pupil = words_of(class_pages(cards.no_traces(), Settings(), A4, copies=2))[0]
    assert "no traces on this card yet" in pupil


def test_no_copies_are_refused():
    with pytest.raises(ValueError, match="copies"):
        class_pages(cards.one_light(), Settings(), A4, copies=0)
