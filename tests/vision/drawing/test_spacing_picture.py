"""The picture of nearest distances: figures are readable, in place, and what is too near comes first."""

import numpy as np
import pytest

from circuit.layout import BatteryMark, Card, Layout, LightMark, Traces
from circuit.settings import Settings
from circuit.spacing import nearest_distances
from vision.drawing.panel import panel_for
from vision.drawing.spacing_picture import NEAR_MM, Measure, draw_spacing, place_figures, shown_measures

CARD = Card(107.95, 139.7)
CLOSE = (LightMark("L1", 40.0, 60.0), LightMark("L2", 45.6, 60.0), LightMark("L3", 45.0, 75.0))
LAYOUT = Layout(
    CARD, CLOSE, BatteryMark(80.0, 110.0, 20.6), ((30.0, 45.0), (70.0, 45.0), (70.0, 85.0), (30.0, 85.0))
)
TRACES = Traces(((80.0, 110.0), (20.0, 110.0)), ((80.0, 105.0), (20.0, 105.0)))


def measures_of(layout, traces=None, settings=None):
    found = nearest_distances(layout, traces, settings or Settings())
    return [Measure(one.from_mm, one.to_mm, abs(one.measured_mm), one.kept) for one in found]


def test_what_is_too_near_comes_first_and_each_pair_once():
    shown = shown_measures(measures_of(LAYOUT))
    assert not shown[0].kept
    assert shown[0].length_mm == pytest.approx(5.6)
    assert sum(one.length_mm == pytest.approx(5.6) for one in shown) == 1
    assert all(one.length_mm <= NEAR_MM for one in shown if one.kept)


@pytest.mark.parametrize("units", ["mm", "in"])
def test_figures_lie_apart_off_the_dots_and_inside_the_picture(units):
    crowd = tuple(LightMark(f"L{i}", 20.0 + 9.0 * (i % 5), 20.0 + 9.0 * (i // 5)) for i in range(20))
    layout = Layout(CARD, crowd, LAYOUT.battery)
    panel = panel_for(CARD)
    placed = place_figures(shown_measures(measures_of(layout)), layout, panel, Settings(units=units))
    assert len(placed) >= 15
    boxes = [box for _, box, _ in placed]
    for i, box in enumerate(boxes):
        assert panel.area.holds(box)
        # A gap of half a millimetre: the nearest fractions are told apart. It is 0.6, less half a pixel's rounding.
        assert not any(box.inset(-0.25).meets(other.inset(-0.25)) for other in boxes[i + 1 :])
        for light in crowd:
            x, y = panel.placing.at(light.centre)
            assert not (box.left <= x < box.right and box.top <= y < box.bottom)


def test_the_line_runs_between_the_two_things():
    measures = shown_measures(measures_of(LAYOUT))[:1]
    plain = np.asarray(draw_spacing(None, LAYOUT, None, [], Settings())).astype(int)
    lined = np.asarray(draw_spacing(None, LAYOUT, None, measures, Settings())).astype(int)
    # The heading grows by a line when something is too near, so the cards are compared from below.
    height = min(len(plain), len(lined))
    rows, columns = np.nonzero(np.abs(plain[-height:] - lined[-height:]).sum(axis=2) > 60)
    panel = panel_for(CARD)
    inside = rows > height - panel.height_px
    assert inside.any()
    x1, x2 = panel.at((40.0, 60.0))[0], panel.at((45.6, 60.0))[0]
    assert columns[inside].min() > x1 - 60 and columns[inside].max() < x2 + 60


def test_it_is_drawn_for_any_card():
    for layout, traces in (
        (Layout(CARD, ()), None),
        (LAYOUT, TRACES),
        (Layout(Card(300, 60), CLOSE[:1]), None),
    ):
        picture = draw_spacing(None, layout, traces, measures_of(layout, traces), Settings())
        assert picture.mode == "RGB"
        assert picture.width >= 1440
