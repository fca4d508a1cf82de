"""Pages to hand out to a class: one for the pupils, one for who teaches, the marked back cards several to a sheet.

In:    a plan, the parts, the paper, how many pupils build it.
Out:   PDF bytes: the pupils' page first, then the teacher's, then sheets of marked cards where they fit.
Fails: ValueError for no copies.
"""

from __future__ import annotations

from collections.abc import Sequence

from circuit.cautions import caution_lines
from circuit.foam_words import foam_words
from circuit.lengths import format_length
from circuit.plan import Plan
from circuit.settings import Settings
from circuit.supplies import light_tape_mm, supplies
from circuit.telling import counted
from cli.pages import build_words
from cli.pages.build_data import Build, build_of
from cli.pages.card_sheet import card_sheets
from cli.pages.figure_row import figure_row
from cli.pages.flow import Block, gap, paginate, paragraph, stacked, ticked
from cli.pages.page import Page, render
from cli.pages.paper import Paper, paper_for
from cli.pages.pieces import by, pieces_of
from cli.pages.plan_on_page import draw_plan, lay_words
from cli.pages.true_size import warning_words
from vision.drawing.box import Placing
from vision.drawing.draw_signs import draw_number
from vision.drawing.lettering import BODY_PT, HEAD_PT, LABEL_PT, line_mm, wrapped
from vision.drawing.page_pen import PagePen
from vision.drawing.rows import write_lines

_PICTURE_MM = (112.0, 140.0)  # chosen: the card large enough to lay tape by
_WORD_INDENT_MM, _WORD_AIR_MM, _NUMBER_AT_MM = 10.0, 2.2, (3.6, 2.8)
_BESIDE_MM = 8.0
# A box to tick: how far it lies under the line's top, the words beside it, air below. Chosen by eye.
_TICK_DOWN_MM, _TICK_WORDS_MM, _TICK_AIR_MM = 0.8, 6.0, 1.2
_PUPIL, _TEACHER = "Build your card", "For the teacher"
# For each table, in the order in which things go wrong. Common practice, no source.
_CHECKS = (
    "Before the foam: clear tape lies over the − tape from beside the dot to past the tab's place; bare copper at "
    "the dot.",
    "Before the tab is glued: on the lid's underside the + tape comes past the middle, clear tape up to its last "
    "bit.",
    "Before a light is fixed: + up, lid pressed, each light tried on its cross; the cell is out again and counted.",
    "Before the lid is closed: all lights tried once more; nothing warm. Count the cells in and out of the room.",
)


def class_pages(plan: Plan, settings: Settings, paper: Paper | None = None, *, copies: int) -> bytes:
    """The pack's PDF for `copies` pupils. Raises ValueError for no copies."""
    build = build_of(plan, settings)
    paper = paper or paper_for(plan.layout.card, settings)
    pages = [
        *_pupils(build, paper),
        *paginate(_teachers(build, copies, paper.inside.width), paper, _TEACHER, f"{copies} cards"),
        *card_sheets(build, paper, copies),
    ]
    return render(pages, build.name, _PUPIL)


def _pupils(build: Build, paper: Paper) -> list[Page]:
    """One page: the card large, the switch, a fold, a light, and ten short sentences."""
    page = Page(paper, _PUPIL, "with the card at true size beside you")
    inside, card = paper.inside, build.plan.layout.card
    y = inside.top
    warning = warning_words(build)
    for line in (warning and wrapped(warning, BODY_PT, inside.width, "bold")) or ():
        page.add(PagePen.text, inside.left, y + 3.0, line, BODY_PT, weight="bold")
        y += line_mm(BODY_PT)
    scale = min(_PICTURE_MM[0] / card.width_mm, _PICTURE_MM[1] / card.height_mm, 1.0)
    placing = Placing(inside.left, y + 1.0, scale)
    page.add(draw_plan, build, placing, lay_words(build, scale, full=False), full=False)
    x = inside.left + card.width_mm * scale + _BESIDE_MM
    words = _numbered(_pupil_words(build), inside.right - x)
    page.add(words.draw, x, y)
    y += max(card.height_mm * scale, words.height) + _BESIDE_MM
    for block in figure_row(build, inside.width):
        page.add(block.draw, inside.left, y)
        y += block.height
    warn = wrapped(
        "Never put a cell in your mouth, nose or ear; if somebody did, tell your teacher at once. A warm cell comes "
        "out at once: tell your teacher.",
        HEAD_PT,
        inside.width,
        "bold",
    )
    page.add(write_lines, warn, inside.left, y + 2.0, HEAD_PT, weight="bold")
    return [page]


def _pupil_words(build: Build) -> list[str]:
    """What to do, in few words; the lengths are the build sheet's."""
    if build.switch is None or build.tapes is None:
        return ["Mark lights and battery, photograph the card, plan it again."]
    units = build.settings.units
    crease = ", crease its tongue twice" if build.switch.tongue == "upright" else ""
    return [
        "Prick the crosses through. Draw round the cell.",
        f"Cut out the flap{crease}. Cut {format_length(build.tapes.strip_mm, units)} of tape and split it.",
        f"Flap, from below: {format_length(build.switch.wrap_mm, units)} of + tape, out to the edge. Clear tape on its "
        "outer part.",
        "Then round the edge and over the top.",
        "Card: paper dot, − tape over it, clear tape over that. Bare at the dot!",
        "Foam on four sides of the cell. Keep its liner on.",
        "Glue the tab. Lay the + tape.",
        *_branch_words(build),
        "Cell in, + up. Hold each light, press the lid. Cell out.",
        "Clear tape over each light. Cell in. Try again.",
        "Close.",
    ]


def _branch_words(build: Build) -> list[str]:
    """The same for each branch: its crossing first, then its joint."""
    assert build.tapes is not None
    units = build.settings.units
    return [
        f"Joint: clear tape on the dotted box. Cut {format_length(branch.strip_mm, units)}, split it, fold the ends "
        "under. Copper on copper: − on −, + on +."
        for branch in build.tapes.branches
    ]


def _numbered(texts: Sequence[str], room: float) -> Block:
    def row(number: int, text: str) -> Block:
        lines = wrapped(text, BODY_PT, room - _WORD_INDENT_MM)

        def draw(pen: PagePen, left: float, top: float) -> None:
            draw_number(pen, (left + _NUMBER_AT_MM[0], top + _NUMBER_AT_MM[1]), number)
            write_lines(pen, lines, left + _WORD_INDENT_MM, top)

        return Block(max(len(lines) * line_mm(BODY_PT), 2 * _NUMBER_AT_MM[0]) + _WORD_AIR_MM, draw)

    return stacked([row(number, text) for number, text in enumerate(texts, 1)])


def _teachers(build: Build, copies: int, room: float) -> list[Block]:
    plan, settings = build.plan, build.settings
    needs = supplies(copies, plan.layout.card, len(plan.layout.lights), build.tapes, build.switch, settings)
    parts = (
        (f"To have for {copies} cards", build_words.supply_lines(build, needs)),
        ("To cut beforehand, for each card", _cuts(build)),
        ("To check at each table", list(_CHECKS)),
        ("Mind the cells", list(caution_lines(settings))),
    )
    blocks: list[Block] = []
    for heading, lines in parts:
        blocks.append(paragraph(heading, room, size_pt=HEAD_PT, weight="bold", with_next=True))
        blocks += [
            ticked(
                line,
                room,
                size_pt=LABEL_PT,
                words_mm=_TICK_WORDS_MM,
                down_mm=_TICK_DOWN_MM,
                air_mm=_TICK_AIR_MM,
            )
            for line in lines
        ]
        blocks.append(gap(4.0))
    return blocks


def _cuts(build: Build) -> list[str]:
    if build.switch is None or build.tapes is None:
        return ["nothing yet: no traces are laid"]
    units, switch = build.settings.units, build.switch
    pieces = pieces_of(build.settings, switch)
    long, short = (format_length(length, units) for length in pieces.foam_mm)
    foam = foam_words(build.foam, build.settings) if build.foam else "foam"
    count = len(build.plan.layout.lights)
    return [
        f"copper tape: {build_words.strips_words(build)}, split lengthwise",
        f"thin card: one flap of {by(pieces.flap_mm, units)}, by the pattern on the true-size sheet",
        f"{foam}: two strips of {long}, two of {short} for the frame",
        f"clear tape: {by(pieces.cover_mm, units)} for the card, {by(pieces.lid_cover_mm, units)} for the lid",
        f"clear tape over the lights: {counted(count, 'piece')} of {by(light_tape_mm(build.settings), units)}",
        f"paper: one dot {format_length(switch.dot_mm, units)} across",
        *(f"clear tape for a joint: {by(branch.clear_mm, units)}" for branch in build.tapes.branches),
    ]
