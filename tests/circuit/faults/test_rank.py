import pytest

from circuit.errors import UsageError
from circuit.faults import after_trial, rank_faults
from circuit.faults.trials import ANSWERS, Trial, answer_chances
from circuit.faults.words import by_design_words
from circuit.parts import light_part
from circuit.settings import Settings
from tests.circuit.cards import ladder, scattered
from tests.circuit.test_electrics_problems import zigzag

CARD, TRACES = ladder(6)
ALL = [mark.label for mark in CARD.lights]


def first(ranking):
    return [(fault.kind, fault.light) for fault in ranking.ranked[0].faults]


def test_one_dark_light_among_lit_ones_is_its_own_fault():
    ranking = rank_faults(CARD, TRACES, ["L3"])
    assert first(ranking) == [("pads", "L3")]
    assert [one.faults[0].kind for one in ranking.ranked[:3]] == ["pads", "turned", "dead"]
    assert {one.faults[0].light for one in ranking.ranked[:3]} == {"L3"}
    assert ranking.explained
    assert sum(one.share for one in ranking.ranked) == pytest.approx(1.0)


def test_what_can_t_be_told_apart_has_one_fit():
    pads, turned, dead = rank_faults(CARD, TRACES, ["L3"]).ranked[:3]
    # Alike but for the million ohm of one and the open pad of the other.
    assert pads.fit == pytest.approx(turned.fit, rel=1e-3)
    assert turned.fit == pytest.approx(dead.fit, rel=1e-3)


def test_lit_lights_are_evidence_too():
    # The last two dark: the tapes before them, or two lights; all before them dark as well: never the same.
    end = rank_faults(CARD, TRACES, ["L5", "L6"])
    assert end.ranked[0].faults[0].kind == "tape"
    assert end.ranked[0].faults[0].between == ("L4", "L5")
    assert {one.faults[0].trace for one in end.ranked[:2]} == {"positive", "negative"}
    gap = rank_faults(CARD, TRACES, ["L4", "L5"])
    assert gap.ranked[0].faults[0].kind != "tape" or len(gap.ranked[0].faults) == 2


def test_all_dark_is_the_flap_first_and_the_cell_and_touching_tapes_are_told():
    ranking = rank_faults(CARD, TRACES, ALL)
    kinds = [one.faults[0].kind for one in ranking.ranked[:4]]
    assert kinds[0] == "flap"
    assert {"cell-turned", "touching", "cell-spent"} == set(kinds[1:])


def test_two_dark_lights_apart_are_two_faults():
    ranking = rank_faults(CARD, TRACES, ["L2", "L5"])
    assert {fault.light for fault in ranking.ranked[0].faults} == {"L2", "L5"}
    assert ranking.explained


def test_more_than_two_faults_are_said_not_to_be_explained():
    layout, traces = ladder(9, pitch_mm=9.0)
    assert not rank_faults(layout, traces, ["L2", "L4", "L6", "L8"]).explained


def test_a_dim_light_points_to_its_contact_and_not_to_its_being_turned():
    ranking = rank_faults(CARD, TRACES, [], ["L2"])
    assert first(ranking) == [("pads", "L2")]
    assert ranking.ranked[0].share > 0.7


def test_lapped_corners_are_suspected_more():
    layout, traces = zigzag(6)
    folded, lapped = (
        rank_faults(layout, traces, ["L6"], settings=Settings(corners=corners))
        for corners in ("folded", "lapped")
    )

    def tapes(ranking):
        return sum(one.share for one in ranking.ranked if one.faults[0].kind == "tape")

    assert tapes(lapped) > tapes(folded)


@pytest.mark.parametrize(
    ("dark", "answer", "kind"),
    [
        (["L3"], "lit-as-it-lay", "pads"),
        (["L3"], "lit-turned", "turned"),
        (["L3"], "dark", "dead"),
        (ALL, "lit", "flap"),
        (ALL, "lit-but-it-lay-turned", "cell-turned"),
    ],
)
def test_the_suggested_trial_settles_it(dark, answer, kind):
    ranking = rank_faults(CARD, TRACES, dark)
    after = after_trial(ranking, answer)
    assert after.ranked[0].faults[0].kind == kind
    assert after.ranked[0].share > 0.6
    assert after.trial != ranking.trial or after.trial is None


def test_a_break_is_bridged_on_one_tape_and_no_means_the_other():
    ranking = rank_faults(CARD, TRACES, ["L5", "L6"])
    assert ranking.trial.kind == "bridge"
    bridged = after_trial(ranking, "brighter").ranked[0].faults[0]
    assert bridged.trace == ranking.trial.trace
    other = after_trial(ranking, "same").ranked[0].faults[0]
    assert other.trace not in (None, ranking.trial.trace)


def test_an_answer_that_a_trial_can_t_give_is_refused():
    with pytest.raises(ValueError, match="no answer"):
        after_trial(rank_faults(CARD, TRACES, ["L3"]), "perhaps")


def test_each_trial_s_answers_have_chances_that_sum_to_one():
    ranking = rank_faults(CARD, TRACES, ["L3", "L6"])
    for kind in ANSWERS:
        trial = Trial(kind, "L3", None, ("", ""), ((0.0, 0.0),))
        for one in ranking.ranked[:20]:
            chances = answer_chances(trial, one.faults[0], lapped=False)
            assert tuple(sorted(chances)) == tuple(sorted(ANSWERS[kind]))
            assert sum(chances.values()) == pytest.approx(1.0)
            assert min(chances.values()) > 0  # no answer rules anything out for good


@pytest.mark.parametrize("label", ["l3", " L3 "])
def test_labels_are_known_however_they_are_typed(label):
    assert rank_faults(CARD, TRACES, [label]).dark == ("L3",)


def test_what_can_t_be_asked_is_refused_with_what_to_do():
    with pytest.raises(UsageError, match=r"no light L9.*L1, L2"):
        rank_faults(CARD, TRACES, ["L9"])
    with pytest.raises(UsageError, match="Name the lights"):
        rank_faults(CARD, TRACES, [])
    with pytest.raises(UsageError, match="no traces"):
        rank_faults(scattered([(50.0, 50.0)]), None, ["L1"])


def test_lights_that_are_weak_by_design_tell_of_no_fault():
    red = {"L3": light_part("5050", "red")}  # it takes nearly all of the current
    ranking = rank_faults(CARD, TRACES, ["L1", "L2"], lights=red)
    assert ranking.by_design == ("L1", "L2")
    assert ranking.ranked == ()
    assert ranking.trial is None
    assert "even with nothing wrong" in by_design_words(ranking)
    # The one that takes it all goes dark: its looks alone count.
    ranking = rank_faults(CARD, TRACES, ["L3"], lights=red)
    assert {one.faults[0].kind for one in ranking.ranked[:2]} == {"flap", "pads"}
    assert by_design_words(ranking) == ""
