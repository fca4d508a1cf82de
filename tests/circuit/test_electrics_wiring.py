import math
from dataclasses import replace

import numpy as np
import pytest

from circuit.along_line import nearest_along
from circuit.electrics.wiring import LAP, Wiring, ohm_per_mm, rails_of, so_so, tap_ohms, wiring_of
from circuit.layout import Layout, Traces
from circuit.settings import Settings
from tests.circuit.cards import CARD, ladder, scattered

PER_MM = ohm_per_mm(2.5, 0.035, 20.0)


def test_resistance_follows_the_whole_path_and_its_width():
    bent = ((0.0, 0.0), (30.0, 0.0), (30.0, 40.0))
    assert tap_ohms(bent, [bent[-1]], PER_MM, fold_ohm=0.0) == pytest.approx([70.0 * PER_MM])
    assert ohm_per_mm(5.0, 0.035, 20.0) == pytest.approx(PER_MM / 2)
    assert tap_ohms(((1.0, 1.0), (1.0, 1.0)), [(5.0, 1.0)], PER_MM, fold_ohm=0.0) == [0.0]


@pytest.mark.parametrize(("width", "thickness"), [(0.0, 1.0), (1.0, -1.0)])
def test_nonsense_copper_is_refused(width, thickness):
    with pytest.raises(ValueError, match="width"):
        ohm_per_mm(width, thickness, 20.0)


@pytest.mark.parametrize(
    ("point", "along", "run"),
    [
        ((5.0, 3.0), 5.0, 0),  # beside the first run
        ((-4.0, 1.0), 0.0, 0),  # before the start
        ((12.0, 6.0), 16.0, 1),  # beside the second
        ((10.0, 25.0), 20.0, 1),  # past the end
    ],
)
def test_the_nearest_place_on_a_line(point, along, run):
    far, on = nearest_along(((0.0, 0.0), (10.0, 0.0), (10.0, 10.0)), [point])
    assert far == pytest.approx([along]) and on == [run]


def test_a_run_of_no_length_does_no_harm():
    assert nearest_along(((0.0, 0.0), (0.0, 0.0), (10.0, 0.0)), [(4.0, 1.0)])[0] == pytest.approx([4.0])


def test_lights_tap_the_tapes_where_they_lie():
    layout, traces = ladder(4)
    rails = rails_of(layout, traces, Settings(), Wiring())
    # The traces start at y 106; the first light lies at y 88, the others 12 mm further each.
    expected = PER_MM * (18.0 + 12.0 * np.arange(4))
    assert rails.negative_ohm == pytest.approx(expected)
    # The positive tape also goes on to the lid's free end, 15.5 - 4.5 mm, round it, 0.4 mm, 20 mm back under it, and
    # takes 1.644 mm more over the ramp's slope than it shows from above.
    assert rails.positive_ohm == pytest.approx(expected + 33.044 * PER_MM, rel=1e-4)
    assert "traces" in rails.basis


def test_each_fold_on_the_way_adds_its_joint_and_an_eased_bend_does_not():
    eased = math.radians(10)
    line = (
        (0.0, 0.0),
        (10.0, 0.0),
        (10.0, 10.0),
        (20.0, 10.0),
        (20 + 10 * math.cos(eased), 10 + 10 * math.sin(eased)),
    )
    layout = scattered([(5.0, 0.0), (10.0, 5.0), (15.0, 10.0), (28.0, 11.4)])
    without = rails_of(layout, Traces(line, line), Settings(), Wiring(fold_ohm=0.0))
    with_joints = rails_of(layout, Traces(line, line), Settings(), Wiring(fold_ohm=0.3))
    assert with_joints.negative_ohm - without.negative_ohm == pytest.approx([0.0, 0.3, 0.6, 0.6])


def test_without_traces_the_distance_to_the_battery_counts():
    layout = scattered([(54.0, 90.0), (54.0, 50.0)])
    rails = rails_of(layout, None, Settings(), Wiring())
    assert rails.negative_ohm == pytest.approx(PER_MM * np.array([20.0, 60.0]))
    assert "no traces" in rails.basis


def test_with_neither_traces_nor_battery_all_sit_at_the_battery():
    layout = Layout(CARD, scattered([(54.0, 90.0), (54.0, 50.0)]).lights)
    rails = rails_of(layout, None, Settings(), Wiring())
    assert rails.negative_ohm.tolist() == rails.positive_ohm.tolist() == [0.0, 0.0]
    assert "neither" in rails.basis


@pytest.mark.parametrize("field", ["foil_mm", "fold_ohm", "joint_ohm", "flap_ohm"])
def test_nonsense_settings_are_refused(field):
    with pytest.raises(ValueError, match=field):
        Wiring(**{field: -1.0})
    with pytest.raises(ValueError, match=field):
        Wiring(**{field: math.nan})


def test_the_tape_of_the_parts_list_counts():
    thin = replace(Settings().tape, foil_mm=0.0175)
    layout, traces = ladder(4)
    ohms = [
        rails_of(layout, traces, settings, wiring_of(settings)).negative_ohm
        for settings in (Settings(), Settings(tape=thin))
    ]
    assert ohms[1] == pytest.approx(2 * ohms[0])


def test_lapped_corners_have_a_contact_at_each_fold_and_folded_ones_none():
    line = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (20.0, 10.0))
    layout = scattered([(18.0, 10.0)])
    folded, lapped = (
        rails_of(layout, Traces(line, line), settings, wiring_of(settings)).negative_ohm[0]
        for settings in (Settings(), Settings(corners="lapped"))
    )
    assert lapped - folded == pytest.approx(2 * LAP.good_ohm)


def test_so_so_contact_is_worse_everywhere_but_at_folded_corners():
    folded, lapped = (wiring_of(Settings(corners=corners)) for corners in ("folded", "lapped"))
    assert so_so(folded).fold_ohm == folded.fold_ohm == 0.0
    assert so_so(lapped).fold_ohm > lapped.fold_ohm > 0.0
    for wiring in (folded, lapped):
        assert so_so(wiring).joint_ohm > wiring.joint_ohm
        assert so_so(wiring).flap_ohm > wiring.flap_ohm
        assert so_so(so_so(wiring)) == so_so(wiring)
