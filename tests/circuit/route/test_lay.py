"""What the router lays: rules kept, marks passed, the same answer every time, honest when there is none."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from circuit.check import check
from circuit.layout import BatteryMark, Card, Layout, LightMark
from circuit.parts import cell_part, light_part
from circuit.polyline import length
from circuit.route import lay_traces
from circuit.settings import Settings
from tests.benchmarks.layouts import FAMILIES, drawn_layout, laid_layout

DEFAULTS = Settings()


def card_of(*places, battery=(54.0, 110.0), card=(107.95, 139.7)):
    lights = tuple(LightMark(f"L{i + 1}", x, y) for i, (x, y) in enumerate(places))
    return Layout(Card(*card), lights, BatteryMark(*battery, 20.4))


def must_fix(layout, routed, settings_=DEFAULTS):
    problems = check(layout, routed.traces, settings_)
    return [p for p in problems if p.level == "must-fix"]


def family_layout(family, count, seed):
    try:
        return drawn_layout(family, count, np.random.default_rng(seed))
    except RuntimeError:
        return None


@st.composite
def layouts(draw, most=8):
    family = draw(st.sampled_from(FAMILIES))
    layout = family_layout(family, draw(st.integers(1, most)), draw(st.integers(0, 10**6)))
    assume(layout is not None)
    return layout


# A cluster whose lane once came so near a light off the midline that its body lay under the fold's
# returning arm; the blunt end of a lane can do the same.
CROWDED = card_of(
    (52.6, 110.7), (60.0, 84.0), (47.5, 81.0), (38.0, 95.0), (37.0, 112.0), (50.0, 98.0), (29.0, 104.0),
    battery=(85.0, 40.0), card=(105.0, 148.0),
)  # fmt: skip


# A light so near to the cell that a lane past the battery zone must leave it off its middle.
BY_THE_CELL = card_of((26.527, 122.489), battery=(46.223, 120.873))


@given(layouts())
@example(card_of((54.0, 60.0)))
@example(card_of((20.0, 20.0), (88.0, 20.0), (20.0, 60.0)))
@example(card_of((54.0, 91.0), (30.0, 60.0)))  # the first light right at the battery zone
@example(CROWDED)
@example(BY_THE_CELL)
@settings(deadline=None, max_examples=30)
def test_what_is_laid_the_checker_passes(layout):
    routed = lay_traces(layout, DEFAULTS)
    assume(routed.traces is not None)  # a card with no lane is another test's business
    names = {problem.name for problem in must_fix(layout, routed)}
    assert names <= (
        {"switch-covers", "switch-off-card", "battery-zone"} if routed.switch_overlooked else set()
    )


@pytest.mark.parametrize("turn_deg", [0, 67, 110, 160, 200, 245, 290, 340])
@pytest.mark.parametrize("apart_mm", [19.35, 19.78, 19.85])
def test_lights_close_to_the_cell_are_passed_wherever_they_lie(apart_mm, turn_deg):
    turn = math.radians(turn_deg)
    layout = card_of(
        (54.0 + apart_mm * math.cos(turn), 70.0 + apart_mm * math.sin(turn)), battery=(54.0, 70.0)
    )
    routed = lay_traces(layout, DEFAULTS)
    assert not routed.switch_overlooked
    assert must_fix(layout, routed) == []


def test_the_outer_edge_of_a_fold_keeps_out_of_the_zone_as_far_as_its_tip():
    # The tape's edge runs on past the midline's corner, and came 3 thousandths nearer to the cell than the rule.
    places = ((78.429, 36.302), (21.921, 45.507), (62.359, 46.613), (70.627, 72.826), (72.062, 116.423))
    layout = card_of(*places, battery=(28.375, 21.291), card=(105.0, 148.5))
    assert must_fix(layout, lay_traces(layout, DEFAULTS)) == []


def test_a_light_that_no_lane_passes_clear_of_the_cell_is_told_by_the_switch():
    # The lane is shown all the same, so that a maker sees what is in the way.
    layout = card_of((35.0, 70.0), battery=(54.0, 70.0))
    routed = lay_traces(layout, DEFAULTS)
    assert routed.switch_overlooked
    assert {problem.name for problem in must_fix(layout, routed)} == {"switch-covers"}
    assert [block.proven for block in routed.blocked] == [True]  # there is none with room for the switch


# Five lights crowded at the end of a long lane: L1 lies midway between two far runs, too, at 0.1 mm, whereas
# the lane that it sits on passes it at 0.5 mm.
PASSED_BY = card_of(
    (66.94010964490454, 165.8384302301846), (77.82390981538624, 167.55572912169328),
    (56.33019802837159, 162.3171927259161), (65.59460442159187, 146.52934779666532),
    (59.57183652880035, 170.2693795364784),
    battery=(20.0905771903547, 63.48394633607277), card=(200.0, 280.0),
)  # fmt: skip


def test_a_crowd_at_a_lanes_end_is_laid_rightly():
    assert must_fix(PASSED_BY, lay_traces(PASSED_BY, DEFAULTS)) == []


@given(layouts(most=6))
@settings(deadline=None, max_examples=12)
def test_the_figures_told_are_those_of_the_traces(layout):
    routed = lay_traces(layout, DEFAULTS)
    assume(routed.traces is not None)
    assert sorted(routed.order) == sorted(light.label for light in layout.lights)
    assert routed.positive_mm == pytest.approx(length(routed.traces.positive))
    assert routed.negative_mm == pytest.approx(length(routed.traces.negative))
    assert len(routed.traces.positive) == len(routed.traces.negative) == routed.folds + 2
    # Offsets to both sides of a midline add up to twice its length.
    assert routed.midline_mm == pytest.approx((routed.positive_mm + routed.negative_mm) / 2)
    assert routed.lower_bound_mm < routed.midline_mm
    # The order is the order along the tape.
    line = shapely.LineString(routed.traces.positive)
    along = [line.project(shapely.Point(layout.light(label).centre)) for label in routed.order]
    assert along == sorted(along)


@pytest.mark.parametrize("seed", range(6))
def test_a_lane_that_exists_is_found(seed):
    rng = np.random.default_rng(1000 + seed)
    layout, made = laid_layout(4 + 2 * seed, rng)
    while [p for p in check(layout, made, DEFAULTS) if p.level == "must-fix"]:  # one in ten breaks a rule
        layout, made = laid_layout(4 + 2 * seed, rng)
    routed = lay_traces(layout, DEFAULTS)
    assert routed.traces is not None
    assert must_fix(layout, routed) == []
    # The made lane wanders; a search that weighs length must not do worse than wander with it.
    assert routed.midline_mm <= 1.05 * (length(made.positive) + length(made.negative)) / 2


@pytest.mark.parametrize("family", FAMILIES)
def test_turning_or_mirroring_a_card_turns_the_answer(family):
    layout = family_layout(family, 4, 3)
    assert layout is not None
    width, height = layout.card.width_mm, layout.card.height_mm

    def seen(to, card):
        lights = tuple(
            replace(light, x_mm=to(*light.centre)[0], y_mm=to(*light.centre)[1]) for light in layout.lights
        )
        x, y = to(*layout.battery.centre)
        return replace(layout, card=card, lights=lights, battery=replace(layout.battery, x_mm=x, y_mm=y))

    plain = lay_traces(layout, DEFAULTS)
    assert plain.traces is not None
    turned = lay_traces(seen(lambda x, y: (height - y, x), Card(height, width)), DEFAULTS)
    mirrored = lay_traces(seen(lambda x, y: (width - x, y), layout.card), DEFAULTS)
    # The headings tried are symmetric, but of two equal ways rounding may pick another one to
    # look closer at: within half a percent the same lane.
    assert turned.midline_mm == pytest.approx(plain.midline_mm, rel=5e-3)
    assert mirrored.midline_mm == pytest.approx(plain.midline_mm, rel=5e-3)


def test_the_same_card_gives_the_same_traces():
    layout = drawn_layout("scattered", 9, np.random.default_rng(2))
    assert lay_traces(layout, DEFAULTS) == lay_traces(layout, DEFAULTS)


def test_one_light_straight_out_of_the_battery_needs_no_fold():
    routed = lay_traces(card_of((54.0, 40.0)), DEFAULTS)
    assert routed.folds == 0
    assert routed.lower_bound_mm == pytest.approx(70.0 - 10.2)
    # From 4.5 mm beyond the cell's middle to just past the body 2.5 mm beyond the light's centre.
    assert routed.midline_mm == pytest.approx(70.0 + 4.5 + 2.8, abs=0.4)


@pytest.mark.parametrize("count", [2, 5, 9])
def test_a_row_that_wobbles_by_hand_is_one_straight_run(count):
    rng = np.random.default_rng(count)
    places = [(54.0 + rng.uniform(-0.3, 0.3), 89.0 - 9.0 * i) for i in range(count)]
    layout = card_of(*places, battery=(54.0, 119.5))  # the first light just past the switch's tab
    routed = lay_traces(layout, DEFAULTS)
    assert routed.traces is not None
    assert routed.folds <= 1
    assert must_fix(layout, routed) == []


def test_an_arc_of_close_lights_is_bent_between_them():
    turn = np.radians(90 + 12 * np.arange(9))
    places = [(54 + 42 * math.cos(a), 60 - 42 * math.sin(a) + 10) for a in turn]
    layout = card_of(*places, battery=(85.0, 110.0), card=(120.0, 140.0))
    routed = lay_traces(layout, DEFAULTS)
    assert routed.traces is not None
    assert must_fix(layout, routed) == []
    # Lights 8.8 mm apart: a lane that zigzags back past them would be far longer.
    assert routed.midline_mm < 1.2 * routed.lower_bound_mm + 20


@pytest.mark.parametrize("tape", [2.0, 3.0, 4.0, 6.0])
def test_other_tapes_are_laid_by_their_own_width(tape):
    own = Settings(tape_width_mm=tape)
    layout = card_of((30.0, 40.0), (75.0, 45.0), (54.0, 70.0), card=(148.0, 210.0), battery=(80.0, 150.0))
    routed = lay_traces(layout, own)
    assert routed.traces.tape_width_mm == tape
    assert must_fix(layout, routed, own) == []


@pytest.mark.parametrize(("name", "gap"), [("3528", 2.0), ("5050", 1.5), ("1206", 1.5)])
def test_other_lights_are_bridged(name, gap):
    own = Settings(light=light_part(name), gap_mm=gap)
    layout = card_of((30.0, 40.0), (75.0, 45.0), (54.0, 70.0))
    routed = lay_traces(layout, own)
    assert routed.traces is not None
    assert must_fix(layout, routed, own) == []


def test_a_small_cell_has_a_small_zone():
    own = Settings(cell=cell_part("CR1220"))
    layout = replace(card_of((54.0, 95.0), (30.0, 60.0)), battery=BatteryMark(54.0, 110.0, 12.8))
    routed = lay_traces(layout, own)
    assert routed.traces is not None
    assert must_fix(layout, routed, own) == []


def test_a_light_that_the_tapes_cannot_reach_under_is_proven_to_block():
    wide = Settings(gap_mm=6.0)
    routed = lay_traces(card_of((54.0, 40.0)), wide)
    assert routed.traces is None
    assert [block.proven for block in routed.blocked] == [True]


def test_a_light_at_the_very_edge_is_proven_to_block_and_named():
    routed = lay_traces(card_of((54.0, 40.0), (3.0, 70.0)), DEFAULTS)
    assert routed.traces is None
    assert routed.order == ()
    assert routed.lower_bound_mm > 0
    (block,) = routed.blocked
    assert block.labels == ("L2",)
    assert block.proven
    assert "3.0 mm" in block.reason


def test_lights_on_top_of_one_another_are_proven_to_block():
    (block,) = lay_traces(card_of((54.0, 40.0), (56.0, 42.0), (20.0, 20.0)), DEFAULTS).blocked
    assert (block.labels, block.proven) == (("L1", "L2"), True)


def test_three_lights_round_the_battery_zone_are_proven_to_block():
    layout = card_of((54.0, 91.2), (35.2, 110.0), (72.8, 110.0))
    (block,) = lay_traces(layout, DEFAULTS).blocked
    assert block.proven
    assert set(block.labels) == {"L1", "L2", "L3", "battery"}


def test_two_corners_leave_no_lane_however_many_lights_there_are():
    # A lane that comes to a light in a corner can't go on, and a lane has one end.
    corners = [(8.6, 8.6), (139.4, 8.6)]
    rows = [(24.0 + 20 * (i % 5), 60.0 + 25 * (i // 5)) for i in range(14)]
    routed = lay_traces(card_of(*corners, *rows, battery=(74.0, 175.0), card=(148.0, 210.0)), DEFAULTS)
    assert routed.traces is None
    (block,) = routed.blocked
    assert (block.proven, block.labels) == (True, ("L1", "L2"))  # nor does any other light block
    assert "L1 or L2" in block.reason


def test_a_crowd_in_which_every_way_lacks_tape_is_proven_to_have_no_lane():
    crowd = [
        (85.0, 92.7),
        (71.2, 94.4),
        (82.5, 79.8),
        (91.3, 69.9),
        (77.9, 86.5),
        (94.9, 77.7),
        (95.2, 85.5),
        (86.2, 106.7),
    ]
    routed = lay_traces(card_of(*crowd, battery=(70.8, 40.1)), DEFAULTS)
    (block,) = routed.blocked
    # Chains of links are there, each with one that misses over 1.2 mm between its folds: more than finer turns mend.
    assert routed.traces is None and block.proven


def test_many_ways_between_other_lights_hide_no_dead_ends():
    # L1 lies in a corner with L3 and L2 close beside it; the others leave tens of thousands of links.
    edge = [(9.6, 163.7), (26.3, 169.1), (17.6, 164.8), (94.3, 169.6), (116.6, 135.0)]
    edge += [(115.2, 19.3), (47.7, 168.4), (11.7, 41.8), (12.3, 69.9), (116.6, 104.7)]
    routed = lay_traces(card_of(*edge, battery=(70.7, 21.5), card=(127.0, 177.8)), DEFAULTS)
    (block,) = routed.blocked
    assert routed.traces is None and (block.proven, block.labels) == (True, ("L1", "L3"))


def test_lights_too_crowded_for_a_lane_are_told_of_as_proven():
    places = [(40.0 + 7.2 * i, 40.0 + 7.2 * j) for i in range(3) for j in range(3)]
    routed = lay_traces(card_of(*places), DEFAULTS)
    assert routed.traces is None
    (block,) = routed.blocked
    assert block.proven
    assert block.labels == ()  # it takes all of them together
    assert "two folds" in block.reason  # what the proof holds for is said
    (block,) = lay_traces(card_of(*places), DEFAULTS, give_up_soon=True).blocked
    assert not block.proven


def narrow_card(first_mm):
    """A strip where the tapes can leave the cell to the right alone; the first light sits on the end run."""
    places = ((first_mm, 22.0), (58.0, 22.0), (66.0, 16.0))
    lights = tuple(LightMark(f"L{i}", x, y) for i, (x, y) in enumerate(places, 1))
    return Layout(Card(80.0, 44.0), lights, BatteryMark(18.0, 22.0, 20.5))


@pytest.mark.parametrize(
    "first_mm, tongue",
    # Lid 15.5, tongue 10 or 5, half a body 2.5, from the middle at 18: 46 and 41.
    [(41.5, "upright"), (45.5, "upright"), (46.5, "bent"), (50.0, "bent")],
)
def test_an_upright_tongue_is_taken_only_where_the_other_has_no_room(first_mm, tongue):
    layout = narrow_card(first_mm)
    for quick in (False, True):
        routed = lay_traces(layout, DEFAULTS, quick=quick)
        assert routed.traces.tongue == tongue
        assert check(layout, routed.traces, DEFAULTS) == ()


def test_where_not_even_an_upright_tongue_fits_the_usual_one_is_told_of():
    layout = narrow_card(40.0)
    routed = lay_traces(layout, DEFAULTS)
    assert routed.traces.tongue == "bent"
    assert "switch-covers" in {problem.name for problem in check(layout, routed.traces, DEFAULTS)}


def test_no_battery_and_no_lights():
    nothing = Layout(Card(100, 100), (LightMark("L1", 50, 50),))
    assert lay_traces(nothing, DEFAULTS).blocked[0].labels == ("battery",)
    bare = Layout(Card(100, 100), (), BatteryMark(50, 50, 20))
    routed = lay_traces(bare, DEFAULTS)
    assert routed.traces is None
    assert routed.blocked == ()


def test_reasons_are_in_the_makers_units():
    routed = lay_traces(card_of((3.175, 70.0)), Settings(units="in"))
    assert "1/8 in" in routed.blocked[0].reason


def test_no_effort_is_refused():
    with pytest.raises(ValueError, match="effort"):
        lay_traces(card_of((54.0, 40.0)), DEFAULTS, effort=0)


@pytest.mark.parametrize(("lights", "most"), [(3, 10), (14, 10), (20, 5), (30, 2)])
def test_no_more_effort_is_spent_than_a_crowded_card_can_take(monkeypatch, lights, most):
    from circuit.route import lay

    spent = []

    def found(site, upright, enough_mm, effort, *_):
        spent.append(effort)
        raise StopIteration

    monkeypatch.setattr(lay, "_find_lane", found)
    monkeypatch.setattr(lay, "proven_blocks", lambda *_: ())
    places = [(20.0 + 12 * (i % 6), 20.0 + 12 * (i // 6)) for i in range(lights)]
    for effort in (1, 10):
        with pytest.raises(StopIteration):
            lay_traces(card_of(*places), DEFAULTS, effort=effort)
    assert spent == [1, most]
