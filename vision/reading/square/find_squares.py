"""The squares where a first look sees some, and those of the whole picture where it sees none.

In:    a `Sight`.
Out:   `SquareSeen`s, coded ones before plain ones; [] when there is none.
"""

from __future__ import annotations

import cv2

from vision.reading.card.outline import Outline
from vision.reading.sight import Sight
from vision.reading.square.coded import codes_in, find_coded_squares
from vision.reading.square.patch import Patch, by_colour, dark_fours, laid_on
from vision.reading.square.plain import find_plain_squares
from vision.reading.square.square_edges import SquareSeen, refine_square

CUT_SIDE = 0.35  # share of a side that is the picture's border, from which a square counts as cut
PATCH_CONSTANTS = (7.0, 3.0)  # threshold constants of the marker search: a dim or faint print needs the lower


def squares_at(sight: Sight) -> list[SquareSeen]:
    """The squares where a first look sees some, the coded ones if there are any, else the plain ones."""
    seen = [square for place in sight.patches if (square := _square_at(sight, place)) is not None]
    coded = [square for square in seen if square.kind == "coded"]
    return sorted(coded, key=lambda square: -square.side_px) or seen


def search_squares(sight: Sight, some_known: bool = False) -> list[SquareSeen]:
    """The squares of the whole picture: dearer than to look where some are seen. some_known : that is so already, and
    only a code plain enough to be read at once could be what is meant instead."""
    return find_coded_squares(sight.pixels, 1 if some_known else None) or find_plain_squares(sight)


def _square_at(sight: Sight, place: Outline) -> SquareSeen | None:
    """The square at one patch of the first look's map; None when it is none or can't be made out."""
    pixels = sight.pixels
    rough = sight.map_to_photo(place.corners)
    patch = Patch.about(pixels, rough)
    grey = cv2.cvtColor(patch.rgb, cv2.COLOR_RGB2GRAY)
    for threshold_constant in PATCH_CONSTANTS:
        for corners, number in codes_in(grey, threshold_constant):
            seen = refine_square(pixels, patch.to_photo(corners), 3.0 * patch.step, "coded", float(number))
            if seen is not None:
                return seen
    if place.on_border.max() > CUT_SIDE:
        return None
    ways = laid_on(sight, patch, rough, dark_fours(patch, rough)) or by_colour(sight, patch, rough)
    return next(iter(ways), None)
