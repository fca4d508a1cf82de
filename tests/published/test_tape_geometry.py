"""The checker's distances against a general geometry library and closed forms.

Source of the library's side: shapely (GEOS), `LineString.buffer` with flat caps and mitred joins.
The checker builds its strips and corners itself and leaves only plain polygon distances to it.
"""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from circuit.check import check
from circuit.check.clearance import nearest_of_traces
from circuit.check.scene import Scene
from circuit.check.tape import tape_along
from circuit.layout import BatteryMark, Card, Layout, Traces
from circuit.settings import Settings

# The checker's tips reach as far as a 135 degree fold's: GEOS counts that as a ratio to half the width.
MITRE_LIMIT = 1 / math.cos(math.radians(135 / 2))


@st.composite
def folded_lines(draw):
    """Lines with folds up to 130 degrees and runs long enough that no corner swallows a run."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    x, y, heading = 0.0, 0.0, rng.uniform(0, 360)
    points = [(x, y)]
    for _ in range(rng.integers(1, 6)):
        step = rng.uniform(8, 30)
        x, y = x + step * math.cos(math.radians(heading)), y + step * math.sin(math.radians(heading))
        points.append((x, y))
        heading += rng.uniform(1, 130) * rng.choice((-1, 1))
    return tuple(points)


@given(folded_lines(), st.sampled_from([2.0, 2.5, 4.0, 6.0]))
@settings(max_examples=100, deadline=None)
def test_a_folded_tape_is_what_the_library_makes_of_its_centre_line(line, width):
    ours = shapely.union_all(tape_along(line, width).pieces)
    # Run by run, because a buffered line that crosses itself loses a join here and there.
    theirs = shapely.union_all(
        [
            shapely.LineString(line[k : k + 3]).buffer(
                width / 2, cap_style="flat", join_style="mitre", mitre_limit=MITRE_LIMIT
            )
            for k in range(max(1, len(line) - 2))
        ]
    )
    # Both are unions of the same straight-edged shapes: rounding alone parts them.
    assert shapely.symmetric_difference(ours, theirs).area < 1e-6 * theirs.area


@given(folded_lines(), folded_lines(), st.floats(-40, 40))
@settings(max_examples=60, deadline=None)
def test_the_gap_between_two_tapes_is_the_librarys(one, other, shift):
    shifted = tuple((x + shift, y + 25.0) for x, y in other)
    scene = Scene(Layout(Card(300, 300), ()), Traces(one, shifted), Settings())
    outlines = [
        shapely.union_all(
            [
                shapely.LineString(line[k : k + 3]).buffer(
                    1.25, cap_style="flat", join_style="mitre", mitre_limit=MITRE_LIMIT
                )
                for k in range(max(1, len(line) - 2))
            ]
        )
        for line in (one, shifted)
    ]
    gap, start, end = nearest_of_traces(scene)
    assert gap == pytest.approx(shapely.distance(*outlines), abs=1e-6)
    assert math.dist(start, end) == pytest.approx(gap, abs=1e-6)


def test_the_gap_is_the_librarys_where_a_union_would_lose_a_corner():
    one = (
        (0.0, 0.0),
        (-11.140708244664108, -0.8290286794134665),
        (-2.067288388220346, -12.597687429520011),
        (-7.31497627028381, -28.769970248149498),
        (-0.35939961043290847, -33.83833896760013),
    )
    other = (
        (0.0, 0.0),
        (12.177004724327094, 7.3559540159607115),
        (17.4369299371286, -3.5397158640107547),
        (2.238153475131675, -25.163319166696045),
        (4.7745132546455125, -33.50814793962936),
    )
    test_the_gap_between_two_tapes_is_the_librarys.hypothesis.inner_test(one, other, 0.0)


def test_two_5_mm_tapes_on_centre_lines_8_mm_apart_are_3_mm_apart():
    # Closed form: 8 - 5 = 3 mm; 100 mm of tape 5 mm wide covers 500 mm2. Recomputed with shapely 2.2.0.
    wide = Traces(((100.0, 200.0), (100.0, 100.0)), ((108.0, 200.0), (108.0, 100.0)), 5.0, 3.0)
    scene = Scene(Layout(Card(300, 300), ()), wide, Settings(tape_width_mm=5.0))
    gap, _, _ = nearest_of_traces(scene)
    assert gap == pytest.approx(3.0, abs=1e-12)
    assert shapely.area(scene.tapes["positive"].pieces).sum() == pytest.approx(500.0)


def test_the_two_lines_of_a_plain_x_touch():
    # Closed form: the diagonals of a square cross in its middle; a distance of 0 is the library's too.
    crossing = Traces(((100.0, 100.0), (140.0, 140.0)), ((140.0, 100.0), (100.0, 140.0)))
    (problem,) = [
        p for p in check(Layout(Card(300, 300), ()), crossing, Settings()) if p.name == "traces-too-close"
    ]
    assert problem.measured == 0
    assert problem.where_mm == pytest.approx((120.0, 120.0), abs=1e-6)


@given(st.floats(0, 360), st.floats(20, 60))
@settings(max_examples=50, deadline=None)
def test_the_zones_distance_to_a_passing_tape_is_the_point_line_formula(angle, distance):
    # Distance of a point from a line a x + b y = c with a2 + b2 = 1: |a x0 + b y0 - c| (any analytic geometry
    # text); the tape's edge is half its width nearer, the cell's edge one radius nearer still.
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    centre = (150.0, 150.0)

    def at(along, off):
        return (centre[0] + along * cos - off * sin, centre[1] + along * sin + off * cos)

    # From beyond the centre straight out, then back past the zone at `distance` by a wide loop.
    passing = (at(-4.5, 2.5), at(80, 2.5), at(80, distance), at(-80, distance))
    layout = Layout(Card(300, 300), (), BatteryMark(150, 150, 20.9))
    traces = Traces(passing, (at(-4.5, -2.5), at(60, -2.5)))
    problems = [p for p in check(layout, traces, Settings()) if p.name == "battery-zone"]
    expected = distance - 1.25 - 10
    if expected >= 6:
        assert problems == []
    else:
        (problem,) = problems
        assert problem.measured == pytest.approx(expected, abs=1e-6)
