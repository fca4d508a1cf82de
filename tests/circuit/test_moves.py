"""Advice on a card that can't be laid: moves, lights to leave out, other parts, a place for the battery.

Most use a router of the test's own, which knows one lane and lays it for whatever lies on it; how the
real one and the moves work together is tested at the end.
"""

from dataclasses import dataclass, replace

import pytest

from circuit.check import check, must_fix_on_card
from circuit.layout import BatteryMark, Card, Layout, LightMark, Traces
from circuit.moves import Advice, find_battery_place, suggest_moves
from circuit.moves.left_out import crowded_first
from circuit.moves.needs import SPARE_MM
from circuit.moves.on_grid import grid_mm
from circuit.moves.on_lane import put_back
from circuit.route import lay_traces
from circuit.settings import Settings
from tests.circuit.hand_made import (
    BATTERY,
    CARD,
    STRAIGHT_CARD,
    STRAIGHT_TRACES,
    card_with,
)

DEFAULTS = Settings()
WINDOW = ((20.0, 15.0), (90.0, 15.0), (90.0, 70.0), (20.0, 70.0))


@dataclass(frozen=True)
class Answer:
    traces: Traces | None


class OneLane:
    """A router that knows the straight lane up the card and lays it when every light is on it."""

    def __init__(self) -> None:
        self.calls = 0

    def __call__(self, layout, settings):
        self.calls += 1
        wrong = must_fix_on_card(check(layout, STRAIGHT_TRACES, settings))
        return Answer(None if wrong else STRAIGHT_TRACES)


class NoLane(OneLane):
    def __call__(self, layout, settings):
        self.calls += 1
        return Answer(None)


def advice_on(layout, route=None, settings=DEFAULTS):
    route = route or OneLane()
    return suggest_moves(layout, settings, route(layout, settings), route=route)


def test_nothing_moves_when_nothing_is_wrong():
    route = OneLane()
    assert suggest_moves(STRAIGHT_CARD, DEFAULTS, Answer(STRAIGHT_TRACES), route=route) == Advice()
    assert route.calls == 0


def test_a_doubt_alone_moves_nothing():
    layout = card_with((54, 60), (54, 52.9), uncertainty_mm=0.3)
    assert [p.level for p in check(layout, None, DEFAULTS)] == ["look-again"]
    assert advice_on(layout) == Advice()


def test_the_wrong_cell_alone_moves_nothing():
    layout = replace(STRAIGHT_CARD, battery=replace(BATTERY, diameter_mm=24.9))
    assert [p.name for p in check(layout, None, DEFAULTS)] == ["cell-mismatch"]
    assert suggest_moves(layout, DEFAULTS, Answer(STRAIGHT_TRACES), route=NoLane()) == Advice()


def test_a_card_without_lights_or_battery_has_nothing_to_move():
    for layout in (Layout(CARD, (), BATTERY), replace(STRAIGHT_CARD, battery=None)):
        assert suggest_moves(layout, DEFAULTS, Answer(None), route=NoLane()) == Advice()


def test_two_lights_too_close_are_parted_by_what_they_lack():
    layout = card_with((54, 60), (54, 53.5))
    advice = advice_on(layout)
    (move,) = advice.moves
    assert (move.about, move.why) == ("L2", "lights-too-close")
    assert move.by_mm == pytest.approx(0.5)
    assert move.from_mm == (54, 53.5) and move.to_mm[1] < 53.5
    assert advice.moved_layout.light("L2").centre == move.to_mm
    assert must_fix_on_card(check(advice.moved_layout, advice.moved_traces, DEFAULTS)) == []
    assert advice.leave_out == ()


def test_a_light_beside_the_lane_is_put_on_it_and_no_further():
    layout = card_with((54, 60), (57, 40))
    (move,) = advice_on(layout).moves
    assert (move.about, move.why) == ("L2", "no-lane")
    # Half a millimetre off the middle is allowed, so 2.5 mm of the 3 are enough.
    assert move.by_mm == pytest.approx(2.5, abs=3 * SPARE_MM)


def test_a_battery_under_the_window_moves_and_the_lights_stay():
    layout = replace(card_with((86, 40)), window=WINDOW, battery=replace(BATTERY, y_mm=85.0))

    def route(card, settings):
        y = card.battery.y_mm
        # Out to the right, where the hinge is, and up into the window past the tab.
        plus = ((49.5, y - 2.5), (83.5, y - 2.5), (83.5, 37.5))
        minus = ((49.5, y + 2.5), (88.5, y + 2.5), (88.5, 37.5))
        lane = Traces(plus, minus)
        return Answer(None if must_fix_on_card(check(card, lane, settings)) else lane)

    (move,) = suggest_moves(layout, DEFAULTS, route(layout, DEFAULTS), route=route).moves
    assert move.about == "battery" and move.why in ("cell-under-window", "switch-covers")
    assert move.by_mm == pytest.approx(1.0)


def test_when_nothing_mends_it_nothing_is_said_and_the_router_is_not_asked_for_ever():
    route = NoLane()
    advice = advice_on(card_with((54, 60), (20, 40), (90, 30)), route)
    assert advice == Advice()
    assert route.calls < 60


def test_lights_to_leave_out_are_told_when_moves_fail():
    class Stubborn(OneLane):
        """Lays only cards whose lights are just where they were drawn on the lane."""

        def __call__(self, layout, settings):
            self.calls += 1
            drawn = {(54.0, 60.0), (54.0, 40.0)}
            if not {light.centre for light in layout.lights} <= drawn:
                return Answer(None)
            return super().__call__(layout, settings)

    # So far away that no reasonable move brings it onto the lane.
    layout = card_with((54, 60), (54, 40), (95, 20))
    advice = advice_on(layout, Stubborn())
    assert advice.moves == ()
    assert advice.leave_out == ("L3",)


def test_other_parts_are_offered_only_when_they_were_routed():
    # 26 mm from the battery: under the tab of a 20 mm cell's switch, past that of a smaller one.
    layout = card_with((54, 84))
    (cell,) = [text for text in advice_on(layout, OneLaneFrom(16.5)).alternatives if "cell" in text]
    assert "CR16" in cell
    assert advice_on(layout, NoLane()).alternatives == ()


class OneLaneFrom(OneLane):
    """The straight lane for cells up to a diameter only, so that moving the light does not help."""

    def __init__(self, largest_mm):
        super().__init__()
        self.largest_mm = largest_mm

    def __call__(self, layout, settings):
        if settings.cell.diameter_mm > self.largest_mm:
            return Answer(None)
        lane = Traces(((51.5, 113.5), (51.5, 37.5)), ((56.5, 113.5), (56.5, 37.5)))
        return Answer(None if must_fix_on_card(check(layout, lane, settings)) else lane)


def test_the_same_card_gets_the_same_advice():
    layout = card_with((54, 60), (57, 52), (54, 40))
    assert advice_on(layout) == advice_on(layout)


# The building blocks.


def test_a_light_left_out_is_put_back_at_the_nearest_free_place():
    whole = card_with((54, 60), (54, 40), (60, 47))
    moved, lane = put_back(whole, STRAIGHT_CARD, STRAIGHT_TRACES, DEFAULTS)
    x, y = moved.light("L3").centre
    assert lane == STRAIGHT_TRACES
    # As far off the middle as is allowed towards where it was, and a light's distance from its neighbour.
    assert x == pytest.approx(54.5, abs=3 * SPARE_MM)
    assert y == pytest.approx(47.0, abs=0.5)
    assert check(moved, lane, DEFAULTS) == ()


def test_a_light_past_the_end_makes_the_lane_longer():
    whole = card_with((54, 60), (54, 40), (54, 25))
    moved, lane = put_back(whole, STRAIGHT_CARD, STRAIGHT_TRACES, DEFAULTS)
    # It may stay where it is: a tenth is what lengths are told to.
    assert moved.light("L3").centre == pytest.approx((54, 25), abs=0.1)
    assert lane.positive[-1][1] == pytest.approx(22.5, abs=0.1)
    assert check(moved, lane, DEFAULTS) == ()


def test_a_full_lane_has_no_place():
    # 7 mm apart, with too little left for one more below the first and above the last.
    places = [(54.0, 81.9 - 7.0 * k) for k in range(11)]
    lane = Traces(((51.5, 114.5), (51.5, 8.6)), ((56.5, 114.5), (56.5, 8.6)))
    rest = card_with(*places)
    assert check(rest, lane, DEFAULTS) == ()
    whole = card_with(*places, (60, 50))
    assert put_back(whole, rest, lane, DEFAULTS) is None


def test_the_most_crowded_mark_comes_first_and_knows_the_way_out():
    # L2 and L3 stand close together, L1 by itself.
    crowded = crowded_first(card_with((30, 40), (80, 40), (80, 47)), DEFAULTS)
    assert {k for k, _ in crowded[:2]} == {1, 2}
    way = dict(crowded)[2]
    assert way[1] > 0.9  # down, away from L2


def test_marks_off_a_photo_are_moved_by_what_a_hand_can_do():
    layout = card_with((54, 60), (54, 53.5), uncertainty_mm=0.33)
    assert grid_mm(layout, 0, "mm") == 0.5
    advice = suggest_moves(layout, DEFAULTS, lay_traces(layout, DEFAULTS), route=lay_traces)
    assert advice.moves
    for move in advice.moves:
        steps = [(to - home) / 0.5 for to, home in zip(move.to_mm, move.from_mm, strict=True)]
        assert steps == pytest.approx([round(step) for step in steps], abs=1e-6)  # rounding alone
    assert must_fix_on_card(check(advice.moved_layout, advice.moved_traces, DEFAULTS)) == []


# A place for the battery.


def test_the_battery_finds_a_place_that_keeps_every_mark_rule():
    layout = replace(card_with((54, 40), (30, 60), (80, 60)), battery=None, window=WINDOW)
    x, y = find_battery_place(layout, DEFAULTS)
    placed = replace(layout, battery=BatteryMark(x, y, 20.9))
    assert check(placed, None, DEFAULTS) == ()
    assert 16 <= x <= CARD.width_mm - 16 and 16 <= y <= CARD.height_mm - 16


def test_no_room_for_the_battery_is_none():
    assert find_battery_place(Layout(Card(31, 60), ()), DEFAULTS) is None
    full = tuple(
        (0.0 if x == 0 else 107.95, 0.0 if y == 0 else 139.7) for x, y in ((0, 0), (1, 0), (1, 1), (0, 1))
    )
    assert find_battery_place(Layout(CARD, (), window=full), DEFAULTS) is None


def test_a_bare_card_puts_the_battery_in_the_middle():
    assert find_battery_place(Layout(Card(100, 140), ()), DEFAULTS) == (50.0, 70.0)


# With the real router.


@pytest.mark.parametrize(
    "layout",
    [
        card_with((54, 60), (54, 54)),
        card_with((40, 50), (46, 50), (52, 50)),
        card_with((6, 60), (54, 60)),
        replace(card_with((54, 40), (30, 75)), window=WINDOW),
    ],
)
def test_what_is_advised_is_laid_and_keeps_every_rule(layout):
    routed = lay_traces(layout, DEFAULTS)
    advice = suggest_moves(layout, DEFAULTS, routed, route=lay_traces)
    assert advice.moves
    assert must_fix_on_card(check(advice.moved_layout, advice.moved_traces, DEFAULTS)) == []
    moved = {move.about: move for move in advice.moves}
    for before, after in zip(layout.lights, advice.moved_layout.lights, strict=True):
        assert isinstance(after, LightMark)
        if before.label in moved:
            assert moved[before.label].to_mm == after.centre
        else:
            assert after == before
    misses = [
        problem.limit - problem.measured
        for problem in check(layout, None, DEFAULTS)
        if problem.level == "must-fix"
    ]
    # The worst miss bounds any cure from below; these are mended by little more than what is missed in all.
    assert max(misses) <= sum(move.by_mm for move in advice.moves) <= sum(misses) + 2.0
