"""Card sizes that have a name, and which of them a measured card is.

Sources beside the entries; inch sizes are exact at 25.4 mm to the inch.
"""

from __future__ import annotations

from dataclasses import dataclass


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


def named_size(name: str) -> NamedSize | None:
    """The size of that name, whatever its case; None when there is none."""
    wanted = name.strip().lower().replace(" ", "-")
    for size in CARD_SIZES:
        if size.name.lower() == wanted:
            return size
    return None
