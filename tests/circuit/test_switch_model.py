"""An independent model of the switch: solids in layers, pressed and not, built from what the program hands out.

Every solid is a plan outline between two heights with what it is electrically: "+" (the can, the positive tape),
"-" (the negative face, the negative tape), or nothing (card, foam, paper, clear tape). Two conductors touch where
their outlines meet with nothing between them in height. The outlines come from `switch_on` and the traces; heights,
the cell's own shape and what touches what are worked out here. Figures of the cell: the can is + on one face, up the
side and round the rim of the other; the - face is the disc inside that (its diameter is the parts list's).
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely import Point, Polygon
from shapely.ops import unary_union

from circuit.layout import BatteryMark, Card, Layout, Traces
from circuit.parts import cell_part
from circuit.settings import Settings
from circuit.switch import first_point_range, lane_at_range, on_card, switch_on

CLEAR_TAPE_MM, COPPER_TAPE_MM, DOT_PAPER_MM = 0.06, 0.1, 0.1  # from memory; common practice
SEAM_MM = 1e-6  # arithmetic, not craft
AIR_MM = 0.5  # the middle of what is allowed
HAND_MM = 0.5  # how far a hand lays a piece beside its line
CELLS = ("CR1620", "CR1632", "CR2016", "CR2025", "CR2032", "CR2450")


def made_up(seed):
    """A card with a switch somewhere in it: cell, hinge's direction, lane beside the middle, all at random."""
    rng = np.random.default_rng(seed)
    settings = Settings(cell=cell_part(str(rng.choice(CELLS))))
    card = Card(148.0, 210.0)
    battery = BatteryMark(*(float(v) for v in rng.uniform((50, 50), (98, 160))), 20.8)
    angle = float(rng.uniform(0, 2 * math.pi))
    ahead = np.array([math.cos(angle), math.sin(angle)])
    right = np.array([-ahead[1], ahead[0]])
    least, most = lane_at_range(settings)
    lane_at = float(rng.uniform(least, most))
    side = float(rng.choice([-1.0, 1.0]))
    lines = []
    for sign in (side, -side):
        across = lane_at + sign * settings.trace_offset_mm
        low, high = first_point_range(settings, across)
        past = float(rng.uniform(low, max(low, high)))
        start = np.array(battery.centre) + right * across - ahead * past
        lines.append((tuple(start), tuple(start + ahead * (past + 45.0))))
    tongue = "upright" if seed % 4 == 3 else "bent"
    return Layout(card, (), battery), Traces(lines[0], lines[1], tongue=tongue), settings


def bodies_of(layout, traces, settings):
    """Plan outlines by name, and the switch."""
    switch = switch_on(layout, traces, settings)
    wide = settings.tape_width_mm
    flap = unary_union([Polygon(switch.lid_mm), Polygon(switch.ramp_mm), Polygon(switch.tab_mm)])
    negative = strip(traces.negative, wide)
    assert switch.tongue == traces.tongue
    return switch, {
        "card +": strip(on_card(switch, traces.positive), wide),
        "over +": strip(switch.over_mm, wide),
        "under +": strip(switch.under_mm, wide),
        "bare under +": without_slivers(strip(switch.under_mm, wide) - Polygon(switch.lid_cover_mm)),
        "card -": negative,
        "bare -": without_slivers(negative - Polygon(switch.cover_mm)),
        "flap": flap,
        "frame": joined(switch.foam_mm),
        "opening": Polygon(switch.opening_mm),
        "dot": Point(layout.battery.centre).buffer(switch.dot_mm / 2),
        "cover": Polygon(switch.cover_mm),
    }


def strip(line, wide):
    from shapely import LineString

    return LineString(line).buffer(wide / 2, cap_style="flat")


def joined(pieces):
    """Pieces that are laid edge to edge, without the seams that rounding leaves."""
    return unary_union([Polygon(piece).buffer(SEAM_MM, join_style="mitre") for piece in pieces])


def without_slivers(shape):
    return shape.buffer(-SEAM_MM, join_style="mitre").buffer(SEAM_MM, join_style="mitre")


def cell_places(layout, switch, settings):
    """The cell's middle wherever the frame lets it lie, pushed into each corner and side."""
    radius = settings.cell.diameter_mm / 2
    room = Polygon(switch.opening_mm).buffer(-radius + 1e-9, join_style="mitre")
    return [Point(layout.battery.centre), *(Point(corner) for corner in room.exterior.coords[:-1])]


@pytest.mark.parametrize("seed", range(0, 240, 40))
def test_no_plus_touches_a_minus_open_or_pressed_and_upside_down_neither(seed):
    for number in range(seed, seed + 40):
        layout, traces, settings = made_up(number)
        switch, parts = bodies_of(layout, traces, settings)
        radius, face = settings.cell.diameter_mm / 2, settings.cell.negative_face_mm / 2
        # On the card the two tapes keep apart; what of the positive lies inside the tab's edge is on the flap.
        assert parts["card +"].distance(parts["card -"]) > 1.5 - 1e-6
        assert parts["card +"].intersection(parts["flap"]).area < 1e-6
        # Over the tab and the ramp the flap's card lies between; it covers all of the tape on it.
        assert parts["over +"].difference(parts["flap"]).area < 1e-6
        assert parts["under +"].difference(Polygon(switch.lid_mm)).area < 1e-6
        # The negative copper is bare nowhere but inside the opening, and past the tab.
        bare_outside = parts["bare -"].difference(parts["opening"])
        assert bare_outside.intersection(parts["flap"]).area < 1e-6
        for middle in cell_places(layout, switch, settings):
            cell, negative_face = middle.buffer(radius, quad_segs=64), middle.buffer(face, quad_segs=64)
            lip = cell - negative_face
            # Right way up: the - face below meets bare copper, the can's lip beside it does not.
            assert parts["bare -"].intersection(negative_face).area > 3.0 * settings.tape_width_mm
            assert parts["bare -"].intersection(lip).area < 1e-6
            # Upside down, pressed: the + face below, lip and - face above. Copper under the lid may touch only
            # the face; touching the lip as well would join the poles through the tape.
            assert parts["bare under +"].intersection(lip).area < 1e-6
            # No other way from + to - : the side of the can stands in foam, not in tape.
            assert cell.difference(parts["opening"]).area < 1e-6


@pytest.mark.parametrize("seed", range(0, 240, 40))
def test_the_cell_stays_in_its_frame(seed):
    for number in range(seed, seed + 40):
        layout, traces, settings = made_up(number)
        switch, parts = bodies_of(layout, traces, settings)
        frame = parts["frame"]
        assert frame.geom_type == "Polygon" and len(frame.interiors) == 1  # closed all round
        # The hole passes the cell with 1 mm in all to spare; from there it is foam for 2.8 mm or more everywhere.
        assert frame.difference(Polygon(switch.lid_mm)).area < 1e-3
        assert Polygon(frame.interiors[0]).distance(frame.exterior) > 2.8
        least = min(cell_places(layout, switch, settings)[0].distance(p) for p in [frame])
        assert least == pytest.approx(settings.cell.diameter_mm / 2 + 0.5, abs=1e-5)
        # Standing in it, the cell is lower than the foam, so the lid on the foam keeps it in.
        assert heights(switch, settings)["top of cell"] < switch.rise_mm


def heights(switch, settings, pressed_mm=0.0):
    """Heights over the card at the cell's middle. [mm]"""
    copper = DOT_PAPER_MM + COPPER_TAPE_MM
    return {
        "bare -": copper,
        "clear tape": COPPER_TAPE_MM + CLEAR_TAPE_MM,
        "top of cell": copper + settings.cell.height_mm,
        "under +": switch.rise_mm - pressed_mm - COPPER_TAPE_MM,
    }


@pytest.mark.parametrize("cell", CELLS)
def test_pressed_it_closes_and_released_it_opens(cell):
    settings = Settings(cell=cell_part(cell))
    layout = Layout(Card(148.0, 210.0), (), BatteryMark(70.0, 100.0, 20.8))
    traces = Traces(((67.5, 103.0), (67.5, 50.0)), ((72.5, 103.0), (72.5, 50.0)))
    switch, parts = bodies_of(layout, traces, settings)
    open_, shut = heights(switch, settings), heights(switch, settings, AIR_MM + 1e-9)
    assert open_["under +"] - open_["top of cell"] == pytest.approx(AIR_MM)
    assert shut["under +"] <= shut["top of cell"]
    # The cell rests on the copper over the dot, not on the clear tape.
    assert open_["clear tape"] < open_["bare -"]
    assert parts["dot"].intersection(parts["cover"]).area < 1e-6
    # Pressed in the middle the copper under the lid is over the cell, not beside it.
    cell_disc = Point(layout.battery.centre).buffer(settings.cell.diameter_mm / 2)
    assert parts["bare under +"].intersection(cell_disc).area > 5.0 * settings.tape_width_mm


def test_the_model_sees_the_mistakes_that_it_is_for():
    layout, traces, settings = made_up(3)
    switch, parts = bodies_of(layout, traces, settings)
    cell = Point(layout.battery.centre).buffer(settings.cell.diameter_mm / 2)
    lip = cell - Point(layout.battery.centre).buffer(settings.cell.negative_face_mm / 2)
    # Without clear tape the negative tape would touch the can's lip on its way out.
    assert parts["card -"].intersection(lip).area > 1.0
    # Without clear tape under the lid, upside down, the positive tape would join lip and face.
    assert parts["under +"].intersection(lip).area > 1.0
    # Drawn on the card, the positive tape would lie under the cell.
    assert strip(traces.positive, settings.tape_width_mm).intersection(cell).area > 1.0
    # A frame without its hinge side lets the cell out.
    three = joined([piece for i, piece in enumerate(switch.foam_mm) if i != 1])
    assert len(three.interiors) == 0


@pytest.mark.parametrize("seed", range(0, 240, 40))
def test_a_hand_half_a_millimetre_off_still_makes_no_short(seed):
    for number in range(seed, seed + 40):
        layout, traces, settings = made_up(number)
        _, parts = bodies_of(layout, traces, settings)
        face = Point(layout.battery.centre).buffer(settings.cell.negative_face_mm / 2, quad_segs=64)
        for bare in (parts["bare -"].intersection(parts["opening"]), parts["bare under +"]):
            assert face.contains(bare.buffer(HAND_MM, join_style="mitre"))


def test_a_cell_too_small_for_two_tapes_is_not_called_safe_upside_down():
    settings = Settings(cell=cell_part("CR1220"))
    least, most = lane_at_range(settings)
    assert least == most  # the negative tape alone keeps clear of the rim
    narrow = replace(settings, tape_width_mm=1.5, gap_mm=1.5)
    least, most = lane_at_range(narrow)
    assert least <= 0.0 <= most
