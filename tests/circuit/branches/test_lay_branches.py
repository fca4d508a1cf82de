"""Lanes with branches, measured by geometry of our own: nothing of the router's or the checker's is used."""

import math
from functools import partial
from itertools import combinations, pairwise

import pytest
import shapely

from circuit.branches import lay_branches
from circuit.branches.groups import MOST_ON_BRANCH, groups_to_try
from circuit.check import check
from circuit.joint import joints_of
from circuit.layout import LightMark
from circuit.orientation import positive_sides_deg
from circuit.route import lay_traces
from circuit.route.routed import Routed
from tests.circuit.branches.cards import PLACES, SETTINGS, card_of, laid

TAPE, GAP, BODY = 2.5, 2.5, 5.0
CLOSE = 1e-6


def tape(line):
    return shapely.LineString(line).buffer(TAPE / 2, cap_style="flat", join_style="mitre", mitre_limit=3.0)


def copper(traces, polarity):
    """The lane's tape and the branches' tapes of one polarity."""
    return [tape(getattr(lane, polarity)) for lane in (traces, *traces.branches)]


@pytest.mark.parametrize("name", PLACES)
def test_no_single_lane_exists_and_a_branch_does(name):
    layout, found = laid(name)
    assert lay_traces(layout, SETTINGS).traces is None
    branched, _ = found
    assert len(branched.traces.branches) == (2 if name == "three corners" else 1)
    problems = check(layout, branched.traces, SETTINGS)
    assert {(one.name, one.level) for one in problems} == {("joint", "look-again")}
    assert len(problems) == len(branched.traces.branches)
    on_branches = {label for group in branched.groups for label in group}
    assert {label for one in problems for label in one.about} == on_branches


@pytest.mark.parametrize("name", PLACES)
def test_positive_and_negative_meet_nowhere_but_over_clear_tape(name):
    layout, (branched, _) = laid(name)
    traces = branched.traces
    cell = shapely.Point(layout.battery.centre).buffer(10.0)
    covers = [shapely.Polygon(joint.cover_mm) for joint in joints_of(traces)]
    for i, positive in enumerate(copper(traces, "positive")):
        for j, negative in enumerate(copper(traces, "negative")):
            one, other = positive.difference(cell), negative.difference(cell)
            if i and not j:  # a branch's tape that may cross the lane's
                other = other.difference(covers[i - 1])
            if j and not i:
                one = one.difference(covers[j - 1])
            assert one.distance(other) >= 1.5 - CLOSE, (i, j)
    # Each branch crosses once, and clear tape lies 2 mm beyond the crossing on all sides that it parts.
    for number, cover in enumerate(covers, 1):
        branch = traces.branches[number - 1]
        crossings = [
            tape(branch.positive).intersection(tape(traces.negative)),
            tape(branch.negative).intersection(tape(traces.positive)),
        ]
        (crossing,) = [one for one in crossings if one.area > CLOSE]
        assert crossing.area == pytest.approx(TAPE**2, rel=1e-3)
        # 0.01 mm: the tape begins that much before the far edge, so that rounding never leaves it short.
        assert cover.exterior.distance(crossing) >= 2.0 - 0.02


@pytest.mark.parametrize("name", PLACES)
def test_a_whole_tape_width_lies_on_copper_and_the_clear_tape_off_it(name):
    _, (branched, _) = laid(name)
    traces = branched.traces
    for branch, joint in zip(traces.branches, joints_of(traces), strict=True):
        for polarity in ("positive", "negative"):
            shared = tape(getattr(branch, polarity)).intersection(tape(getattr(traces, polarity)))
            assert shared.area == pytest.approx(TAPE**2)
            assert shared.symmetric_difference(shapely.Polygon(joint.contact_mm(polarity))).area < 0.1
            assert shared.distance(shapely.Polygon(joint.cover_mm)) >= 0.5 - 0.02


@pytest.mark.parametrize("name", PLACES)
def test_every_light_bridges_the_right_way_round(name):
    layout, (branched, _) = laid(name)
    traces = branched.traces
    sides = positive_sides_deg(layout, traces, SETTINGS)
    plus = shapely.union_all(copper(traces, "positive"))
    minus = shapely.union_all(copper(traces, "negative"))
    for light in layout.lights:
        x, y = light.centre
        deg = math.radians(sides[light.label])
        out, along = (math.cos(deg), math.sin(deg)), (-math.sin(deg), math.cos(deg))
        for step in (-BODY / 2 + 0.01, 0.0, BODY / 2 - 0.01):
            for far in (GAP / 2 + 0.5, BODY / 2 - 0.01):  # half a millimetre off the midline is allowed
                place = (x + step * along[0] + far * out[0], y + step * along[1] + far * out[1])
                other = (x + step * along[0] - far * out[0], y + step * along[1] - far * out[1])
                assert plus.covers(shapely.Point(place)) and minus.covers(shapely.Point(other)), light.label
        assert not plus.union(minus).covers(shapely.Point(x, y))


@pytest.mark.parametrize("name", PLACES)
def test_branches_keep_off_edges_switch_lights_and_one_another(name):
    layout, (branched, _) = laid(name)
    traces = branched.traces
    zone = shapely.Point(layout.battery.centre).buffer(16.0)
    inside = shapely.box(3.0, 3.0, layout.card.width_mm - 3.0, layout.card.height_mm - 3.0).buffer(CLOSE)
    for branch in traces.branches:
        for line in (branch.positive, branch.negative):
            assert inside.contains(tape(line))
            assert not zone.intersects(tape(line))
            folds = line[1:-1]
            assert all(math.dist(a, b) >= 4.0 for a, b in pairwise(folds))
    made = [
        shapely.union_all(
            [shapely.Polygon(part) for part in (one.positive_mm, one.negative_mm, one.cover_mm)]
        )
        for one in joints_of(traces)
    ]
    lights = [shapely.Point(light.centre) for light in layout.lights]
    # A body reaches 2.5 mm from its middle at least, whichever way it lies, and the joint keeps 1.5 mm off it.
    assert all(one.distance(light) >= 4.0 - CLOSE for one in made for light in lights)
    assert all(one.distance(other) > 0 for one, other in combinations(made, 2))


def test_the_same_card_gives_the_same_branches():
    layout = card_of(PLACES["two corners"])
    quick = lambda some, settings: lay_traces(some, settings, quick=True)  # noqa: E731
    again = lay_branches(layout, SETTINGS, route=lay_traces, quick_route=quick)
    assert again[0].traces == laid("two corners")[1][0].traces


def test_the_search_is_counted_and_asks_for_no_more_lanes_than_it_may():
    layout = card_of(PLACES["two corners of a picture"])
    asked = []

    def never(some, settings):
        asked.append(some)
        return Routed(None, (), 0.0, 0.0, 0.0, 0, 0.0, False)

    assert lay_branches(layout, SETTINGS, route=never, quick_route=never) is None
    assert 4 <= len(asked) <= 16
    assert len(set(asked)) == len(asked)


def test_no_branch_is_looked_for_where_a_mark_itself_is_wrong():
    layout = card_of([*PLACES["two corners"], (70.5, 40.0)])  # 2.5 mm from its neighbour

    def forbidden(some, settings):
        raise AssertionError("a lane was asked for")

    assert lay_branches(layout, SETTINGS, route=forbidden, quick_route=forbidden) is None


def test_two_branches_are_tried_first_where_three_lights_lie_in_corners():
    layout = card_of([(9.0, 9.0), (99.0, 9.0), (9.0, 130.0), (54.0, 40.0)])
    first, single, several = groups_to_try(layout)
    assert all(len(sets) == 2 for sets in first)
    assert {label for group in first[0] for label in group} <= {"L1", "L2", "L3"}
    assert all(len(sets) == 1 for sets in (*single, *several))


def test_ends_of_the_net_and_corners_are_tried_first():
    layout = card_of([(54.0, 80.0), (54.0, 60.0), (54.0, 40.0), (9.0, 9.0), (66.0, 30.0), (78.0, 24.0)])
    single, several, two = groups_to_try(layout)
    assert single[0] == (("L4",),)
    assert all(len(group) <= MOST_ON_BRANCH for sets in several for group in sets)
    assert (("L5", "L6"),) in several
    for sets in two:
        assert len(sets) == 2 and not set(sets[0]) & set(sets[1])


def test_all_dead_ends_but_one_go_on_branches():
    layout = card_of([(9.0, 9.0), (99.0, 9.0), (9.0, 130.0), (54.0, 40.0), (54.0, 60.0)])
    ends = {"L1", "L3", "L5"}  # one of them in no corner
    for sets in groups_to_try(layout, sorted(ends)):
        assert all(len(ends.difference(*groups)) <= 1 for groups in sets)
    first = groups_to_try(layout, sorted(ends))[0][0]
    assert {label for group in first for label in group} < ends
    single, _, two = groups_to_try(layout, ["L4", "L5"])
    assert set(single) == {(("L4",),), (("L5",),)}
    assert two and all({"L4", "L5"} & {label for group in groups for label in group} for groups in two)


@pytest.mark.parametrize("name", PLACES)
def test_dead_ends_that_the_router_names_are_what_goes_on_branches(name):
    layout, found = laid(name)
    routed = lay_traces(layout, SETTINGS)
    assert len(routed.dead_ends) == (3 if name == "three corners" else 2)  # those in the corners
    quick = partial(lay_traces, quick=True)
    again = lay_branches(
        layout, SETTINGS, route=lay_traces, quick_route=quick, dead_ends=routed.dead_ends, hopeful=False
    )
    assert again is not None
    assert {label for group in again[0].groups for label in group} < set(routed.dead_ends)
    assert again[0].price <= found[0].price + 1e-9  # no worse than without knowing them


def test_no_arms_without_a_battery():
    layout = card_of([(20.0, 20.0), (60.0, 60.0)])
    alone = type(layout)(layout.card, (LightMark("L1", 20.0, 20.0), LightMark("L2", 60.0, 60.0)))
    single, several, two = groups_to_try(alone)
    assert len(single) == 2 and several == () and len(two) == 1
