import pytest

from circuit.faults import after_trial, rank_faults, tell
from circuit.faults.possible import possible_faults
from circuit.faults.trials import possible_trials
from circuit.faults.words import (
    cautions,
    fault_words,
    seen_words,
    share_words,
    told,
    trial_words,
    unexplained_words,
)
from circuit.settings import Settings
from tests.circuit.cards import CARD, ladder

LAYOUT, TRACES = ladder(6)
ALL = [mark.label for mark in LAYOUT.lights]


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("lapped", [False, True])
def test_every_fault_and_trial_is_told_in_whole_sentences_with_what_to_do(units, lapped):
    faults = possible_faults(LAYOUT, TRACES, Settings())
    for fault in faults:
        text = fault_words(fault, CARD, units, lapped)
        assert text.endswith(".")
        assert "None" not in text
        assert text.count(". ") >= 1
    for trial in possible_trials(faults):
        text = trial_words(trial, CARD, units, lapped)
        assert text.endswith(".")
        assert "None" not in text


def test_what_was_seen_is_said_back():
    assert (
        seen_words(rank_faults(LAYOUT, TRACES, ["L3"], ["L5", "L6"]))
        == "L3 stays dark and L5 and L6 are dim."
    )
    assert seen_words(rank_faults(LAYOUT, TRACES, [], ["L5"])) == "L5 is dim."


def test_touching_tapes_come_with_a_caution_and_a_single_light_without():
    assert "take it out at once" in cautions(rank_faults(LAYOUT, TRACES, ALL))[0]
    assert cautions(rank_faults(LAYOUT, TRACES, ["L3"])) == ()


def test_half_of_a_pair_is_not_told_again():
    shown = told(rank_faults(LAYOUT, TRACES, ["L2", "L5"]))
    assert len(shown[0].faults) == 2
    assert all(not set(one.faults) < set(shown[0].faults) for one in shown[1:])


def test_what_is_not_explained_is_said():
    layout, traces = ladder(9, pitch_mm=9.0)
    assert "Neither" in unexplained_words(rank_faults(layout, traces, ["L2", "L4", "L6", "L8"]))
    assert unexplained_words(rank_faults(layout, traces, ["L2"])) == ""


def test_belief_is_told_in_words():
    words = [share_words(share) for share in (0.95, 0.6, 0.3, 0.05)]
    assert words == ["nearly sure", "likely", "possible", "less likely"]
    ranking = rank_faults(LAYOUT, TRACES, ["L3"])
    assert share_words(after_trial(ranking, "lit-turned").ranked[0].share) == "nearly sure"


def test_a_page_gets_sentences_places_and_the_answers_that_go_on():
    ranking = rank_faults(LAYOUT, TRACES, ["L2", "L5"])
    dark = tell(ranking, CARD, "mm")
    assert dark.seen == "L2 and L5 stay dark."
    assert len(dark.faults[0].texts) == len(dark.faults[0].places_mm) == 2
    assert dark.test is not None
    for key, words in dark.test.answers:
        assert words
        after_trial(ranking, key)
    assert "common practice" in dark.source
    assert tell(rank_faults(LAYOUT, TRACES, ALL), CARD, "mm").notes
