"""Faults in the card's own circuit, against cards solved by other ways."""

from dataclasses import replace

import numpy as np
import pytest

from circuit.electrics import bench_of, cell_state
from circuit.electrics.network import light_currents
from circuit.faults.effect import BAD_OHMS, effects, good_card, pair_effects
from circuit.faults.possible import possible_faults
from circuit.layout import Traces
from circuit.settings import Settings
from tests.circuit.cards import ladder, scattered


def solved(layout, traces, settings=None):
    settings = settings or Settings()
    faults = possible_faults(layout, traces, settings)
    card = good_card(layout, traces, settings, None)
    return card, dict(zip(faults, effects(card, faults)))


def of(found, kind, **wanted):
    return next(
        (fault, effect)
        for fault, effect in found.items()
        if fault.kind == kind and all(getattr(fault, name) == value for name, value in wanted.items())
    )


def test_a_light_without_contact_is_dark_and_leaves_more_for_the_others():
    layout, traces = ladder(4)
    card, found = solved(layout, traces)
    _, effect = of(found, "pads", light="L2")
    without = replace(layout, lights=tuple(mark for mark in layout.lights if mark.label != "L2"))
    alone = bench_of(without, traces, Settings()).solve().currents_ma
    open_case = dict(zip(card.labels, effect.current_ma[-1]))
    assert open_case["L2"] < 1e-3
    for label, current in alone.items():
        # An open contact is a million ohm, not none.
        assert open_case[label] == pytest.approx(current, rel=1e-3)
    # The worse the contact, the less.
    assert (np.diff(effect.share[:, 1]) < 0).all()
    assert effect.often.sum() == pytest.approx(1.0)


def test_a_light_turned_round_and_a_dead_one_look_like_an_open_one():
    layout, traces = ladder(3)
    _, found = solved(layout, traces)
    open_case = of(found, "pads", light="L3")[1].current_ma[-1]
    for kind in ("turned", "dead"):
        assert of(found, kind, light="L3")[1].current_ma[0] == pytest.approx(open_case)


def test_a_torn_tape_darkens_what_lies_beyond_and_nothing_else():
    layout, traces = ladder(5)
    _, found = solved(layout, traces)
    _, effect = of(found, "tape", trace="negative", between=("L2", "L3"))
    dark = effect.share[-1]
    assert (dark[2:] < 1e-3).all()
    assert (dark[:2] > 1).all()


def test_lights_follow_the_tape_and_not_their_labels():
    # L1 lies farthest along.
    line = ((54.0, 110.0), (54.0, 10.0))
    layout = scattered([(54.0, 30.0), (54.0, 80.0), (54.0, 55.0)])
    _, found = solved(layout, Traces(line, line))
    _, effect = of(found, "tape", trace="positive", between=("L3", "L1"))
    assert effect.share[-1][0] < 1e-3 < 1 < effect.share[-1][1:].min()


def test_touching_tapes_take_the_cell_s_volts_as_a_divider_does():
    # Tapes of next to no resistance: the touch and the cell divide the volts, wherever it lies.
    layout, traces = ladder(3)
    settings = Settings(tape=replace(Settings().tape, foil_mm=100.0))
    card, found = solved(layout, traces, settings)
    _, effect = of(found, "touching")
    state = cell_state(settings.cell, 0.0)
    source = state.ohm + card.circuit.wiring.flap_ohm
    for ohm, got in zip((0.05, 1.0, 5.0), effect.current_ma):
        expected = light_currents(
            state.emf_v * ohm / (ohm + source),
            source * ohm / (ohm + source),
            card.circuit.rail_ohm,
            card.circuit.saturation_a,
            card.circuit.slope_v,
        )[0]
        # The touch's own branch needs some 2 mV of its own; down here a light's current is e-fold per 66 mV.
        assert got / 1e3 == pytest.approx(expected, rel=0.06)


def test_a_cell_the_wrong_way_round_lights_nothing_and_a_spent_one_little():
    layout, traces = ladder(4)
    _, found = solved(layout, traces)
    assert of(found, "cell-turned")[1].current_ma.max() == 0.0
    assert of(found, "cell-spent")[1].share.max() < 0.5


def test_a_bad_flap_dims_all_lights_alike():
    layout, traces = ladder(4)
    _, found = solved(layout, traces)
    share = of(found, "flap")[1].share
    assert len(share) == len(BAD_OHMS)
    assert share[-1].max() < 1e-3
    assert np.ptp(share, axis=1).max() < 0.02


def test_two_faults_at_once_are_both_there():
    layout, traces = ladder(4)
    card, found = solved(layout, traces)
    pair = (of(found, "pads", light="L1")[0], of(found, "pads", light="L4")[0])
    (effect,) = pair_effects(card, [pair])
    assert (effect.share[-1][[0, 3]] < 1e-3).all()
    assert (effect.share[-1][[1, 2]] > 1).all()
