"""What one sees when a card does not light as it should, and what it is; how to get contact.

In:    the maker's units.
Out:   sentences. Common practice, no source, unless said.
"""

from __future__ import annotations

from collections.abc import Mapping

from circuit.settings import Units

_LAP: Mapping[Units, str] = {"mm": "10 mm", "in": "3/8 in"}  # chosen: enough glue to tell
_CONTACT = (
    "Contact is what fails most. Does your tape's glue conduct? Lap two scraps by {lap}, glue on copper, and put "
    "cell and light across them: it lights if it does. If not, a lap is a break: turn the end under, so that copper "
    "meets copper, and hold it with clear tape. Rub all tape down hard."
)
# What you see -> what it is, commonest first.
SEEN_AND_MEANT: tuple[tuple[str, str], ...] = (
    (
        "Nothing lights",
        "the cell is upside down, or a tape is torn at its first fold",
    ),
    (
        "Nothing, but a light held to the cell does",
        "no contact at the cell: rub the bare ends, press the lid's middle",
    ),
    ("One light is dark", "turned round, or no tape under one end: press on both its ends"),
    (
        "All from one light on are dark",
        "a tape torn, or a lap without contact, before it: press there",
    ),
    ("All are dim", "a spent cell, or poor contact at the cell"),
    ("They stay on", "the lid touches the cell: add foam or card under the lid's rim"),
    (
        "The cell gets warm",
        "+ and − touch: take it out at once, look for the place",
    ),
)


def contact(units: Units) -> str:
    """How to get contact."""
    return _CONTACT.format(lap=_LAP[units])
