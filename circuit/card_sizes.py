"""Card sizes that have a name, and which of them a measured card is.

Sources beside the entries; inch sizes are exact at 25.4 mm to the inch.
"""

from __future__ import annotations

from dataclasses import dataclass

from circuit.errors import UsageError


@dataclass(frozen=True, slots=True)
class NamedSize:
    """short, long : sides of the card [mm]; it may lie either way."""

    name: str
    short_mm: float
    long_mm: float

    def lying(self, wide: bool) -> tuple[float, float]:
        """Width and height, the long side across when `wide`."""
        return (self.long_mm, self.short_mm) if wide else (self.short_mm, self.long_mm)


CARD_SIZES: tuple[NamedSize, ...] = (
    # Letter is 8.5 x 11 in (ANSI/ASME Y14.1, sheet A); a quarter and a half of it.
    NamedSize("quarter-letter", 107.95, 139.7),
    NamedSize("half-letter", 139.7, 215.9),
    NamedSize("letter", 215.9, 279.4),
    # ISO 216, whole millimetres; a quarter of A4 cut by hand is half a millimetre longer than A6.
    NamedSize("A6", 105.0, 148.0),
    NamedSize("quarter-A4", 105.0, 148.5),
    NamedSize("A5", 148.0, 210.0),
    NamedSize("A4", 210.0, 297.0),
    NamedSize("A7", 74.0, 105.0),
    # Common practice in card shops, no source.
    NamedSize("5x7in", 127.0, 177.8),
    NamedSize("4x6in", 101.6, 152.4),
    NamedSize("3.5x5in", 88.9, 127.0),
    NamedSize("100x150", 100.0, 150.0),
    NamedSize("5in-square", 127.0, 127.0),
    NamedSize("4in-square", 101.6, 101.6),
    NamedSize("5.25in-square", 133.35, 133.35),
    NamedSize("6in-square", 152.4, 152.4),
    # ISO 269 envelopes' flat sizes, for cards cut to fill them.
    NamedSize("C6", 114.0, 162.0),
)


# Card shops also name a card by the US envelope that it goes in (stationery charts, three agree):
# an A2 envelope, 4 3/8 x 5 3/4 in, takes a quarter of Letter. ISO's A2 is a poster, so only one can be meant.
_BY_ENVELOPE = {"a2": "quarter-letter", "iso-a7": "A7"}
# An A7 envelope, 5 1/4 x 7 1/4 in, takes 5 x 7 in; ISO's A7 is a card, too, of half that size.
_EITHER = {"a7": ("ISO-A7", "5x7in")}


# Chosen: sides' ratio, to what a hand-cut of 0.5 mm on each side of a small card changes it.
_SAME_SHAPE = 0.01
# Chosen: a square that lies 30 mm higher than the card, on a wallet or a book, under a phone 300 mm away.
_MOST_SHRUNK = 0.1
# A6 and a quarter of A4 are cut from one another: half a millimetre is nothing to ask about.
_ANOTHER_SIZE_MM = 1.2


def larger_alike(name: str) -> NamedSize | None:
    """The next larger size of the same shape that a card may be which measures as size `name` by a square lying higher
    than the card. No photo tells the two apart: seen from one point, a square held higher and a larger one on the table
    are the same picture. None when there is none."""
    seen = named_size(name)
    if seen is None:
        return None
    larger = [
        size
        for size in CARD_SIZES
        if size.long_mm - seen.long_mm > _ANOTHER_SIZE_MM
        and seen.long_mm / size.long_mm > 1 - _MOST_SHRUNK
        and abs(size.long_mm / size.short_mm / (seen.long_mm / seen.short_mm) - 1) < _SAME_SHAPE
    ]
    return min(larger, key=lambda size: size.long_mm, default=None)


def named_size(name: str) -> NamedSize | None:
    """The size of that name, whatever its case; None when there is none."""
    wanted = _plain(name)
    for size in CARD_SIZES:
        if _plain(size.name) == wanted:
            return size
    return None


def sayable_name(size: NamedSize) -> str:
    """The name that `size_meant` takes for this size and no other."""
    return _EITHER.get(_plain(size.name), (size.name,))[0]


def size_meant(name: str) -> NamedSize:
    """The size that a crafter means by a name, an envelope's name included.

    Raises UsageError for a name that is unknown, or that two cards go by.
    """
    wanted = _plain(name)
    if wanted in _EITHER:
        iso, other = _EITHER[wanted]
        raise UsageError(
            f"{name} can be two cards: say {iso} for the ISO size (74 x 105 mm), or {other} for the card that "
            f"goes in an {name} envelope."
        )
    size = named_size(_BY_ENVELOPE.get(wanted, wanted))
    if size is None:
        known = ", ".join(sayable_name(size) for size in CARD_SIZES)
        raise UsageError(
            f"{name!r} is no card size that is known here; give its two sides, like 4.25x5.5in, or one of: {known}."
        )
    return size


def _plain(name: str) -> str:
    return name.strip().lower().replace(" ", "-")
