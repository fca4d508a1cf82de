"""Where a branch meets the lane, by hand."""

import pytest
import shapely

from circuit.joint import joint_of, lanes_of_lights, lines_of
from circuit.layout import Branch, Traces
from tests.circuit.branches.cards import RIGHT, straight_lane


def corners(outline):
    return [(round(x, 2), round(y, 2)) for x, y in outline]


def test_a_joint_by_hand():
    _, traces = straight_lane(RIGHT)
    joint = joint_of(traces, RIGHT)
    assert (joint.crossing, joint.crossed) == ("positive", "negative")
    assert joint.heading == pytest.approx((1.0, 0.0))
    # Tape 2.5 mm wide on tape 2.5 mm wide, from the far edge on.
    assert shapely.Polygon(joint.positive_mm).bounds == pytest.approx((50.24, 56.25, 52.74, 58.75))
    assert shapely.Polygon(joint.negative_mm).bounds == pytest.approx((55.24, 61.25, 57.74, 63.75))
    # Clear tape 2 mm beyond the negative tape on both its sides (55.24 to 57.74) and beyond the crossing one (56.25 to
    # 58.75), half a millimetre off both joints.
    assert shapely.Polygon(joint.cover_mm).bounds == pytest.approx((53.24, 54.25, 59.74, 60.75))
    assert joint.cover_size_mm == pytest.approx((6.5, 6.5))
    assert (joint.run_of("positive"), joint.run_of("negative")) == (0, 0)


def test_the_tape_that_comes_from_the_far_trace_crosses():
    _, traces = straight_lane()
    # To the left the positive trace is the near one.
    left = Branch(((52.76, 57.5), (20.0, 57.5)), ((57.76, 62.5), (20.0, 62.5)))
    joint = joint_of(traces, left)
    assert joint.crossing == "negative"
    assert shapely.Polygon(joint.cover_mm).bounds == pytest.approx((48.26, 59.25, 54.76, 65.75))


def test_a_narrow_gap_keeps_the_clear_tape_off_the_joints():
    narrow = Traces(((52.0, 114.5), (52.0, 30.0)), ((56.0, 114.5), (56.0, 30.0)), 2.5, 1.5)
    joint = joint_of(narrow, Branch(((50.75, 58.0), (85.0, 58.0)), ((54.75, 62.0), (85.0, 62.0))))
    bare = shapely.union_all([shapely.Polygon(joint.positive_mm), shapely.Polygon(joint.negative_mm)])
    # The crossing runs over the negative tape's own stretch: its contacts alone have to stay bare.
    assert shapely.Polygon(joint.cover_mm).distance(shapely.Polygon(joint.negative_mm)) == pytest.approx(0.5)
    assert shapely.Polygon(joint.cover_mm).distance(bare) == pytest.approx(0.5)


def test_lights_sit_on_the_lane_whose_tapes_are_nearest():
    layout, traces = straight_lane(RIGHT)
    assert lanes_of_lights(traces, [light.centre for light in layout.lights]) == (0, 0, 1)
    assert lines_of(traces) == (traces.positive, traces.negative, RIGHT.positive, RIGHT.negative)


def test_a_branch_of_one_point_is_refused():
    with pytest.raises(ValueError, match="branch needs 2 points"):
        Branch(((1.0, 1.0),), ((2.0, 2.0), (3.0, 3.0)))
