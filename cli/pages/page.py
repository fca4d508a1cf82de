"""One page to be, its frame, and the PDF of several.

In:    pages as lists of drawing steps, in page millimetres from the top-left corner, y down.
Out:   the bytes of one PDF: pages of exact size, fonts embedded, the same bytes for the same steps.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Concatenate, ParamSpec
from unicodedata import normalize

from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas

from cli.pages.paper import FOOTER_MM, HEADING_MM, MARGIN_MM, Paper
from vision.drawing.colours import FAINT_INK, INK
from vision.drawing.lettering import BODY_PT, SMALL_PT, TITLE_PT, plain, printable, shortened, width_mm
from vision.drawing.page_pen import PT_PER_MM, PagePen
from vision.drawing.pen import BOLD_MM, HAIR_MM

# Chosen by eye.
_TITLE_DOWN_MM = 7.0  # from the margin to the title's baseline
_RULE_UP_MM = 4.5  # from the heading's end up to its rule
_APART_MM = 4.0  # least between what stands left and what stands right
_FOOT_DOWN_MM = 2.0  # from the footer's middle to its baseline
_NAME_LINE_MM = 60.0  # to write a name on
_MOST_SIGNS = 200  # more than fit into a footer

rl_config.useA85 = 0  # plain bytes in place of text: a fifth smaller, as every reader takes

P = ParamSpec("P")
DrawStep = Callable[[PagePen], None]


@dataclass(slots=True)
class Page:
    """Its paper as it lies, and what is drawn on it in order."""

    paper: Paper
    title: str
    aside: str = ""
    steps: list[DrawStep] = field(default_factory=list)

    def add(self, step: Callable[Concatenate[PagePen, P], None], *args: P.args, **kwargs: P.kwargs) -> None:
        """Have `step` called with the pen and these arguments when the page is drawn."""
        self.steps.append(lambda pen: step(pen, *args, **kwargs))


def render(pages: Sequence[Page], name: str, subject: str) -> bytes:
    """The PDF's bytes; `name` is the card's, for the foot of each page."""
    buffer = io.BytesIO()
    # invariant: the library writes no date and no random id.
    canvas = Canvas(buffer, invariant=1, pageCompression=1)
    canvas.setTitle(plain(f"{subject}: {name}" if name else subject))
    canvas.setCreator("Pencilamp")
    canvas.setAuthor("")
    canvas.setSubject("")
    # Asks the viewer's print window for 100 % instead of "fit to page".
    canvas.setViewerPreference("PrintScaling", "None")
    for number, page in enumerate(pages, 1):
        canvas.setPageSize((page.paper.width_mm * PT_PER_MM, page.paper.height_mm * PT_PER_MM))
        pen = PagePen(canvas, page.paper.height_mm)
        _frame(pen, page, name, number, len(pages))
        for step in page.steps:
            step(pen)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _frame(pen: PagePen, page: Page, name: str, number: int, count: int) -> None:
    left, right = MARGIN_MM, page.paper.width_mm - MARGIN_MM
    aside = shortened(page.aside, SMALL_PT, (right - left) / 2)
    room = right - left - width_mm(aside, SMALL_PT) - _APART_MM
    baseline = MARGIN_MM + _TITLE_DOWN_MM
    pen.text(left, baseline, shortened(page.title, TITLE_PT, room, "bold"), TITLE_PT, weight="bold")
    pen.text(right, baseline, aside, SMALL_PT, colour=FAINT_INK, anchor="right")
    rule = MARGIN_MM + HEADING_MM - _RULE_UP_MM
    pen.line([(left, rule), (right, rule)], INK, BOLD_MM)
    foot = page.paper.height_mm - MARGIN_MM - FOOTER_MM / 2 + _FOOT_DOWN_MM
    told = f"{page.paper.name} · page {number} of {count}"
    pen.text(right, foot, told, SMALL_PT, colour=FAINT_INK, anchor="right")
    maker = "Pencilamp · " if name else "Pencilamp"
    pen.text(left, foot, maker, SMALL_PT, colour=FAINT_INK)
    left += width_mm(maker, SMALL_PT)
    room = right - left - width_mm(told, SMALL_PT) - _APART_MM
    shown = _name_shown(name, room)
    if shown:
        pen.text(left, foot, shown, BODY_PT, weight="bold")
    elif name:
        pen.line([(left, foot), (left + min(room, _NAME_LINE_MM), foot)], INK, HAIR_MM)


def _name_shown(name: str, room_mm: float) -> str:
    """A card's name as far as the typeface has its signs, its middle left out where it is too long: names of one class
    differ at their ends. "" where no letter or figure is left, as of a name in Chinese: then it is written by hand."""
    # Some systems take an accent for a sign of its own, which would be printed beside its letter.
    name = plain(normalize("NFC", name))
    # Sign by sign, so that a "?" of the name's own stays.
    known = "".join(sign for sign in name if sign == "?" or printable(sign, "bold") != "?")
    name = " ".join(known.split())
    if not any(sign.isalnum() for sign in name):
        return ""
    shown, half = name, min(len(name), _MOST_SIGNS) // 2
    while width_mm(shown, BODY_PT, "bold") > room_mm and half:
        half -= 1
        shown = f"{name[:half].rstrip()}…{name[len(name) - half :].lstrip()}"
    return shown
