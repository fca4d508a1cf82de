"""Nearest distances: the right pairs, ends that span what is measured, words a maker reads."""

import math
from dataclasses import replace

import pytest

from circuit.layout import Layout, Traces
from circuit.settings import Settings
from circuit.spacing import nearest_distances, spacing_lines
from tests.circuit.hand_made import CARD, STRAIGHT_CARD, STRAIGHT_TRACES, card_with

WINDOW = ((20.0, 15.0), (90.0, 15.0), (90.0, 70.0), (20.0, 70.0))


def found(layout, traces=None, settings=None):
    spacings = nearest_distances(layout, traces, settings or Settings())
    return {spacing.about: spacing for spacing in spacings}


def test_every_light_tells_its_nearest_of_each_kind():
    spacings = found(replace(card_with((54, 60), (54, 40), (61, 40)), window=WINDOW))
    assert spacings[("L1", "L2")].measured_mm == 20
    assert spacings[("L3", "L2")].measured_mm == 7
    assert spacings[("L3", "card")].measured_mm == pytest.approx(40 - 2.5)
    assert spacings[("L1", "battery")].measured_mm == pytest.approx(50 - 10 - 2.5)
    assert spacings[("L1", "window")].measured_mm == pytest.approx(10)
    assert spacings[("battery", "window")].measured_mm == pytest.approx(40 - 16)
    assert all(spacing.kept for spacing in spacings.values())


def test_the_ends_of_a_measure_are_as_far_apart_as_it_says():
    layout = replace(card_with((54, 60), (30, 33)), window=WINDOW)
    for spacing in nearest_distances(layout, STRAIGHT_TRACES, Settings()):
        assert math.dist(spacing.from_mm, spacing.to_mm) == pytest.approx(abs(spacing.measured_mm)), spacing


def test_tapes_are_measured_to_each_other_and_to_the_edge():
    spacings = found(STRAIGHT_CARD, STRAIGHT_TRACES)
    assert spacings[("positive", "negative")].measured_mm == pytest.approx(2.5)
    assert spacings[("positive", "card")].measured_mm == pytest.approx(139.7 - 114.5)
    near = Traces(((51.5, 114.5), (51.5, 1.0)), STRAIGHT_TRACES.negative)
    spacing = found(STRAIGHT_CARD, near)[("positive", "card")]
    assert (spacing.measured_mm, spacing.to, spacing.kept) == (pytest.approx(1.0), "the top edge", False)


def test_lines_are_in_the_makers_units_and_name_what_is_too_near():
    layout = card_with((54, 60), (54, 54))
    lines = spacing_lines(nearest_distances(layout, None, Settings()), "mm")
    assert lines[0] == (
        "L1: 6.0 mm to L2 (too near: needs 7 mm), 51.5 mm to the right edge, 37.5 mm to the cell"
    )
    assert (
        " 1/4 in to L2 (too near: needs 9/32 in)"
        in spacing_lines(nearest_distances(layout, None, Settings()), "in")[0]
    )


def test_outside_the_window_and_over_the_edge_are_told_as_such():
    layout = replace(card_with((10, 60), (107, 100)), window=WINDOW)
    first, second = spacing_lines(nearest_distances(layout, None, Settings()), "mm")[:2]
    assert "10.0 mm outside the window's outline (not where it should be)" in first
    assert "1.5 mm over the right edge (too near: needs 5 mm)" in second


def test_an_empty_card_has_nothing_to_tell():
    assert nearest_distances(Layout(CARD, ()), None, Settings()) == ()
    assert spacing_lines((), "mm") == ()


def test_one_light_alone_has_no_neighbour():
    assert all(
        spacing.about[0] == "L1" for spacing in nearest_distances(card_with((54, 60)), None, Settings())
    )
