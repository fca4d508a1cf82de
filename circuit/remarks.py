"""What the reading has to say, in a maker's words and units: its doubts and notes as sentences.

In:    a `Remark`, whose key stands in `remarks.toml`; the card, the maker's units.
Out:   a sentence with its full stop.
Fails: never; of a remark that this program does not know, its key is said.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path

from circuit.layout import Card, Remark
from circuit.lengths import format_length
from circuit.settings import Units
from circuit.whereabouts import place

REMARKS: Mapping[str, str] = tomllib.loads(
    Path(__file__).with_name("remarks.toml").read_text(encoding="utf-8")
)


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
