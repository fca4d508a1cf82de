import json
from dataclasses import replace

import numpy as np
import pytest

from circuit.electrics import bench_of
from circuit.glow import (
    GlowSettings,
    glow_field,
    glow_lines,
    glow_note,
    glow_of,
    glow_settings,
)
from circuit.glow.field import evenness, inside_region
from circuit.glow.profile import bounced_lux, disc_lux, profile
from circuit.glow.window import TRANSLUCENT
from circuit.json_fields import plain
from circuit.layout import Layout, LightMark
from circuit.parts import default_parts, light_part
from circuit.settings import Settings
from tests.circuit.cards import BATTERY, CARD, WINDOW, ladder, scattered
from tests.circuit.glow_by_chance import lux_by_chance

BARE = GlowSettings(spread_mm=0.0, bounce=0.0)
FOAMS = tuple(default_parts().foams.values())
R = np.array([0.0, 0.7, 2.0, 5.0, 14.0, 60.0])


def lit(layout, lights=None):
    return bench_of(layout, None, Settings(), lights).solve()


def told(layout, foam_mm, foams=(), settings=None):
    """What is said of the glow."""
    settings = settings or Settings()
    glow = glow_of(layout, lit(layout), settings, foam_mm, foams)
    return glow_lines(glow, settings, has_window=layout.window is not None)


def test_a_disc_is_the_sum_of_its_points():
    radius, height = 2.3, 2.4
    # Rings and turns over the disc: an independent integral of the law of a point.
    rings = (np.arange(400) + 0.5) / 400 * radius
    turns = (np.arange(360) + 0.5) / 360 * 2 * np.pi
    x, y = np.outer(rings, np.cos(turns)), np.outer(rings, np.sin(turns))
    weight = np.repeat(rings[:, None], 360, axis=1)
    weight = weight / weight.sum()
    # E = I0 h^2 / (h^2 + r^2)^2 of each point; millimetres to metres.
    summed = [1e6 * np.sum(weight * 0.25 * height**2 / (height**2 + (r - x) ** 2 + y**2) ** 2) for r in R]
    assert disc_lux(0.25, radius, height, R) == pytest.approx(summed, rel=1e-4)


def test_all_of_a_lamp_s_light_lands_somewhere():
    r = np.linspace(0, 4000, 4_000_001)
    lux = profile(2.0, 2.4, 4.0, spread_mm=0.0, bounce=0.0).lux(1.0, r)
    lumen = np.trapezoid(lux * 2 * np.pi * r, r) * 1e-6
    # pi times the candela ahead; 1 % for what lands beyond 700 mm and for the interpolation.
    assert lumen == pytest.approx(np.pi, rel=0.01)


def test_bounced_light_comes_on_top():
    r = np.linspace(0, 4000, 4_000_001)
    lux = profile(2.0, 2.4, 4.0, spread_mm=0.0, bounce=0.4).lux(1.0, r)
    lumen = np.trapezoid(lux * 2 * np.pi * r, r) * 1e-6
    # 1 % as above.
    assert lumen == pytest.approx(np.pi / (1 - 0.4), rel=0.01)


@pytest.mark.parametrize("foam_mm", [3.0, 4.8, 6.4])
@pytest.mark.parametrize("count", [1, 6, 12])
def test_evenness_and_average_against_light_by_chance(count, foam_mm):
    window = (
        (70.0, 50.0) if count > 1 else (36.0, 28.0)
    )  # one light alone leaves a large window next to black
    columns, rows = {1: (1, 1), 6: (3, 2), 12: (4, 3)}[count]
    lamps = [
        (window[0] * (i + 0.5) / columns, window[1] * (j + 0.5) / rows, 0.5)
        for i in range(columns)
        for j in range(rows)
    ]
    xs, ys = (np.linspace(0.5, side - 0.5, n) for side, n in zip(window, (9, 7)))
    places = np.stack([axis.ravel() for axis in np.meshgrid(xs, ys)], axis=1)
    light, glow = light_part("5050"), glow_settings("one")
    radius, height = light.emitting_mm / np.sqrt(np.pi), foam_mm - light.height_mm
    one = profile(radius, height, foam_mm, glow.spread_mm, glow.bounce)
    ours = sum(one.lux(c, np.hypot(places[:, 0] - x, places[:, 1] - y)) for x, y, c in lamps)
    chance = lux_by_chance(
        places,
        lamps,
        height_mm=height,
        gap_mm=foam_mm,
        radius_mm=radius,
        spread_mm=glow.spread_mm,
        bounce=glow.bounce,
        photons=80_000 // count,
        rng=np.random.default_rng(count),
    )
    # So many photons tell the darkest place to 4 % or so.
    assert evenness(ours) == pytest.approx(evenness(chance), rel=0.08)
    assert ours.mean() == pytest.approx(chance.mean(), rel=0.02)


def test_what_is_kept_of_the_transform_is_enough(monkeypatch):
    away = np.array([0.0, 3.0, 9.0, 25.0, 70.0, 200.0, 600.0])
    for radius, height, gap, bounce in ((2.3, 2.4, 4.0, 0.4), (0.7, 0.2, 0.8, 0.6), (2.3, 6.4, 8.0, 0.5)):
        got = bounced_lux(radius, height, gap, 0.8, bounce, away)
        with monkeypatch.context() as finer:
            finer.setattr("circuit.glow.profile._WAVES", 900)
            # A thousandth of the light is a tenth of what evenness is told to.
            assert got == pytest.approx(bounced_lux(radius, height, gap, 0.8, bounce, away), rel=1e-3)


def test_the_sheet_s_spread_is_a_round_gaussian():
    spread, height = 1.2, 2.4
    offsets = np.linspace(-6, 6, 241) * spread
    weight = np.exp(-(offsets**2) / (2 * spread**2))
    weight = np.outer(weight, weight) / weight.sum() ** 2
    blurred = profile(1.5, height, 4.0, spread_mm=spread).lux(1.0, R)
    peak = disc_lux(1.0, 1.5, height, 0.0)
    for r, got in zip(R, blurred):
        away = np.hypot(r + offsets[:, None], offsets[None, :])
        expected = np.sum(weight * disc_lux(1.0, 1.5, height, away))
        # The few nodes that stand for the Gaussian are good to 1e-3 of the peak; the grid here adds as much again.
        assert got == pytest.approx(expected, rel=3e-3, abs=1e-4 * peak)


def test_the_spot_grows_with_the_height():
    widths = [profile(2.0, height, height + 1.6).spot_mm for height in (1.0, 2.4, 6.0, 20.0)]
    assert widths == sorted(widths)
    # Far off it is the point's: E falls to half at r = h sqrt(sqrt 2 - 1).
    assert profile(0.01, 20.0, 22.0).spot_mm == pytest.approx(2 * 20 * np.sqrt(np.sqrt(2) - 1), rel=1e-3)


@pytest.mark.parametrize(("radius", "height"), [(0.0, 1.0), (1.0, 0.0), (-1.0, 1.0)])
def test_a_lamp_without_size_or_distance_is_refused(radius, height):
    with pytest.raises(ValueError, match="above 0"):
        disc_lux(1.0, radius, height, R)


def test_the_field_is_the_sum_of_its_lights():
    layout = scattered([(30.0, 30.0), (70.0, 50.0)], WINDOW)
    solved = lit(layout)
    field = glow_field(layout, solved, 4.0, BARE)
    x, y = np.meshgrid(field.x_mm, field.y_mm)
    radius = 4.0 / np.sqrt(np.pi)
    expected = sum(
        disc_lux(light.candela, radius, 4.0 - 1.6, np.hypot(x - mark.x_mm, y - mark.y_mm))
        for light, mark in zip(solved.lights, layout.lights)
    )
    # The profile is kept at 240 distances and interpolated.
    assert field.lux == pytest.approx(expected, rel=3e-3)
    assert field.evenness == pytest.approx(evenness(expected[field.inside]), rel=3e-3)


def test_the_hottest_spot_is_a_light_and_the_darkest_a_far_corner():
    layout = scattered([(30.0, 30.0)], WINDOW)
    field = glow_field(layout, lit(layout), 4.0)
    # A pitch of the grid: 80 mm over 80 points.
    assert field.hottest == pytest.approx((30.0, 30.0), abs=1.0)
    assert field.darkest == pytest.approx((94.0, 74.0), abs=1.0)
    assert field.has_window


def test_colours_keep_apart():
    layout = scattered([(30.0, 30.0), (70.0, 50.0), (50.0, 30.0)], WINDOW)
    solved = lit(layout, {"L2": light_part("5050", "blue")})
    field = glow_field(layout, solved, 4.0)
    assert [colour for colour, _ in field.layers] == [
        light_part("5050").chromaticity,
        light_part("5050", "blue").chromaticity,
    ]


def test_without_a_window_the_surroundings_of_the_lights_count():
    layout = scattered([(30.0, 30.0), (40.0, 30.0)])
    field = glow_field(layout, lit(layout), 4.0, step_mm=0.5)
    assert not field.has_window
    assert field.inside.shape == (279, 216)
    # Two half discs of 5 mm and the 10 x 10 mm between them.
    assert field.inside.sum() * 0.25 == pytest.approx(np.pi * 25 + 100, rel=0.02)


def test_no_lights_no_glow():
    layout, _ = ladder(0)
    assert glow_field(layout, lit(layout), 4.0) is None
    assert glow_of(layout, lit(layout), Settings(), 4.0) is None


@pytest.mark.parametrize("foam", [-1.0, float("nan"), float("inf")])
def test_a_foam_without_height_is_refused(foam):
    layout = scattered([(30.0, 30.0)], WINDOW)
    with pytest.raises(ValueError, match="foam_mm"):
        glow_field(layout, lit(layout), foam)


@pytest.mark.parametrize("wrong", [{"spread_mm": -1.0}, {"bounce": 1.0}, {"bounce": -0.1}])
def test_nonsense_settings_are_refused(wrong):
    with pytest.raises(ValueError, match=next(iter(wrong))):
        GlowSettings(**wrong)


def test_lights_as_high_as_the_foam_still_give_numbers():
    layout = scattered([(30.0, 30.0)], WINDOW)
    assert np.isfinite(glow_field(layout, lit(layout), 0.8).lux).all()


def test_what_lies_inside_a_triangle_has_three_shares_of_its_corners_above_nothing():
    # Barycentric coordinates: all three are above 0 inside, and nowhere else.
    corners = np.array([(20.0, 20.0), (60.0, 25.0), (40.0, 60.0)])
    x, y = np.random.default_rng(1).uniform(10, 70, (2, 500))
    edges = np.array([*corners.T, np.ones(3)])
    shares = np.linalg.solve(edges, np.array([x, y, np.ones(500)]))
    inside = (shares > 0).all(axis=0)
    assert 50 < inside.sum() < 250
    assert inside_region(tuple(map(tuple, corners)), 0.0, x, y).tolist() == inside.tolist()


def test_the_margin_is_a_round_one():
    x, y = np.random.default_rng(2).uniform(0, 40, (2, 500))
    for line in [((20.0, 20.0),), ((10.0, 20.0), (30.0, 20.0))]:
        across = np.maximum(np.abs(x - 20.0) - (0.0 if len(line) == 1 else 10.0), 0.0)
        off = np.hypot(across, y - 20.0)
        clear = np.abs(off - 5.0) > 0.01  # the rim's own pieces are 2 um off a round
        assert inside_region(line, 5.0, x, y)[clear].tolist() == (off <= 5.0)[clear].tolist()


def test_a_window_off_the_card_glows_not():
    layout = scattered([(30.0, 30.0)], ((-40.0, -40.0), (-10.0, -40.0), (-10.0, -10.0)))
    assert glow_field(layout, lit(layout), 4.0) is None


def test_a_slit_of_a_window_still_gives_numbers():
    layout = scattered([(30.0, 30.0)], ((20.0, 30.0), (40.0, 30.0), (40.0, 30.12)))
    field = glow_field(layout, lit(layout), 4.0)
    assert field is None or 0 < field.evenness <= 1
    glow_of(layout, lit(layout), Settings(), 4.0, FOAMS)


def after(layout, foam_mm, paper="one"):
    """Evenness afresh, on the fine grid, of a layout with its lights all alike."""
    return glow_field(layout, lit(layout), foam_mm, glow_settings(paper)).evenness


SPREAD_OUT = [(24.0 + 20 * i, 24.0 + 20 * j) for i in range(4) for j in range(3)]


@pytest.mark.parametrize(
    "places",
    [
        [place for place in SPREAD_OUT if place != (44.0, 44.0)],
        [place for place in SPREAD_OUT if place[0] > 30.0],
        [(30.0, 30.0), (54.0, 30.0), (78.0, 30.0), (30.0, 58.0), (78.0, 58.0)],
    ],
)
@pytest.mark.parametrize("foam_mm", [4.0, 6.4])
def test_what_is_suggested_helps_when_it_is_done(places, foam_mm):
    layout = scattered(places, WINDOW)
    suggestions = glow_of(layout, lit(layout), Settings(), foam_mm, FOAMS).suggestions
    assert suggestions
    assert len({suggestion.kind for suggestion in suggestions}) == len(suggestions)
    assert [one.evenness for one in suggestions] == sorted(
        (one.evenness for one in suggestions), reverse=True
    )
    for suggestion in suggestions:
        marks = list(layout.lights)
        if suggestion.kind == "move-light":
            x, y = suggestion.to_mm
            marks = [replace(m, x_mm=x, y_mm=y) if m.label == suggestion.about else m for m in marks]
        elif suggestion.kind == "add-light":
            marks.append(LightMark("new", *suggestion.to_mm))
        done = replace(layout, lights=tuple(marks))
        # Afresh: the light that is added takes its share of the current from all alike.
        paper = "one"
        if suggestion.kind == "more-paper":
            paper = "two" if "second sheet" in suggestion.sentence else "plain"
        assert after(done, suggestion.foam_mm, paper) == pytest.approx(suggestion.evenness, rel=0.01)
        assert suggestion.evenness > 1.1 * after(layout, foam_mm)
        assert suggestion.foam_mm <= 8.0


def test_a_suggested_place_keeps_the_marks_rules():
    window = (
        (14.0, 80.0),
        (50.0, 80.0),
        (50.0, 110.0),
        (14.0, 110.0),
    )  # its corner reaches the battery's zone
    layout = scattered([(24.0, 90.0), (32.0, 90.0), (24.0, 100.0)], window)
    suggestions = glow_of(layout, lit(layout), Settings(), 4.0).suggestions  # no foams to choose from
    assert {"move-light", "add-light"} & {suggestion.kind for suggestion in suggestions}
    for suggestion in suggestions:
        if suggestion.kind == "more-paper":
            continue
        x, y = suggestion.to_mm
        assert 14.0 < x < 50.0
        assert 80.0 < y < 110.0
        others = [mark for mark in layout.lights if mark.label != suggestion.about]
        assert all(np.hypot(x - mark.x_mm, y - mark.y_mm) >= 7.0 for mark in others)
        # The cell's radius, the room round the cell, 6 mm, and half a light.
        assert np.hypot(x - BATTERY.x_mm, y - BATTERY.y_mm) >= 18.5


def test_an_even_window_gets_no_suggestion():
    layout = Layout(
        CARD,
        (LightMark("L1", 54.0, 44.0),),
        BATTERY,
        ((52.0, 42.0), (56.0, 42.0), (56.0, 46.0), (52.0, 46.0)),
    )
    assert glow_of(layout, lit(layout), Settings(), 7.0, FOAMS).suggestions == ()


def test_the_plan_file_s_value_is_plain_json():
    layout = scattered([(30.0, 30.0), (70.0, 50.0)], WINDOW)
    field = glow_field(layout, lit(layout), 4.0)
    whole = plain(glow_of(layout, lit(layout), Settings(), 4.0, FOAMS))
    assert json.loads(json.dumps(whole)) == whole
    assert whole["evenness"] == round(field.evenness, 4)
    assert whole["foam_mm"] == 4.0
    assert whole["suggestions"][0]["evenness"] > whole["evenness"]
    assert glow_of(layout, lit(layout), Settings(), 0.0) is None


def test_no_foam_no_glow():
    layout = scattered([(30.0, 30.0)], WINDOW)
    assert glow_field(layout, lit(layout), 0.0) is None
    assert glow_of(layout, lit(layout), Settings(), 0.0) is None


def test_more_paper_is_one_of_the_choices_and_no_more_is_told_once_it_is_there():
    layout = scattered(SPREAD_OUT, WINDOW)
    (paper,) = [
        one for one in glow_of(layout, lit(layout), Settings(), 4.0).suggestions if one.kind == "more-paper"
    ]
    assert "lets through" in paper.sentence
    two = Settings(window_paper="two")
    assert "more-paper" not in {one.kind for one in glow_of(layout, lit(layout), two, 4.0).suggestions}
    assert "two sheets" in told(layout, 4.0, settings=two)[0]


def test_papers_on_each_other_throw_back_more_and_pass_less():
    one, two, plain_too = (glow_settings(paper) for paper in ("one", "two", "plain"))
    assert one.bounce < two.bounce < plain_too.bounce < 1
    assert one.passes > two.passes > plain_too.passes
    assert one.spread_mm < two.spread_mm < plain_too.spread_mm
    # By hand, light counted back and forth between two sheets: what is let through falls off as a geometric series.
    passed, inside = 0.0, TRANSLUCENT.passes
    for _ in range(60):
        passed += inside * TRANSLUCENT.passes
        inside *= TRANSLUCENT.reflects**2
    assert two.passes == pytest.approx(passed)


def test_what_is_said_of_the_glow():
    layout = scattered([(30.0, 30.0), (54.0, 30.0), (78.0, 30.0), (30.0, 58.0), (78.0, 58.0)], WINDOW)
    lines = told(layout, 4.0, FOAMS)
    glow = glow_of(layout, lit(layout), Settings(), 4.0, FOAMS)
    assert lines[0] == glow_note(glow, Settings(), has_window=True)
    assert "spot of its own" in lines[0]
    assert lines[1] == glow_of(layout, lit(layout), Settings(), 4.0, FOAMS).suggestions[0].sentence
    assert len(lines) <= 3
    inches = glow_note(glow, Settings(units="in"), has_window=True)
    assert "4.0 mm (5/32 in)" in inches


def test_an_even_window_is_called_even():
    window = ((52.0, 42.0), (56.0, 42.0), (56.0, 46.0), (52.0, 46.0))
    layout = Layout(CARD, (LightMark("L1", 54.0, 44.0),), BATTERY, window)
    lines = told(layout, 7.0, FOAMS)
    assert len(lines) == 1
    assert "will look even" in lines[0]


def test_an_uneven_window_is_not_called_even_because_nothing_helps():
    # No foams, and a window too small for another light or a move.
    window = ((44.0, 43.9), (64.0, 43.9), (64.0, 44.1), (44.0, 44.1))
    layout = Layout(CARD, (LightMark("L1", 54.0, 44.0),), BATTERY, window)
    lines = told(layout, 2.4)
    assert "even" not in lines[0].replace("seven", "")


def test_without_a_window_nothing_is_suggested_but_to_draw_it():
    layout = scattered([(24.0, 24.0), (32.0, 24.0), (84.0, 64.0)])
    lines = told(layout, 4.0, FOAMS)
    assert len(lines) == 1
    assert "Trace the window's outline" in lines[0]
