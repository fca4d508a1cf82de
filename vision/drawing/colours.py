"""The colours of pictures and pages, as 8-bit sRGB."""

from __future__ import annotations

Colour = tuple[int, int, int]

# Okabe and Ito, "Color Universal Design", 2002/2008: colours that stay apart for every common
# kind of colour vision. The two traces also differ by pattern and by sign.
VERMILION: Colour = (0xD5, 0x5E, 0x00)
BLUE: Colour = (0x00, 0x72, 0xB2)
GREEN: Colour = (0x00, 0x9E, 0x73)
YELLOW: Colour = (0xF0, 0xE4, 0x42)
PURPLE: Colour = (0xCC, 0x79, 0xA7)

BLACK: Colour = (0, 0, 0)
WHITE: Colour = (255, 255, 255)
INK: Colour = (35, 32, 29)  # chosen: softer than black for words
FAINT_INK: Colour = (110, 104, 98)  # chosen: 5.6 : 1 on white, for what is said aside
PALE: Colour = (230, 227, 222)  # chosen: a tint that a mono printer still shows
SHEET: Colour = (248, 245, 237)  # chosen: the paper that a picture's card lies on

POSITIVE = VERMILION
NEGATIVE = BLUE
POSITIVE_TINT: Colour = (252, 222, 196)  # chosen: light enough for a pencil line to show on it
MOVE = GREEN
DOUBT = PURPLE
WINDOW: Colour = (132, 60, 108)  # chosen: a darker neighbour of PURPLE, drawn dotted
LOOK_AGAIN: Colour = (255, 247, 205)  # chosen: pale, so that the dark must-fix callout comes first


def polarity_colour(positive: bool) -> Colour:
    """The tape's colour by its polarity."""
    return POSITIVE if positive else NEGATIVE


def paler(colour: Colour, opacity: float) -> Colour:
    """The colour as it comes out over white."""
    red, green, blue = (round(255 - (255 - part) * opacity) for part in colour)
    return (red, green, blue)
