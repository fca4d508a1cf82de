"""Papers that pages are made for, and the frame of every page. All in millimetres."""

from __future__ import annotations

from dataclasses import dataclass

from circuit.errors import UsageError
from circuit.layout import Card
from circuit.settings import Settings
from vision.drawing.box import Box

# Chosen: desk printers leave up to a quarter inch (6.35 mm) bare on a side; twice that is safe.
MARGIN_MM = 12.0
HEADING_MM = 15.0  # chosen: title and line under it
FOOTER_MM = 6.0  # chosen


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet as it lies before the reader."""

    name: str
    width_mm: float
    height_mm: float

    @property
    def turned(self) -> Paper:
        """The same sheet, a quarter turn round."""
        return Paper(self.name, self.height_mm, self.width_mm)

    @property
    def inside(self) -> Box:
        """What lies inside the margins, under the heading and above the footer."""
        return Box(
            MARGIN_MM,
            MARGIN_MM + HEADING_MM,
            self.width_mm - 2 * MARGIN_MM,
            self.height_mm - 2 * MARGIN_MM - HEADING_MM - FOOTER_MM,
        )


LETTER = Paper("Letter", 215.9, 279.4)  # standard: ANSI/ASME Y14.1 size A, 8.5 x 11 in
A4 = Paper("A4", 210.0, 297.0)  # standard: ISO 216
PAPERS = {"letter": LETTER, "a4": A4}


def paper_named(name: str) -> Paper:
    """The paper of that name; UsageError when it is not known."""
    paper = PAPERS.get(name.lower())
    if paper is None:
        raise UsageError(f"There is no paper called {name!r} here. Known are: {', '.join(PAPERS)}.")
    return paper


def paper_for(card: Card, settings: Settings) -> Paper:
    """The paper that a maker of this card most likely has: Letter goes with inches and with cards cut from it."""
    size = (card.size or "").lower()
    if "letter" in size or size.endswith("in") or settings.units == "in":
        return LETTER
    return A4
