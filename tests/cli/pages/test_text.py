"""Words on the pages: whole, inside the margins, never over one another, in a typeface that is in the file."""

import re
from dataclasses import replace
from functools import partial
from itertools import combinations

import pytest

from circuit.layout import Reading, as_said
from circuit.plan import Source
from circuit.settings import Settings
from cli.pages import build_pages, marks_pages, sheet_pages, square_page
from cli.pages.build_data import build_of
from cli.pages.paper import A4, FOOTER_MM, LETTER, MARGIN_MM
from cli.pages.true_size import arrange
from tests.cli import cards
from tests.cli.pages.measure import ink_paths, page_sizes, text_boxes

MAKERS = [
    cards.one_light,
    cards.seven_lights,
    cards.fourteen_lights,
    cards.half_sheet,
    cards.large,
    cards.no_traces,
]
UNSURE = replace(
    cards.seven_lights(),
    reading=Reading(
        "harbour.jpg",
        "coded",
        40.0,
        0.4,
        False,
        (as_said("L3 may be two dots that touch."), as_said("The card is bent.")),
    ),
    problems=cards.no_traces().problems * 7,
)


def pages_to_look_at():
    """Every kind of page, both papers, both units: how to make it, not made yet."""
    for paper in (LETTER, A4):
        yield f"square {paper.name}", partial(square_page, paper)
        for units in ("mm", "in"):
            settings = Settings(units=units)
            for make in MAKERS:
                name = f"{make.__name__} {paper.name} {units}"
                yield (
                    f"sheet {name}",
                    partial(lambda m, *rest: sheet_pages(m(), *rest), make, settings, paper),
                )
                yield (
                    f"build {name}",
                    partial(lambda m, *r: build_pages(m(), *r, copies=20), make, settings, paper),
                )
            yield f"build unsure {paper.name} {units}", partial(build_pages, UNSURE, settings, paper)
        plan = cards.seven_lights()
        yield f"mirrored {paper.name}", partial(sheet_pages, plan, Settings(), paper, mirrored=True)
        yield f"marks {paper.name}", partial(marks_pages, plan, Settings(), paper)
        yield f"marks lying {paper.name}", partial(marks_pages, cards.half_sheet(), Settings(), paper)


@pytest.mark.parametrize("make_pdf", [pytest.param(make, id=name) for name, make in pages_to_look_at()])
def test_words_are_whole_apart_and_embedded(make_pdf):
    pdf = make_pdf()
    for (wide, high), boxes in zip(page_sizes(pdf), text_boxes(pdf), strict=True):
        assert len(boxes) > 5
        for box in boxes:
            assert box.embedded
            # A sign that the typeface lacks prints as a question mark where no question ends.
            assert not re.search(r"(^|\s)\?|\?\w", box.text), box.text
            assert MARGIN_MM - 0.3 <= box.left <= box.right <= wide - MARGIN_MM + 0.3, box
            assert MARGIN_MM - 0.3 <= box.top <= box.bottom <= high - MARGIN_MM + 0.3, box
        for a, b in combinations(boxes, 2):
            apart = a.right <= b.left or b.right <= a.left or a.bottom <= b.top or b.bottom <= a.top
            assert apart, f"{a.text!r} and {b.text!r} overlap"


@pytest.mark.parametrize("make", [cards.one_light, cards.seven_lights, cards.fourteen_lights])
def test_no_label_lies_on_a_tape_or_a_body(make):
    from shapely import LineString
    from shapely import Point as Spot
    from shapely import box as rectangle

    plan = make()
    found = arrange(build_of(plan, Settings()), LETTER, extras=True)
    tapes = [
        LineString(line).buffer(1.25, cap_style="flat", join_style="mitre")
        for line in (plan.traces.positive, plan.traces.negative)
    ]
    bodies = [Spot(light.centre).buffer(2.5, cap_style="square") for light in plan.layout.lights]
    labels = {light.label for light in plan.layout.lights}
    seen = set()
    for item in text_boxes(sheet_pages(plan, Settings(), LETTER))[0]:
        text = item.text.strip()
        if text not in labels:
            continue
        seen.add(text)
        place = rectangle(
            item.left - found.card.left,
            item.top - found.card.top,
            item.right - found.card.left,
            item.bottom - found.card.top,
        )
        assert all(place.distance(tape) > 0 for tape in tapes), text
        assert all(place.distance(body) > 0 for body in bodies), text
        own = plan.layout.light(text)
        nearest = min(plan.layout.lights, key=lambda light: place.distance(Spot(light.centre)))
        assert nearest.label == own.label  # nobody takes it for another light's
    assert seen == labels


def test_a_name_in_any_script_prints_and_cannot_break_the_page():
    plan = cards.one_light()
    for name in ("Leuchtturm für Łukasz", "灯台", "\x00\n\t)(\\", "x" * 300, "🎇"):
        for boxes in text_boxes(sheet_pages(plan, Settings(), LETTER, name=name)):
            assert all(box.right <= LETTER.width_mm - MARGIN_MM + 0.3 for box in boxes)


def foot_of(plan, name=""):
    """The words at the foot of the first page of the sheet, in order."""
    boxes = text_boxes(sheet_pages(plan, Settings(), A4, name=name))[0]
    foot = sorted(
        (box for box in boxes if box.top > A4.height_mm - MARGIN_MM - FOOTER_MM), key=lambda box: box.left
    )
    return " ".join(" ".join(box.text for box in foot).split())


@pytest.mark.parametrize(
    ("file", "foot"),
    [
        ("Zoë & Łucja.json", "Pencilamp · Zoë & Łucja A4 · page 1 of 1"),
        ("Zoe\u0308.json", "Pencilamp · Zoë A4 · page 1 of 1"),  # an accent that is a sign of its own
        ("🦊 fox?.json", "Pencilamp · fox? A4 · page 1 of 1"),
        ("李雷.json", "Pencilamp · A4 · page 1 of 1"),  # the typeface has no such signs: a line to write on
        ("plan.json", "Pencilamp A4 · page 1 of 1"),
    ],
)
def test_pages_of_a_layout_bear_its_name_as_far_as_it_can_be_printed(file, foot):
    plan = replace(cards.one_light(), reading=None, source=Source(file))
    assert foot_of(plan) == foot


def test_names_that_differ_at_their_ends_do_so_on_paper():
    long = "the card of the girl who sits at the window in the third row of the class of the second year"
    one, other = (foot_of(cards.one_light(), f"{long} {number}") for number in (1, 2))
    assert one != other and "the card of" in one and "…" in one


def test_a_name_that_the_typeface_lacks_has_a_line_to_be_written_on():
    def low_lines(name):
        paths = ink_paths(sheet_pages(cards.one_light(), Settings(), A4, name=name))[0]
        return [
            path for path in paths if min(y for _, y in path.points) > A4.height_mm - MARGIN_MM - FOOTER_MM
        ]

    assert len(low_lines("李雷")) == 1 and low_lines("harbour") == []
