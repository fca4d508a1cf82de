"""How the same thing looks on a photo and on paper: what needs a halo, what is tinted, what is dark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from circuit.layout import Point
from vision.drawing.colours import (
    BLACK,
    FAINT_INK,
    INK,
    NEGATIVE,
    PALE,
    POSITIVE,
    POSITIVE_TINT,
    WHITE,
    Colour,
    paler,
)
from vision.drawing.pen import LONG_DASH, Dash, Pen

TAPE_OPACITY = 0.62  # chosen: over a photo the pencil shows and the colours stay far apart
BAR_OPACITY = 0.45  # chosen: how much paler the negative tape's bars are
_HALO_MM = 0.16  # chosen: white on either side of a line, so that it shows on any photo


@dataclass(frozen=True, slots=True)
class Look:
    """Chosen by eye.

    halo : opacity of the white beside lines. wash : opacity of white inside what is see-through.
    tint, tint_opacity : foam and tab. plus_end, minus_end : a body's two ends (None: left bare).
    signs_on_ends : whether there is a sign in them. edge : the card's outline. cell_dash : the cell's ring.
    positive_tape, negative_tape : their inside, bar : the negative's bars. crease_beyond : how far a fold's line
    sticks out of the tape. [mm]
    """

    halo: float
    wash: float
    tint: Colour
    tint_opacity: float
    plus_end: Colour
    minus_end: Colour | None
    signs_on_ends: bool
    edge: Colour
    cell_dash: Dash | tuple[()]
    positive_tape: Colour
    negative_tape: Colour
    bar: Colour
    crease_beyond: float

    def stroke(
        self,
        pen: Pen,
        points: Sequence[Point],
        colour: Colour,
        width: float,
        *,
        dash: Sequence[float] = (),
        closed: bool = False,
    ) -> None:
        """A line that shows on whatever lies under it."""
        if self.halo:
            pen.line(points, WHITE, width + 2 * _HALO_MM, closed=closed, opacity=self.halo)
        pen.line(points, colour, width, dash=dash, closed=closed)

    def tinted(self, pen: Pen, outlines: Sequence[Sequence[Point]]) -> None:
        """Filled with the look's tint."""
        pen.shape(outlines, self.tint, self.tint_opacity)

    def washed(self, pen: Pen, outline: Sequence[Point]) -> None:
        """Made paler, so that what is drawn over it shows."""
        if self.wash:
            pen.shape([outline], WHITE, self.wash)


# A maker's own pencil circle is a full line: what is drawn over it is broken. Tape as it comes out over white card.
ON_PHOTO = Look(
    halo=0.8,
    wash=0.3,
    tint=FAINT_INK,
    tint_opacity=0.16,
    plus_end=POSITIVE,
    minus_end=NEGATIVE,
    signs_on_ends=True,
    edge=FAINT_INK,
    cell_dash=LONG_DASH,
    positive_tape=paler(POSITIVE, TAPE_OPACITY),
    negative_tape=paler(NEGATIVE, TAPE_OPACITY),
    bar=paler(NEGATIVE, TAPE_OPACITY * (1 - BAR_OPACITY)),
    crease_beyond=0.0,
)
# Many print in black: which end of a body is positive shows by its darkness alone, and a pencil shows on bare tape.
ON_PAPER = Look(
    halo=0.0,
    wash=0.0,
    tint=PALE,
    tint_opacity=1.0,
    plus_end=BLACK,
    minus_end=None,
    signs_on_ends=False,
    edge=INK,
    cell_dash=(),
    positive_tape=POSITIVE_TINT,
    negative_tape=WHITE,
    bar=NEGATIVE,
    crease_beyond=1.2,  # to be seen once tape covers it
)
