"""Cut lengths, runs and folds in the order of laying, the lights' places, supplies for copies."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point

from circuit.layout import BatteryMark, Card, Layout, LightMark, Traces
from circuit.settings import Settings
from circuit.supplies import spare_lights, supplies
from circuit.switch import switch_on
from circuit.tape_list import fold_take_up_mm, light_places, tape_list

CELL = BatteryMark(60.0, 60.0, 20.0)
# Left from the cell, then up, then left again; the positive is the outer side of the first corner.
TRACES = Traces(
    positive=((64.5, 62.5), (27.5, 62.5), (27.5, 35.0), (10.0, 35.0)),
    negative=((64.5, 57.5), (32.5, 57.5), (32.5, 30.0), (10.0, 30.0)),
)
# Beyond the trace's first point 15.5 - 4.5 mm over the lid, 0.4 mm round its edge, 15.5 + 4.5 mm under it; the ramp's
# slope takes 1.644 mm more than it shows from above.
SWITCH = switch_on(Layout(Card(120.0, 120.0), (), CELL), TRACES, Settings())
SLOPE_MM = 1.644
BEYOND_MM = 11.0 + 0.4 + 20.0 + SLOPE_MM


def tapes_of(traces=TRACES, settings=None):
    settings = settings or Settings()
    return tape_list(traces, SWITCH, settings)


def test_the_negative_runs_as_a_maker_would_measure_them():
    runs = tapes_of().negative.runs
    assert [run.length_mm for run in runs] == pytest.approx([32.0, 27.5, 22.5])
    assert [run.total_mm for run in runs] == pytest.approx([32.0, 59.5, 82.0])
    # Going left, a turn up is to the right; going up, a turn left is to the left.
    assert [run.then.turn_deg for run in runs[:-1]] == pytest.approx([90.0, -90.0])
    assert runs[-1].then is None
    assert tapes_of().negative.before_trace_mm == 0.0


def test_the_positive_starts_under_the_lid_and_counts_its_way_over_the_flap():
    path = tapes_of().positive
    # Over lid (31), ramp and tab (10 from above) in one straight line with the 7 mm on the card to its first fold.
    over = 0.4 + 31.0 + 10.0 + SLOPE_MM + (34.5 - 27.5)
    assert [run.length_mm for run in path.runs] == pytest.approx([20.0, over, 27.5, 17.5], abs=1e-3)
    assert [run.place for run in path.runs] == ["under the lid", "flap", "card", "card"]
    assert path.runs[0].then.kind == "round the free end"
    assert path.runs[0].heading_deg == pytest.approx(0.0)
    # SLOPE_MM is given to a thousandth.
    assert path.before_trace_mm == pytest.approx(BEYOND_MM, abs=1e-3)
    assert path.laid_mm == pytest.approx(BEYOND_MM + 37.0 + 27.5 + 17.5, abs=1e-3)
    assert path.folds == 2


def test_the_strip_is_the_longer_tape_with_folds_and_allowance_rounded_up():
    tapes = tapes_of()
    # 115.0 mm laid, two right-angle folds of one tape width, 10 mm to hold: 130.04, so 135.
    assert tapes.positive.needed_mm == pytest.approx(BEYOND_MM + 82.0 + 2 * 2.5, abs=1e-3)
    assert tapes.strip_mm == 135.0
    assert tapes.strip_width_mm == 5.0
    inches = tapes_of(settings=Settings(units="in")).strip_mm / 25.4
    assert inches == pytest.approx(5.25)  # 5.12 in, up to the next quarter


def test_lapped_corners_take_one_tape_width_more_each_for_the_end_that_is_folded_under():
    folded, lapped = tapes_of(), tapes_of(settings=Settings(corners="lapped"))
    for one, other in ((folded.positive, lapped.positive), (folded.negative, lapped.negative)):
        assert other.needed_mm == pytest.approx(one.needed_mm + 2 * 2.5)
        assert other.runs == one.runs  # where it lies is the same
    # 135.04 mm with the two laps, so 140 and not 135.
    assert lapped.strip_mm == 140.0


@pytest.mark.parametrize(("turn", "widths"), [(90, 1.0), (-90, 1.0), (60, 0.5774), (135, 2.4142)])
def test_what_a_fold_takes_up(turn, widths):
    # Half a last digit of the table.
    assert fold_take_up_mm(turn, 2.5) == pytest.approx(2.5 * widths, rel=1e-4)


def test_small_turns_are_eased_and_points_on_a_straight_line_make_one_run():
    bend = math.radians(10.0)
    end = (20.0 - 10 * math.cos(bend), 57.5 - 10 * math.sin(bend))
    traces = Traces(TRACES.positive, ((64.5, 57.5), (40.0, 57.5), (40.0, 57.5), (20.0, 57.5), end))
    runs = tapes_of(traces).negative.runs
    assert [run.length_mm for run in runs] == pytest.approx([44.5, 10.0])
    assert runs[0].then.kind == "ease"
    assert tapes_of(traces).negative.take_up_mm == 0.0


def test_a_trace_of_no_length_is_refused():
    with pytest.raises(ValueError, match="negative"):
        tape_list(Traces(TRACES.positive, ((5.0, 5.0), (5.0, 5.0))), None, Settings())


def test_lights_are_told_along_both_tapes():
    lights = [LightMark("L1", 40.0, 60.0), LightMark("L2", 30.0, 45.0)]
    first, second = light_places(lights, TRACES, tapes_of())
    # SLOPE_MM is given to a thousandth.
    assert (first.along_negative_mm, first.along_positive_mm) == pytest.approx(
        (24.5, BEYOND_MM + 24.5), abs=1e-3
    )
    assert (second.along_negative_mm, second.along_positive_mm) == pytest.approx(
        (32.0 + 12.5, BEYOND_MM + 37.0 + 17.5), abs=1e-3
    )


# To a millionth of a millimetre: earlier versions of the library divide by the square of a stretch.
coordinates = st.floats(-100, 100).map(lambda value: round(value, 6))
points = st.tuples(coordinates, coordinates)


@given(st.lists(points, min_size=2, max_size=8, unique=True), points)
def test_distances_and_totals_agree_with_a_general_geometry_library(line, where):
    general = LineString(line)
    if general.length < 1.0:
        return
    traces = Traces(tuple(line), tuple(line))
    tapes = tape_list(traces, None, Settings())
    assert tapes.negative.laid_mm == pytest.approx(general.length)
    place = light_places([LightMark("L1", *where)], traces, tapes)[0]
    # The nearest point may be one of two at the same distance, so its distance is compared.
    spot = general.interpolate(place.along_negative_mm)
    assert spot.distance(Point(where)) == pytest.approx(general.distance(Point(where)), abs=1e-5)


def test_supplies_for_a_class_are_those_for_one_times_the_copies():
    card = Card(107.95, 139.7)
    one = supplies(1, card, 7, tapes_of(), SWITCH, Settings())
    many = supplies(20, card, 7, tapes_of(), SWITCH, Settings())
    assert many.tape_mm == 20 * one.tape_mm == 2700.0
    assert (one.lights, spare_lights(one.lights), one.cells) == (7, 1, 1)
    assert (many.lights, spare_lights(many.lights), many.cells) == (140, 14, 20)
    # The frame: two strips of 31 mm, two of 21 mm between them.
    assert one.frame_foam_mm == pytest.approx(2 * 31.0 + 2 * 21.0)
    assert one.border_foam_mm == pytest.approx(2 * (107.95 + 139.7) - 4 * 5.0)
    with pytest.raises(ValueError, match="copies"):
        supplies(0, card, 7, None, None, Settings())


def test_without_traces_there_is_no_tape_but_all_the_rest():
    needs = supplies(2, Card(100.0, 100.0), 3, None, None, Settings())
    assert (needs.tape_mm, needs.lights, needs.cells) == (0.0, 6, 2)
