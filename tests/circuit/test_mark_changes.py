"""Changes to the marks of a card, as typed and as values."""

import math

import pytest

from circuit.errors import UsageError
from circuit.layout import BatteryMark, Card, Layout, LightMark, Move
from circuit.mark_changes import Shift, shift_from, shifted, with_light_at, with_moves, without_light

CARD = Layout(
    Card(107.95, 139.7),
    (LightMark("L1", 30.0, 40.0, uncertainty_mm=0.3), LightMark("L3", 60.0, 40.0, uncertainty_mm=0.2)),
    BatteryMark(80.0, 110.0, 20.4, uncertainty_mm=0.4),
)


@pytest.mark.parametrize(
    ("text", "units", "about", "by_mm"),
    [
        ("L3 2mm left", "mm", "L3", (-2.0, 0.0)),
        ("battery 5mm up", "mm", "battery", (0.0, -5.0)),
        ("L1 1/8in right and 2mm down", "mm", "L1", (3.175, 2.0)),
        ("L1 1/8 right, 1/16 up", "in", "L1", (3.175, -1.5875)),
        ("l1  2 mm LEFT", "mm", "l1", (-2.0, 0.0)),
        ("L1 2mm left 3mm right", "mm", "L1", (1.0, 0.0)),
    ],
)
def test_a_move_is_typed_as_it_is_said(text, units, about, by_mm):
    shift = shift_from(text, units)
    assert shift.about == about
    assert shift.by_mm == pytest.approx(by_mm, abs=1e-9)  # rounding of 25.4 x 1/8


@pytest.mark.parametrize(
    "text", ["", "L3", "L3 left", "L3 2mm", "L3 2mm sideways", "L3 2mm left or so", "L3 two mm left"]
)
def test_what_is_no_move_is_told_how_to_write_one(text):
    with pytest.raises(UsageError, match="--move"):
        shift_from(text)


def test_a_mark_moves_by_so_much_and_keeps_its_name_and_uncertainty():
    moved = shifted(CARD, Shift("l3", (-2.0, 1.0)))
    assert moved.light("L3") == LightMark("L3", 58.0, 41.0, uncertainty_mm=0.2)
    assert moved.light("L1") == CARD.light("L1") and moved.battery == CARD.battery
    assert shifted(CARD, Shift("Battery", (0.0, -5.0))).battery.centre == (80.0, 105.0)
    assert CARD.light("L3").x_mm == 60.0


def test_the_suggested_moves_are_made_all_at_once():
    moves = (Move("L1", (30.0, 40.0), (28.0, 40.0), "x"), Move("battery", (80.0, 110.0), (80.0, 112.0), "x"))
    moved = with_moves(CARD, moves)
    assert moved.light("L1").centre == (28.0, 40.0) and moved.battery.centre == (80.0, 112.0)


def test_a_light_goes_and_another_takes_the_first_free_name():
    assert [light.label for light in without_light(CARD, "L1").lights] == ["L3"]
    more, label = with_light_at(CARD, (50.0, 70.0))
    assert label == "L2" and more.light("L2").centre == (50.0, 70.0)


@pytest.mark.parametrize(
    "change",
    [
        lambda: shifted(CARD, Shift("L9", (1.0, 0.0))),
        lambda: without_light(CARD, "battery"),
        lambda: shifted(CARD, Shift("L1", (-30.1, 0.0))),
        lambda: shifted(CARD, Shift("L1", (math.nan, 0.0))),
        lambda: with_light_at(CARD, (50.0, 140.0)),
        lambda: shifted(Layout(CARD.card, CARD.lights), Shift("battery", (1.0, 0.0))),
    ],
)
def test_what_the_card_cannot_take_is_said(change):
    with pytest.raises(UsageError):
        change()
