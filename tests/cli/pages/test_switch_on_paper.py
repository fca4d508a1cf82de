"""The switch as it is printed: read from the page's own lines and fills, not from the values they were drawn from.

What is looked for is told from its ink alone (colour, dashes, number of corners) and its nearness to the cell's ring;
the limits are those of the design, written out here.
"""

import math
import re
from dataclasses import replace

import pytest
import shapely
from shapely import Point, Polygon
from shapely.ops import unary_union

from circuit.layout import BatteryMark, Card, Layout, LightMark
from circuit.plan_card import plan_card
from circuit.settings import Settings
from cli.pages import build_pages, sheet_pages
from cli.pages.paper import A4
from tests.cli import cards
from tests.cli.pages.measure import ink_paths, text_boxes
from vision.drawing.colours import FAINT_INK, INK, NEGATIVE, PALE, POSITIVE

TAPE_MM, CELL_MM = 2.5, 20.0
# A page's numbers are written to a thousandth of a point.
ON_PAPER_MM = 0.01
SEAM_MM = 0.01


def upright():
    """A narrow card, which leaves room for the short tongue alone."""
    lights = tuple(LightMark(f"L{i}", x, y) for i, (x, y) in enumerate(((43.5, 22), (58, 22), (66, 16)), 1))
    return plan_card(Layout(Card(80.0, 44.0), lights, BatteryMark(18.0, 22.0, 20.5)), Settings()).plan


def cornered():
    """The cell in a corner, as near to two edges as may be."""
    lights = tuple(LightMark(f"L{i}", x, y) for i, (x, y) in enumerate(((50, 30), (70, 34), (40, 60)), 1))
    return plan_card(Layout(Card(105.0, 148.0), lights, BatteryMark(86.0, 129.0, 20.5)), Settings()).plan


class PrintedSwitch:
    """What one sheet shows of the switch, in page millimetres."""

    def __init__(self, plan):
        self.plan = plan
        paths = ink_paths(sheet_pages(plan, Settings(), A4))[0]
        self.pattern_text = text_boxes(sheet_pages(plan, Settings(), A4))[0]
        card = plan.layout.card
        (self.card,) = [
            box
            for box in (
                Polygon(path.points) for path in paths if path.stroke == INK and len(path.points) == 5
            )
            if _size(box) == pytest.approx((card.width_mm, card.height_mm), abs=ON_PAPER_MM)
        ]
        left, top = self.card.bounds[:2]
        battery = plan.layout.battery
        self.middle = Point(left + battery.x_mm, top + battery.y_mm)
        self.cell = self.middle.buffer(CELL_MM / 2, quad_segs=64)
        on_card = [path for path in paths if self.card.buffer(1e-3).covers(shapely.MultiPoint(path.points))]
        dashed = [path for path in on_card if path.dashed and path.stroke == INK]
        (self.outline,) = [Polygon(path.points) for path in dashed if len(path.points) >= 11]
        around = self.outline.buffer(SEAM_MM)
        (self.cover,) = [Polygon(path.points) for path in dashed if len(path.points) == 5]
        self.foam = [
            Polygon(path.points)
            for path in on_card
            if path.fill == PALE and len(path.points) > 4 and around.covers(Polygon(path.points))
        ]
        self.negative = self._tape(on_card, NEGATIVE)
        self.positive = self._tape(on_card, POSITIVE)
        self.on_flap = [path for path in on_card if path.dashed and path.stroke == POSITIVE]
        (self.opening,) = [
            Polygon(path.points)
            for path in on_card
            if path.dashed and path.stroke == FAINT_INK and len(path.points) == 5
        ]
        self.rings = [
            Polygon(path.points) for path in on_card if path.stroke == FAINT_INK and len(path.points) > 11
        ]

    @staticmethod
    def _tape(paths, colour):
        """The solid shapes of that colour which are as wide as tape; signs are smaller, bars narrower."""
        shapes = [Polygon(path.points) for path in paths if path.fill == colour and path.opaque]
        return unary_union(
            [shape for shape in shapes if shape.is_valid and not shape.buffer(-0.45 * TAPE_MM).is_empty]
        )


def _size(box):
    x0, y0, x1, y1 = box.bounds
    return x1 - x0, y1 - y0


CASES = {
    "1 light": cards.one_light,
    "7 lights": cards.seven_lights,
    "14 lights": cards.fourteen_lights,
    "cell in a corner": cornered,
    "upright tongue": upright,
}


@pytest.fixture(scope="module", params=CASES.values(), ids=CASES.keys())
def switch(request):
    return PrintedSwitch(request.param())


def told_mm(plan, pattern):
    """A figure of the build sheet's words. [mm]"""
    text = " ".join(
        " ".join(box.text for box in boxes) for boxes in text_boxes(build_pages(plan, Settings(), A4))
    )
    return float(re.search(pattern, " ".join(text.split()))[1])


def test_bare_copper_under_the_cell_is_long_enough_and_clear_of_the_rim(switch):
    bare = switch.negative.difference(switch.cover).intersection(switch.cell)
    assert bare.geom_type == "Polygon"
    ring = bare.minimum_rotated_rectangle
    sides = sorted(
        math.dist(a, b) for a, b in zip(ring.exterior.coords[:2], ring.exterior.coords[1:3], strict=True)
    )
    assert sides[0] == pytest.approx(TAPE_MM, abs=ON_PAPER_MM)
    # 3 mm or more to both sides of the middle; the rim is +: 2.5 mm clear of it, corners counted.
    assert sides[1] >= 6.0
    corners = [switch.middle.distance(Point(corner)) for corner in bare.exterior.coords]
    assert max(corners) <= CELL_MM / 2 - 2.5 + ON_PAPER_MM
    assert told_mm(switch.plan, r"must not touch this tape\. ([\d.]+) mm under the cell") == pytest.approx(
        sides[1], abs=0.05 + ON_PAPER_MM
    )


def test_clear_tape_covers_the_negative_tape_from_there_to_past_the_tab(switch):
    under_flap = switch.negative.intersection(switch.outline)
    naked = under_flap.difference(switch.cover).difference(switch.cell)
    assert naked.area < 1e-3
    # 2 mm wider than the tape on both sides.
    across = sorted(_rotated_sides(switch.cover))[0]
    assert across == pytest.approx(TAPE_MM + 4.0, abs=ON_PAPER_MM)


def _rotated_sides(shape):
    ring = shape.minimum_rotated_rectangle.exterior.coords
    return [math.dist(ring[0], ring[1]), math.dist(ring[1], ring[2])]


def test_no_positive_tape_lies_on_the_card_inside_the_hinge(switch):
    """What of it lies over the flap is drawn broken and see-through; what is solid begins at the tab's outer edge."""
    assert switch.positive.intersection(switch.outline).area < ON_PAPER_MM * TAPE_MM
    assert switch.positive.distance(switch.outline) < ON_PAPER_MM
    assert switch.on_flap
    for path in switch.on_flap:
        assert switch.outline.buffer(ON_PAPER_MM).covers(Polygon(path.points))


def test_the_outline_lies_inside_the_card(switch):
    assert switch.card.exterior.distance(switch.outline) >= 1.0 - ON_PAPER_MM
    assert switch.card.contains(switch.outline)


def test_the_foam_frame_is_closed_round_the_cell(switch):
    joined = unary_union([piece.buffer(SEAM_MM, join_style="mitre") for piece in switch.foam])
    parts = getattr(joined, "geoms", [joined])
    holes = [Polygon(ring) for part in parts for ring in part.interiors]
    (hole,) = [hole for hole in holes if hole.contains(switch.middle)]
    # The cell and half a millimetre all round, 21 x 21 mm; the sheet draws its inside with a broken line, too.
    assert hole.area == pytest.approx(21.0**2, rel=0.01)
    assert hole.symmetric_difference(switch.opening).area < 4 * 21.0 * 2 * SEAM_MM
    assert hole.contains(switch.cell)
    least = min(hole.exterior.distance(Point(corner)) for corner in switch.outline.exterior.coords)
    assert least > 2.8


def test_the_dot_ends_before_the_clear_tape(switch):
    dots = [ring for ring in switch.rings if ring.area < switch.cell.area / 2]
    (dot,) = dots
    assert dot.centroid.distance(switch.middle) < 0.05
    assert 0.0 < dot.distance(switch.cover) < 1.0
    across = dot.bounds[2] - dot.bounds[0]
    # Told in tenths: half of one; and the PDF's own hundredth.
    assert told_mm(switch.plan, r"Thin paper, ([\d.]+) mm across") == pytest.approx(across, abs=0.06)


@pytest.mark.parametrize("make", CASES.values(), ids=CASES.keys())
def test_the_runs_on_the_page_add_up_to_the_strip(make):
    """Each run's last figure is the sum of the runs so far, and the strip to cut holds the longer tape."""
    boxes = [box for page in text_boxes(build_pages(make(), Settings(), A4)) for box in page]
    totals = {}
    for name, half in (("− tape", 0), ("+ tape", 1)):
        head = next(
            box
            for box in boxes
            if box.text.strip() == name and box.right - box.left < 20 and _is_head(box, boxes)
        )
        end = next(box.top for box in boxes if box.text.startswith("The lights, in order"))
        rows = {}
        for box in boxes:
            inside = head.left - 1 <= box.left and box.right <= head.left + 92.0
            if inside and head.bottom < box.top < end and re.fullmatch(r"[\d.]+ mm", box.text.strip()):
                rows.setdefault(round(box.bottom, 0), []).append((box.left, float(box.text.split()[0])))
        so_far, runs = 0.0, 0
        for _, row in sorted(rows.items()):
            if len(row) != 2:
                break
            (_, length), (_, total) = sorted(row)
            so_far += length
            runs += 1
            # Each figure is rounded to a tenth.
            assert total == pytest.approx(so_far, abs=0.05 * (runs + 1) + 1e-9)
            so_far = total
        assert runs
        totals[half] = so_far
    strip = told_mm(make(), r"Cut one strip of ([\d.]+) mm")
    assert strip >= max(totals.values()) + 10.0  # to hold it by and trim it


def _is_head(box, boxes):
    """The run lists' headings stand in one line with each other."""
    others = [other for other in boxes if other.text.strip() in ("− tape", "+ tape") and other is not box]
    return any(abs(other.top - box.top) < 1.5 and abs(other.left - box.left) > 60 for other in others)


@pytest.mark.parametrize("make", CASES.values(), ids=CASES.keys())
def test_the_frames_foam_in_the_list_is_what_the_step_cuts(make):
    plan = make()
    one, any_one = r"([\d.]+) mm", r"[\d.]+ mm"
    long = told_mm(plan, f"two strips of {one} and two of {any_one}")
    short = told_mm(plan, f"two strips of {any_one} and two of {one}")
    listed = told_mm(plan, r"foam: ([\d.]+) mm of each round the cell")
    assert 2 * (long + short) <= listed < 2 * (long + short) + 5.0 + 1e-9


def test_the_pattern_on_the_sheet_is_as_large_as_the_list_says():
    for make in CASES.values():
        plan = make()
        paths = ink_paths(sheet_pages(plan, Settings(), A4))
        outlines = [path for page in paths for path in page if path.stroke == INK and not path.dashed]
        flaps = [Polygon(path.points) for path in outlines if len(path.points) >= 11]
        wide = told_mm(plan, r"of ([\d.]+) x [\d.]+ mm for the flap")
        high = told_mm(plan, r"of [\d.]+ x ([\d.]+) mm for the flap")
        # Told in tenths: half of one; and the PDF's own hundredth.
        assert any(_size(flap) == pytest.approx((wide, high), abs=0.06) for flap in flaps), plan.layout.card


def test_a_short_tape_or_a_gap_in_the_foam_would_be_seen():
    """The measuring finds what it is for."""
    plan = cards.one_light()
    begins, ends = plan.traces.negative
    short = replace(plan.traces, negative=((begins[0], begins[1] - 4.0), ends))
    sheet = PrintedSwitch(replace(plan, traces=short))
    bare = sheet.negative.difference(sheet.cover).intersection(sheet.cell)
    assert max(_rotated_sides(bare)) < 6.5
    sheet.foam.pop(0)
    with pytest.raises(ValueError, match="unpack"):
        test_the_foam_frame_is_closed_round_the_cell(sheet)
