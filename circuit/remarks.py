"""What the reading has to say, in a maker's words and units: its doubts and notes as sentences.

In:    a `Remark`, whose key stands in `REMARKS`; the card, the maker's units.
Out:   a sentence with its full stop.
Fails: never; of a remark that this program does not know, its key is said.
"""

from __future__ import annotations

from collections.abc import Mapping

from circuit.layout import Card, Remark
from circuit.lengths import format_length
from circuit.settings import Units
from circuit.whereabouts import place

# A remark's key -> its sentence. {place} is where on the card it lies; a figure whose name ends in _mm is
# written as a length, {x_mm:fine} so that tenths of a millimetre show in inches too.
REMARKS: Mapping[str, str] = {
    "as-said": "{words}",
    "two-sizes": "The card measures {width_mm} x {height_mm}: that could be {name} or {other}; give its size.",
    "square-and-size": (
        "Square and card disagree by {off_mm}: by the square the card measures {width_mm} x {height_mm}, not "
        "{said_width_mm} x {said_height_mm}; check that the square was printed at full size ({side_mm} a side) and "
        "that the card's size is right."
    ),
    "square-off-scale": (
        "By the square the card measures {width_mm} x {height_mm}; if it is {name}, that is {off_mm} off and the "
        "square's side is {true_side_mm:fine}, not {side_mm:fine}: measure the printed square and say its side, or "
        "give the card's size."
    ),
    "square-beside": (
        "By the square beside it this is a {name} card. If yours is {other}, {width_mm} x {height_mm}, the square lay "
        "higher than the card: give the card's size, and lay the square flat on the card."
    ),
    "near-size": (
        "The card measures {width_mm} x {height_mm} by the square, {off_mm} off {name}: measure it and give its size."
    ),
    "no-known-size": (
        "The card measures {width_mm} x {height_mm} by the square, which is no size I know; measure it and give its "
        "size."
    ),
    "bent": (
        "The card does not lie flat: an edge stands up by about {lift_mm}; press it flat, or weigh it down at the "
        "edges, and take the photo again."
    ),
    "edges-faint": (
        "The card's edges are hard to make out; lay it on a table of another colour and take the photo again."
    ),
    "not-flat": (
        "Square and card edges don't lie as they would on a flat card; press card and square flat, weigh the card down "
        "at its edges if it curls, and take the photo again."
    ),
    "places-uncertain": (
        "The marks' places are not certain enough; take the photo from straight above, with the square on or close to "
        "the card."
    ),
    "light-or-crossed-out": "The mark {place}, could be a light or a dot that is crossed out.",
    "light-or-letter": "The mark {place}, could be a light or a letter or a scribble.",
    "light-or-rubbed-out": "The mark {place}, could be a light or a rubbed-out dot.",
    "light-or-speck": "The mark {place}, could be a light or a small speck.",
    "light-or-loop": "The mark {place}, could be a light or a small loop or scribble.",
    "light-or-smudge": "The mark {place}, could be a light or a smudge.",
    "light-or-strokes": "The mark {place}, could be a light or a spot where pencil strokes meet.",
    "light-or-else": "The mark {place}, could be a light or something else.",
    "glare": (
        "Glare whites the card out {place}: a mark there could not be seen. Turn the card away from the lamp and take "
        "the photo again."
    ),
    "circle-open": "The battery circle has wide gaps or is far from round.",
    "circle-or-rim": "A circle could be the battery circle or the rim of something that lies on the card.",
    "window-unclear": "I'm not sure of the window's outline: it has wide gaps, or other lines run into it.",
    "edge-up": "An edge of the card stands up by about {lift_mm}: lay it under a heavy book before you tape it.",
    "crossed-out": "The dot {place}, is crossed out and counts as no light.",
    "something-round": "Something round lies on the card {place}; what is under it can't be seen.",
    "lines-lost": (
        "The pencilled circuit lines could not be followed from the battery circle on; they are not checked."
    ),
    "lines-unsure": (
        "I'm not sure that I followed the pencilled circuit lines rightly; compare them with the card before you trust "
        "what is said of them."
    ),
}


def remark_words(remark: Remark, card: Card, units: Units) -> str:
    """A doubt or a note of the reading as one sentence, its place told by the card's edges."""
    figures = {
        name: _Length(value, units) if isinstance(value, int | float) else value
        for name, value in remark.says.figures.items()
    }
    if remark.where_mm is not None:
        figures.setdefault("place", place(*remark.where_mm, card, units))
    try:
        return REMARKS[remark.says.key].format_map(figures)
    except (KeyError, ValueError):  # of another program, or a later one
        return f"I'm not sure about this: {remark.says.key}."


class _Length(float):
    """Millimetres that a template writes in the maker's units."""

    def __new__(cls, mm: float, units: Units) -> _Length:
        length = super().__new__(cls, mm)
        length.units = units
        return length

    units: Units

    def __format__(self, how: str) -> str:
        text = format_length(float(self), self.units)
        return f"{text} ({float(self):.1f} mm)" if how == "fine" and self.units != "mm" else text
