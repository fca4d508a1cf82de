"""The router's own geometry against shapely, on random shapes."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from circuit.layout import BatteryMark, Card, Layout, LightMark
from circuit.route.lane import Lane, as_complex, clashes, offset_line
from circuit.route.plane import narrowest_strip, point_to_segment, segment_to_segment, unit
from circuit.route.site import Site
from circuit.route.sizes import sizes_for
from circuit.route.switch_shape import switch_shape
from circuit.settings import Settings

NUMBER = st.floats(-100, 100).map(lambda value: round(value, 3))
POINT = st.builds(complex, NUMBER, NUMBER)


def as_line(*points):
    return shapely.LineString([(z.real, z.imag) for z in points])


@given(POINT, POINT, POINT, POINT)
@settings(deadline=None)
def test_distances_agree_with_shapely(a, b, c, d):
    # Source: shapely (GEOS). Coincident points make a line of no length, which GEOS measures as a point.
    got = segment_to_segment(*(np.array([z]) for z in (a, b, c, d)))[0]
    assert got == pytest.approx(as_line(a, b).distance(as_line(c, d)), abs=1e-6)
    near = point_to_segment(np.array([a]), np.array([c]), np.array([d]))[0]
    assert near == pytest.approx(shapely.Point(a.real, a.imag).distance(as_line(c, d)), abs=1e-6)


@given(st.lists(POINT, min_size=2, max_size=7, unique=True))
@settings(deadline=None)
def test_no_direction_gives_a_narrower_strip(points):
    points = np.array(points)
    foot, ahead = narrowest_strip(points)
    off = np.abs(((points - foot) * np.conj(ahead)).imag).max()
    for turn in np.radians(np.arange(0, 180, 3)):
        beside = (points * np.exp(-1j * turn)).imag
        assert off <= (beside.max() - beside.min()) / 2 + 1e-6


@pytest.mark.parametrize("seed", range(40))
def test_clashes_are_where_shapely_sees_tapes_too_close(seed):
    # Source: shapely's polygon distances between the runs of each trace. Runs that share a fold are not
    # compared; nor is the first run, whose blunt start lies in the battery circle, out of reach of the rest.
    rng = np.random.default_rng(seed)
    headings = np.cumsum(rng.uniform(-1.9, 1.9, 6))
    points = np.concatenate(
        [[60 + 60j], 60 + 60j + np.cumsum(rng.uniform(22, 45, 6) * np.exp(1j * headings))]
    )
    layout = Layout(Card(400, 400), (LightMark("L1", 300, 300),), BatteryMark(350, 20, 20))
    settings_ = Settings()
    sizes = sizes_for(layout, settings_, 2.5)
    site = Site(as_complex([(350.0, 350.0)]), 350 + 20j, sizes, switch_shape(settings_))
    lane = Lane(points, (5,), (1,))
    ahead = unit(np.diff(points))
    edges = {
        (side, k): offset_line(points, ahead, side * k)
        for side in (-1, 1)
        for k in (sizes.outer, sizes.offset - sizes.tape / 2)
    }
    near = set()
    for i in range(1, 6):
        for j in range(i + 2, 6):
            for one in (-1, 1):
                for other in (-1, 1):
                    shapes = []
                    for side, run in ((one, i), (other, j)):
                        far, inner = edges[side, sizes.outer], edges[side, sizes.offset - sizes.tape / 2]
                        ring = (far[run], far[run + 1], inner[run + 1], inner[run])
                        shapes.append(shapely.Polygon([(z.real, z.imag) for z in ring]).buffer(0))
                    limit = sizes.itself if one == other else sizes.apart
                    if shapes[0].distance(shapes[1]) < limit:
                        near.add((i, j))
    assert {(c.run, c.other) for c in clashes(lane, site) if c.light < 0 and c.run > 0} == near
