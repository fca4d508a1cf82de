"""The card at true size, measured as it comes out of the printer."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from circuit.errors import UsageError
from circuit.layout import Card, DrawnLine, LightMark
from circuit.plan import Plan
from circuit.polyline import heading_deg
from circuit.settings import Settings
from cli.pages import build_pages, marks_pages, sheet_pages
from cli.pages.build_data import build_of
from cli.pages.paper import A4, LETTER
from cli.pages.plan_on_page import lay_words
from cli.pages.tiles import OVERLAP_MM, joining_marks, tiling_of
from cli.pages.tiles import _room as room_of
from cli.pages.true_size import arrange
from tests.cli import cards
from tests.cli.pages.measure import along, centre_of_line, edge_beyond, printed, text_boxes

PRINT_TOLERANCE_MM = 0.1  # what the maker is promised; a pixel here is 0.08 mm
CASES = [
    pytest.param((cards.one_light, LETTER, "mm"), id="1 light"),
    pytest.param((cards.seven_lights, LETTER, "in"), id="7 lights"),
    pytest.param((cards.seven_lights, A4, "mm"), id="7 lights, A4"),
    pytest.param((cards.fourteen_lights, A4, "in"), id="14 lights, lying"),
    pytest.param((cards.half_sheet, A4, "mm"), id="half a sheet"),
]


class OnPaper:
    """A printed 1:1 sheet, and where card millimetres are on it."""

    def __init__(self, plan, paper, units="mm", mirrored=False):
        self.plan = plan
        settings = Settings(units=units)
        self.build = build_of(plan, settings)
        found = arrange(self.build, paper, extras=not mirrored)
        self.pages = printed(sheet_pages(plan, settings, paper, mirrored=mirrored))
        self.page = self.pages[0]
        self.card = found.card
        self.mirrored = mirrored

    def at(self, point):
        x = self.plan.layout.card.width_mm - point[0] if self.mirrored else point[0]
        return (self.card.left + x, self.card.top + point[1])

    def heading(self, degrees):
        return 180.0 - degrees if self.mirrored else degrees


@pytest.fixture(scope="module", params=CASES)
def sheet(request):
    make, paper, units = request.param
    return OnPaper(make(), paper, units)


@pytest.fixture(scope="module")
def mirrored():
    return OnPaper(cards.seven_lights(), LETTER, mirrored=True)


def edge_samples(on, line):
    """Points on the runs of a trace where nothing else is printed on its edges."""
    layout = on.plan.layout
    for a, b in pairwise(line):
        run = math.dist(a, b)
        heading = heading_deg(a, b)
        for along_mm in np.arange(5.0, run - 4.0, 2.0):
            at = (a[0] + (b[0] - a[0]) * along_mm / run, a[1] + (b[1] - a[1]) * along_mm / run)
            clear = all(math.dist(at, light.centre) > 6.0 for light in layout.lights)
            outside = math.dist(at, layout.battery.centre) > 29.0  # past the tab and the clear tape
            if clear and outside:
                yield at, heading


def tape_edges(on, at, heading):
    """Where the two edges are, to the left and right of the centre line, by colour alone. [mm]"""
    found = []
    for side in (-90.0, 90.0):
        towards = on.heading(heading) + (-side if on.mirrored else side)
        distances, points = along(on.at(at), towards, 2.0)
        colour = on.page.colour(points)
        # The rim's own colour, then the first fall below half of it: a fold's coloured number may follow.
        rim = np.flatnonzero((distances > 0.8) & (distances < 1.6))
        peak = rim[np.argmax(colour[rim])]
        below = peak + np.argmax(colour[peak:] < colour[peak] / 2)
        found.append(edge_beyond(colour[: below + 1], distances[: below + 1], colour[peak] / 2))
    return found


def check_tapes(on):
    traces = on.plan.traces
    count = 0
    for line in (traces.positive, traces.negative):
        for at, heading in edge_samples(on, line):
            assert tape_edges(on, at, heading) == pytest.approx([1.25, 1.25], abs=PRINT_TOLERANCE_MM)
            count += 1
    return count


def test_both_edges_of_both_tapes_are_where_the_plan_has_them(sheet):
    assert check_tapes(sheet) >= 12


def test_tapes_end_where_the_plan_ends_them(sheet):
    for line in (sheet.plan.traces.positive, sheet.plan.traces.negative):
        end, before = line[-1], line[-2]
        heading = heading_deg(before, end)
        distances, points = along(sheet.at(end), heading, 2.0)
        colour = sheet.page.colour(points)
        # The light's body covers nothing here: the tape runs on past it in all these cards.
        assert edge_beyond(colour, distances, colour.max() / 2) == pytest.approx(0.0, abs=PRINT_TOLERANCE_MM)


def cross_centre(on, point):
    """The middle of the cross near `point`, from its arms: each is crossed where the body leaves it bare."""
    x, y = on.at(point)
    offsets = [d for d in np.arange(-1.1, 1.11, 0.1) if abs(d) > 0.55]
    across, down = [], []
    for d in offsets:
        distances, points = along((x, y + d), 0.0, 0.4)
        across.append(centre_of_line(on.page.ink(points), distances))
        distances, points = along((x + d, y), 90.0, 0.4)
        down.append(centre_of_line(on.page.ink(points), distances))
    return float(np.median(across)), float(np.median(down))


def test_every_cross_is_on_its_lights_centre(sheet):
    for light in sheet.plan.layout.lights:
        assert cross_centre(sheet, light.centre) == pytest.approx((0.0, 0.0), abs=PRINT_TOLERANCE_MM)


def test_every_body_has_its_dark_edge_on_the_positive_tape(sheet):
    part = sheet.build.settings.light
    for light in sheet.plan.layout.lights:
        # Which tape is which is told here by distance alone.
        side = sheet.build.plan.sides_deg[light.label]
        reach = part.length_mm / 2
        c, s = math.cos(math.radians(side)), math.sin(math.radians(side))
        x, y = sheet.at(light.centre)
        nearest = min(
            (math.dist((light.x_mm + c * reach, light.y_mm + s * reach), spot), name)
            for name in ("positive", "negative")
            for spot in dense(getattr(sheet.plan.traces, name))
        )[1]
        assert nearest == "positive"
        dark = sheet.page.ink([(x + c * (reach - 0.6), y + s * (reach - 0.6))])[0]
        bare = sheet.page.ink([(x - c * (reach - 0.6) + s * 0.9, y - s * (reach - 0.6) - c * 0.9)])[0]
        assert dark > 0.95 > bare


def dense(line):
    for a, b in pairwise(line):
        for t in np.linspace(0, 1, 200):
            yield (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t)


def test_the_cards_outline_has_the_cards_size(sheet):
    card = sheet.plan.layout.card
    for point, heading in (
        ((0.0, card.height_mm * 0.37), 0.0),
        ((card.width_mm, card.height_mm * 0.37), 0.0),
        ((card.width_mm * 0.13, 0.0), 90.0),
        ((card.width_mm * 0.13, card.height_mm), 90.0),
    ):
        distances, points = along(sheet.at(point), heading, 0.5)
        ink = np.where(sheet.page.ink(points) > 0.3, sheet.page.ink(points), 0.0)  # without the foam's tint
        assert centre_of_line(ink, distances) == pytest.approx(0.0, abs=PRINT_TOLERANCE_MM)


def test_the_cell_is_printed_at_its_size(sheet):
    centre = sheet.plan.layout.battery.centre
    radius = sheet.build.settings.cell.diameter_mm / 2
    switch = sheet.build.switch
    off = []
    for turn in range(0, 360, 15):
        heading = switch.hinge_deg + turn
        if abs((turn + 180) % 360 - 180) < 60:  # the tapes come in here
            continue
        rim = (
            centre[0] + radius * math.cos(math.radians(heading)),
            centre[1] + radius * math.sin(math.radians(heading)),
        )
        distances, points = along(sheet.at(rim), heading, 0.4)
        off.append(centre_of_line(np.clip(sheet.page.ink(points) - 0.3, 0, 1), distances))
    # Half a pixel of the rasterised page.
    assert np.median(off) == pytest.approx(0.0, abs=0.05)
    assert max(map(abs, off)) < PRINT_TOLERANCE_MM


def test_the_mirrored_sheet_is_the_mirror_image(mirrored):
    assert check_tapes(mirrored) >= 12
    for light in mirrored.plan.layout.lights:
        assert cross_centre(mirrored, light.centre) == pytest.approx((0.0, 0.0), abs=PRINT_TOLERANCE_MM)


def test_the_flap_pattern_is_printed_at_its_size():
    """Its outline is the only unbroken dark outline of the flap's size beside the card."""
    import cv2

    on = OnPaper(cards.one_light(), LETTER)
    switch = on.build.switch
    dark = (on.page.grey < 140).astype(np.uint8)
    left = round((on.card.right + 2.0) * 12)
    contours, _ = cv2.findContours(dark[:, left:], cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    sizes = [cv2.boundingRect(c)[2:] for c in contours]
    w, h = max(sizes, key=lambda size: size[0] * size[1])
    line_mm = 0.3  # the outline's own width, half of it on each side
    assert w / 12 - line_mm == pytest.approx(2 * switch.shape.half_mm, abs=PRINT_TOLERANCE_MM)
    assert h / 12 - line_mm == pytest.approx(
        2 * switch.shape.half_mm + switch.tongue_flat_mm, abs=PRINT_TOLERANCE_MM
    )


@pytest.mark.parametrize("paper", [LETTER, A4], ids=lambda paper: paper.name)
def test_a_large_card_comes_in_parts_that_join(paper):
    plan = cards.large()
    pages = printed(sheet_pages(plan, Settings(), paper))
    tiling = tiling_of(plan.layout.card, paper)
    count = tiling.rows * tiling.columns
    assert count > 1
    assert len(pages) == count + 1  # the last one has the flap and the signs
    room = room_of(tiling.paper)
    seen = dict.fromkeys((light.label for light in plan.layout.lights), 0)
    for index in range(count):
        row, column = divmod(index, tiling.columns)
        window = tiling.window(row, column)
        page = pages[index]

        def at(point, window=window):
            return (room.left + point[0] - window.left, room.top + point[1] - window.top)

        def shows(point, margin, window=window):
            inside_x = window.left + margin <= point[0] <= window.right - margin
            return inside_x and window.top + margin <= point[1] <= window.bottom - margin

        for light in plan.layout.lights:
            if shows(light.centre, 3.0):
                on = OnPart(page, at)
                off = cross_centre(on, light.centre)
                # A joining mark may lie across a light; its ring then shifts one arm's middle.
                if min(math.dist(light.centre, m) for m in joining_marks(tiling, plan.layout.card)) > 7.0:
                    assert off == pytest.approx((0.0, 0.0), abs=PRINT_TOLERANCE_MM)
                seen[light.label] += 1
        for mark in joining_marks(tiling, plan.layout.card):
            if shows(mark, OVERLAP_MM / 2 - 1.0):
                x, y = at(mark)
                distances, points = along((x, y - 3.2), 0.0, 0.4)
                assert centre_of_line(page.ink(points), distances) == pytest.approx(
                    0.0, abs=PRINT_TOLERANCE_MM
                )
    assert min(seen.values()) >= 1
    joined = joining_marks(tiling, plan.layout.card)
    assert len(joined) >= 2 * (tiling.rows - 1 + tiling.columns - 1)


class OnPart:
    def __init__(self, page, at):
        self.page, self.at = page, at


def test_a_card_that_only_just_fits_still_says_on_top_what_is_not_sure():
    pages = text_boxes(sheet_pages(cards.half_sheet(), Settings(), A4))
    assert "compare with your card" in " ".join(box.text for box in pages[0])


def test_a_card_that_no_one_would_join_is_refused_in_one_sentence():
    plan = cards.large()
    poster = Plan(replace(plan.layout, card=Card(1500.0, 1000.0)), plan.traces)
    with pytest.raises(UsageError, match="too many to join"):
        sheet_pages(poster, Settings(), A4)


@pytest.mark.parametrize(("units", "size"), [("mm", "210 mm x 297 mm"), ("in", "8 9/32 in x 11 11/16 in")])
def test_a_card_too_large_for_its_marks_page_is_told_in_the_makers_units(units, size):
    plan = cards.one_light()
    large = replace(plan, layout=replace(plan.layout, card=Card(210.0, 297.0)))
    with pytest.raises(UsageError, match=f"{size} does not fit on A4"):
        marks_pages(large, Settings(units=units), A4)


def test_a_sheet_that_must_not_be_built_from_says_so():
    for plan, words in (
        (cards.no_traces(), "no traces on this card yet"),
        (replace(cards.seven_lights(), problems=cards.no_traces().problems), "Not ready to build: one thing"),
    ):
        text = " ".join(box.text for box in text_boxes(sheet_pages(plan, Settings(), LETTER))[0])
        assert words in " ".join(text.split())
    clean = " ".join(box.text for box in text_boxes(sheet_pages(cards.seven_lights(), Settings(), LETTER))[0])
    assert "Not ready" not in clean


def test_own_pencilled_lines_are_not_printed_where_they_would_pass_for_tape():
    plan = cards.seven_lights()
    line = DrawnLine(((10.0, 10.0), (60.0, 50.0)), "positive", 0.3)
    pencilled = replace(plan, layout=replace(plan.layout, drawn_lines=(line,)))
    for pages in (sheet_pages, build_pages):
        assert pages(pencilled, Settings(), LETTER) == pages(plan, Settings(), LETTER)


def test_a_card_without_battery_or_lights_still_prints():
    plan = cards.no_traces()
    bare = Plan(replace(plan.layout, battery=None, window=None, lights=()))
    assert len(printed(sheet_pages(bare, Settings(), LETTER))) == 1


def test_the_positive_tape_on_the_flap_is_not_drawn_like_tape_on_the_card(sheet):
    """Its rim is a broken line from the tab's outer edge inwards, an unbroken one from there on."""
    switch, line = sheet.build.switch, sheet.plan.traces.positive
    (ax, ay), heading = line[0], heading_deg(line[0], line[1])
    ux, uy = math.cos(math.radians(heading)), math.sin(math.radians(heading))
    rim = 1.25 - 0.15  # the middle of the rim, a little inside the tape's edge

    def share_inked(start_mm, end_mm):
        steps = np.arange(start_mm, end_mm, 0.05)
        points = np.array([sheet.at((ax + ux * s - uy * rim, ay + uy * s + ux * rim)) for s in steps])
        colour = sheet.page.colour(points)
        return float((colour > 0.5 * colour.max()).mean())

    past = switch.end_run_mm - switch.shape.reach_mm
    on_lid = share_inked(past + 11.0, switch.end_run_mm - 11.0)
    beyond = share_inked(switch.end_run_mm + 0.5, switch.end_run_mm + 3.0)
    assert beyond > 0.95
    assert on_lid < 0.8


def test_a_light_that_lies_nearly_as_near_anothers_name_has_a_line_to_its_own():
    lights = tuple(LightMark(f"L{i + 1}", 30.0 + 6.0 * (i % 4), 40.0 + 6.0 * (i // 4)) for i in range(16))
    one = cards.no_traces()
    plan = replace(one, layout=replace(one.layout, lights=lights, window=None))
    laid = lay_words(build_of(plan, Settings()), full=True)
    assert len(laid) == len(lights)
    for light, word in zip(lights, laid):
        middle = word.placed.box.centre
        others = [math.dist(middle, other.centre) for other in lights if other != light]
        assert word.pointed or min(others) > 1.25 * math.dist(middle, light.centre), word
    assert any(word.pointed for word in laid)
